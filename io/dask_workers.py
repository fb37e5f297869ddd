"""Workers through dask.distributed: processes of this machine, or a cluster.

Tasks are pure, so what is lost with a worker the scheduler has made again by another.
Needs the extra ``cluster``.
"""

import gc
import logging
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, fields, is_dataclass
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

from ..adjust.cluster.separators import Block, Border, Raised, Separator, Sides
from ..adjust.cluster.tasks import Place
from ..networks import CommandError, MissingPart
from .plain_types import with_plain_types

Tell = Callable[[str], None]
_ANSWER = 10.0
"""Seconds within which a scheduler must answer, and have a worker."""


_SETTINGS = {
    # No pages for a browser, and nothing that listens but on this machine.
    "distributed.scheduler.http.routes": [],
    "distributed.worker.http.routes": [],
    # A domain stays where it is: to carry it costs more than to wait.
    "distributed.scheduler.work-stealing": False,
    # Every 10 ms each worker would be asked what it does, every 20 ms be heard
    # whether it still ticks, twice a second be weighed.
    "distributed.worker.profile.enabled": False,
    "distributed.admin.tick.interval": "1s",
    "distributed.admin.system-monitor.interval": "10s",
    "distributed.admin.system-monitor.gil.enabled": False,
    # Else what is let go goes back to the system at once, and comes new and slow with
    # the next array: half of a worker's time.
    "distributed.nanny.pre-spawn-environ.MALLOC_TRIM_THRESHOLD_": 1 << 26,
    "distributed.nanny.pre-spawn-environ.MALLOC_MMAP_THRESHOLD_": 1 << 22,
}


@dataclass(frozen=True)
class DaskWorkers:
    """Workers that a scheduler has; tickets are futures."""

    client: Any
    """A ``distributed.Client``."""
    addresses: tuple[str, ...]

    @property
    def count(self) -> int:
        """How many work at once."""
        return len(self.addresses)

    def submit(
        self, function: Callable[..., Any], *arguments: Any, share: float = 0.0
    ) -> Any:
        """Have a function called where its share of the work is, if that lives."""
        at = self.addresses[min(int(share * self.count), self.count - 1)]
        return self.client.submit(
            _quietly,
            function,
            *arguments,
            pure=False,
            workers=[at],
            allow_other_workers=True,
        )

    def gather(self, tickets: Sequence[Any], tell: Tell | None = None) -> list[Any]:
        """Return values; ``tell`` hears how many of the domains there are yet.

        Raises
        ------
        CommandError
            The workers or the scheduler were lost, again and again.
        """
        from concurrent.futures import CancelledError

        dask = _required()
        lost = (
            dask.scheduler.KilledWorker,
            import_module("distributed.comm").CommClosedError,
            CancelledError,
            TimeoutError,
        )
        try:
            if tell is not None:
                for done, _ in enumerate(dask.as_completed(tickets), start=1):
                    tell(f"{done} of {len(tickets)} domains")
            values: list[Any] = self.client.gather(list(tickets))
        except lost as error:
            raise CommandError(
                "adjust: the workers were lost, also those that took over "
                f"({type(error).__name__}); give each more memory, or divide the "
                "network among more workers"
            ) from error
        return values


_TRAVEL = (np.ndarray, Block, Border, Raised, Separator, Sides, Place)
"""What goes from one worker to another."""


@cache
def _say_sizes() -> None:
    """Let the scheduler know the sizes of what travels."""
    sizeof = import_module("dask.sizeof").sizeof
    for kind in (Block, Border, Raised, Separator, Sides):
        sizeof.register(kind)(bytes_of)


def bytes_of(some: Any) -> int:
    """Return the bytes of all arrays in a record of arrays and records.

    Parameters
    ----------
    some : anything

    Returns
    -------
    int
        0 for what is neither.

    Examples
    --------
    >>> bytes_of(Sides(np.arange(3), np.zeros((3, 2))))
    72
    """
    if isinstance(some, np.ndarray):
        return int(some.nbytes)
    if not is_dataclass(some):
        return 0
    return sum(bytes_of(getattr(some, field.name)) for field in fields(some))


