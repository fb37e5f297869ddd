"""Who shares the work of a command: workers as asked for, or nobody."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from brasscap.arguments import Option, Request, wrong

if TYPE_CHECKING:
    from brasscap.adjust.cluster import Workers
    from brasscap.progress import Progress

OPTIONS = (
    Option("--workers", "share the work among N processes of this machine", "N"),
    Option("--scheduler", "share it among the workers of a Dask cluster", "ADDRESS"),
)


@contextmanager
def workers_asked(request: Request, progress: "Progress") -> Iterator["Workers | None"]:
    """Give the workers that the command line asks for; None where it asks for none.

    Raises
    ------
    CommandError
        Both are asked for, the number is none, or nobody answers.
    MissingPart
        The extra ``cluster`` is not installed.
    """
    number, address = request.values.get("workers"), request.values.get("scheduler")
    if number is None and address is None:
        yield None
        return
    if number is not None and address is not None:
        raise wrong("--workers starts workers and --scheduler has some: give one")
    from brasscap import __version__
    from brasscap.io.dask_workers import cluster_workers, local_workers

    progress("waiting for workers")
    if number is None:
        folder = request.folder.resolve()
        with cluster_workers(str(address), folder, __version__) as found:
            yield found
        return
    if not number.isdecimal() or not int(number):
        raise wrong(f"--workers {number!r}: give a whole number, 1 or more")
    with local_workers(int(number)) as found:
        yield found
