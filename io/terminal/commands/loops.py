"""``loops``: do repeats, loops, double runs close? No adjustment."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, wrong

if TYPE_CHECKING:
    from brasscap.adjust.judge.closures import Closures
    from brasscap.adjust.judge.trivial import Treatment
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.networks import Network
    from brasscap.networks.sessions import Session
    from brasscap.progress import Progress

COMMAND = Command(
    "",
    0,
    0,
    (
        Option("--max-sides", "list loops of at most so many sides", "N"),
        Option("--same-session", "also loops inside one session, not judged"),
    ),
    example="brasscap loops --max-sides 4",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Look at what must close; nothing is changed or written."""
    from brasscap.answer import Answer
    from brasscap.queries import loops_queries, with_own_queries
    from brasscap.reports.content_loops import loops_document
    from brasscap.reports.objects_loops import loops_object
    from brasscap.steps import head, read_job

    most = _max_sides(request)
    loaded = read_job(request, progress)
    network = loaded.network
    progress("seeking loops")
    found = closed(loaded, same_session="same-session" in request.values)
    progress("trying the treatments of trivial vectors")
    treatments = _treatments(network, found.sessions)
    heading = head(request, loaded)
    answer = Answer(
        loops_document(found, treatments, heading, most),
        loops_object(found, treatments, heading.findings, most),
    )
    queries = loops_queries(request, loaded, found)
    return with_own_queries(request, loaded, answer, queries, found.verdict)


def closed(loaded: "Loaded", *, same_session: bool = False) -> "Closures":
    """Return repeats and loops, with the times and lengths that are booked."""
    from brasscap.adjust.judge.closures import closures, too_many_vectors
    from brasscap.io.tables.occupations import run_lengths, vector_times

    network, tables = loaded.network, loaded.tables
    return closures(
        network,
        None if too_many_vectors(network) else vector_times(network, tables),
        run_lengths(network, tables),
        same_session=same_session,
    )


def _max_sides(request: Request) -> int:
    given = request.values.get("max-sides")
    if given is None:
        return 0
    if not given.isascii() or not given.isdigit() or not 2 <= int(given) <= 10**6:
        raise wrong(f"--max-sides {given!r}: write a whole number from 2 on")
    return int(given)


def _treatments(
    network: "Network", sessions: "tuple[Session, ...]"
) -> "tuple[Treatment, ...]":
    from brasscap.adjust.judge.trivial import trivial_treatments

    return trivial_treatments(network, sessions)