def _quietly(function: Callable[..., Any], *arguments: Any) -> Any:
    """Call a function; what overflows is found and named by who asked."""
    _say_sizes()
    # What stays with a worker was never pickled.
    arguments = tuple(
        with_plain_types(some) if isinstance(some, _TRAVEL) else some
        for some in arguments
    )
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        return function(*arguments)


@contextmanager
def local_workers(count: int) -> Iterator[DaskWorkers]:
    """Give processes of this machine, each on one thread, until the block ends.

    Parameters
    ----------
    count : int
        One at least.

    Raises
    ------
    MissingPart
        dask.distributed is not installed.
    CommandError
        The number is no number of workers.
    """
    if count < 1:
        raise CommandError(f"adjust: --workers {count}: there must be at least one")
    dask = _required()
    with (
        import_module("dask").config.set(_SETTINGS),
        dask.LocalCluster(
            n_workers=count,
            threads_per_worker=1,
            processes=True,
            memory_limit=0,
            dashboard_address="127.0.0.1:0",
            silence_logs=logging.CRITICAL,
        ) as cluster,
        _client(dask, cluster) as client,
    ):
        yield DaskWorkers(client, tuple(client.scheduler_info(n_workers=-1)["workers"]))


def _client(dask: Any, *given: Any, **settings: Any) -> Any:
    """Return a client, in whose start nothing is let go.

    One that failed before closes itself when Python gathers what nobody holds; in the
    midst of the next one's start both would wait for one lock, for ever.
    """
    gc.collect()
    gathers = gc.isenabled()
    gc.disable()
    try:
        return dask.Client(*given, **settings)
    finally:
        if gathers:
            gc.enable()


@contextmanager
def cluster_workers(address: str, folder: Path, version: str) -> Iterator[DaskWorkers]:
    """Give the workers of a scheduler that runs already.

    Parameters
    ----------
    address : str
        As ``tcp://10.0.0.1:8786``.
    folder : Path
        Every worker must see it.
    version : str
        Of this program; the workers must have the same.

    Raises
    ------
    MissingPart
        dask.distributed is not installed.
    CommandError
        No scheduler answers there, it has no workers, or one of them does not see
        the folder or has not the same version of this program.
    """
    dask = _required()
    try:
        client = _client(dask, address, timeout=_ANSWER)
    # An address without a host is an AssertionError there.
    except (OSError, ValueError, TimeoutError, AssertionError) as error:
        raise CommandError(
            f"adjust: no scheduler answers at {address!r}; start one with  dask "
            "scheduler,  and give the address that it prints"
        ) from error
    with client:
        addresses = tuple(client.scheduler_info(n_workers=-1)["workers"])
        if not addresses:
            raise CommandError(
                f"adjust: the scheduler at {address} has no workers; start some with  "
                f"dask worker {address}"
            )
        _refuse_strangers(client, addresses, folder, version)
        yield DaskWorkers(client, addresses)


def _refuse_strangers(
    client: Any, addresses: Sequence[str], folder: Path, version: str
) -> None:
    """Refuse workers that could not do the work, in words."""
    token = folder / f".seen-by-all-{id(client)}"
    token.write_text("")
    try:
        said = client.run(_seen, str(token))
    except Exception as error:
        raise CommandError(
            f"adjust: the workers have no brasscap: {error}; install the same "
            "version there"
        ) from error
    finally:
        token.unlink(missing_ok=True)
    for address in addresses:
        theirs, sees = said.get(address, (version, True))
        if theirs != version:
            raise CommandError(
                f"adjust: worker {address} has brasscap {theirs}, this is "
                f"{version}; install the same version there"
            )
        if not sees:
            raise CommandError(
                f"adjust: worker {address} does not see the folder {folder}; put the "
                "job where all workers see it under the same name"
            )


def _seen(token: str) -> tuple[str, bool]:
    version = str(import_module("brasscap").__version__)
    return version, Path(token).is_file()


def _required() -> Any:
    """Return ``distributed``, which only this module needs."""
    try:
        return import_module("distributed")
    except ImportError:
        raise MissingPart(
            "adjust: workers need dask.distributed, which is not installed; install "
            "it with  pip install 'brasscap[cluster]'"
        ) from None
