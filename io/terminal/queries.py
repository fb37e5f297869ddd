"""All queries of a job: those of its tables, and those that its results raise."""

from typing import TYPE_CHECKING, NamedTuple

from brasscap.arguments import Request

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.causes import Suspects
    from brasscap.adjust.judge import BlunderTests
    from brasscap.adjust.judge.closures import Closures
    from brasscap.adjust.judge.control import Control
    from brasscap.adjust.judge.external import Reliability
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.networks.queries import Query
    from brasscap.progress import Progress
    from brasscap.reports.rounding import Units
    from brasscap.reports.words_weights import Weighed


class Known(NamedTuple):
    """What a command has found already, and its queries need not find again."""

    loops: "Closures | None" = None
    suspects: "Suspects | None" = None
    control: "Control | None" = None
    hidden: "dict[str, Reliability] | None" = None
    weighed: "Weighed | None" = None
    tests: "BlunderTests | None" = None


NOTHING = Known()


class Queries(NamedTuple):
    """The queries of a job, with their states; open ones first."""

    all: "tuple[Query, ...]"
    complete: bool
    """Whether the results were looked at too."""
    notes: tuple[str, ...] = ()
    weighed: "Weighed | str | None" = None
    """Standard deviations as judged on the way, or why not; None where the queries were
    kept."""

    @property
    def open(self) -> "tuple[Query, ...]":
        """Those that ask for an answer."""
        return tuple(query for query in self.all if query.state == "open")

    def of(self, source: str) -> "tuple[Query, ...]":
        """Those that one command shows."""
        return tuple(query for query in self.all if query.source == source)


def kept_queries(request: Request, loaded: "Loaded") -> Queries:
    """Return the input's queries and those of the results that are kept, if any.

    Nothing is computed.
    """
    from brasscap.io.kept_queries import read_queries

    for mode in ("constrained", "minimal"):
        kept = read_queries(loaded.folder, _key(request, loaded, mode))
        if kept is not None:
            return _with_states(loaded, kept, complete=True)
    return _with_states(loaded, (), complete=False)


def all_queries(
    request: Request,
    loaded: "Loaded",
    adjustment: "Adjustment",
    progress: "Progress",
    keep: bool = False,
    known: Known = NOTHING,
) -> Queries:
    """Return all queries: those kept for this input, else computed.

    Parameters
    ----------
    adjustment : Adjustment
        Constrained; minimal where no other can be made.
    keep : bool
        Whether to write them to results/.
    known : Known, optional
        What is found already: loops of the job; causes, known marks, tests and
        reliability of the adjustment.
    """
    from brasscap.io.kept_queries import keep_queries, read_queries
    from brasscap.networks import CannotWrite
    from brasscap.networks.queries import named_queries

    key = _key(request, loaded, adjustment.datum.mode)
    found = read_queries(loaded.folder, key)
    notes: tuple[str, ...] = ()
    weighed = None
    if found is None:
        units = units_of(request, loaded)
        raised, weighed = _raised(loaded, adjustment, units, progress, known)
        found = named_queries(raised, [f.query for f in loaded.findings if f.query])
        try:
            if keep:
                keep_queries(loaded.folder, found, key)
        except CannotWrite as error:
            notes = (f"the queries are not kept: {error}",)
    made = _with_states(loaded, found, complete=True)
    return made._replace(notes=notes, weighed=weighed)


def _raised(
    loaded: "Loaded",
    adjustment: "Adjustment",
    units: "Units",
    progress: "Progress",
    known: Known,
) -> "tuple[list[Query], Weighed | str]":
    """Return the queries that a result raises, without names; and the weights."""
    from brasscap.adjust.causes import suspects
    from brasscap.adjust.judge.control import control
    from brasscap.adjust.judge.orthometric import neglected_corrections
    from brasscap.commands.loops import closed
    from brasscap.commands.reliability import unlimited_in
    from brasscap.reports.raised import (
        of_control,
        of_levels,
        of_loops,
        of_reliability,
        of_suspects,
    )
    from brasscap.reports.raised_weights import of_weights
    from brasscap.suspected import labels_of, weighed_of
    from brasscap.weighing import too_many

    # Loops come first, so that they have the same names where they are looked at alone.
    progress("seeking loops")
    made = of_loops(known.loops or closed(loaded), units)
    progress("trying causes")
    found = known.suspects
    if found is None:
        found = suspects(adjustment, labels_of(loaded), tests=known.tests)
    made += of_suspects(found, units)
    weighed: Weighed | str = too_many(adjustment)
    if not weighed:
        progress("judging standard deviations")
        weighed = known.weighed or weighed_of(found, loaded)
        made += of_weights(weighed)
    progress("leaving known marks out")
    marks_left_out = known.control
    if marks_left_out is None:
        marks_left_out = control(adjustment, effects=False, tests=known.tests)
    made += of_control(marks_left_out, units)
    progress("looking for what could hide")
    marks = loaded.network.marks.name
    told = {f.about for f in loaded.findings if f.slug == "hangs-loose"}
    made += of_reliability(known.hidden or unlimited_in(adjustment), marks, told)
    levels = loaded.network.levels
    runs = levels.name if levels is not None else ()
    neglected = neglected_corrections(adjustment)
    made += of_levels(neglected, runs, units, _corrected(loaded))
    return made, weighed


def _corrected(loaded: "Loaded") -> set[str]:
    """Return the levelled runs that are booked with the orthometric correction."""
    table = loaded.tables.get("levels")
    if table is None:
        return set()
    said = zip(
        table.word("section"),
        table.word("run"),
        table.word("corrections_applied"),
        strict=True,
    )
    return {
        name
        for section, run, words in said
        if "orthometric" in str(words).lower()
        for name in (str(section), f"{section} {run}")
    }


def loops_queries(request: Request, loaded: "Loaded", found: "Closures") -> Queries:
    """Return the input's queries and those of loops alone; nothing is adjusted."""
    from brasscap.networks.queries import named_queries
    from brasscap.reports.raised import of_loops

    taken = [f.query for f in loaded.findings if f.query]
    own = named_queries(of_loops(found, units_of(request, loaded)), taken)
    return _with_states(loaded, own, complete=False)


def with_own_queries(
    request: Request, loaded: "Loaded", answer: "Answer", queries: Queries, verdict: str
) -> "Answer":
    """Return what a command answers with the queries that it raises.

    Parameters
    ----------
    answer : Answer
        Without them.
    queries : Queries
        All that are known.
    verdict : str
        Of the command.
    """
    from brasscap.reports.content_queries import queries_objects, with_queries
    from brasscap.steps import exit_code, head

    heading, own = head(request, loaded), queries.of(request.command)
    here = (*queries.of("check"), *own)
    return answer._replace(
        document=with_queries(answer.document, own, heading),
        data=answer.data | {"queries": queries_objects(own, heading)},
        exit_code=exit_code([verdict], loaded, request, here),
    )


def _with_states(
    loaded: "Loaded", found: "tuple[Query, ...]", *, complete: bool
) -> Queries:
    from brasscap.networks.queries import input_queries, with_answers

    every = [*input_queries(loaded.findings), *found]
    return Queries(with_answers(every, loaded.answers, complete=complete), complete)


def _key(request: Request, loaded: "Loaded", mode: str) -> str:
    """Return what kept queries must match: the result, and the units of their words."""
    from brasscap import __version__
    from brasscap.io.results import result_key

    units = units_of(request, loaded)
    key = result_key(loaded.computed_hash, loaded.network, mode, None, __version__)
    return f"{key} {units.unit} {units.angle}"


def units_of(request: Request, loaded: "Loaded") -> "Units":
    """Return the units of what is printed."""
    from brasscap.reports.rounding import Units

    length = request.values.get("units") or loaded.job.length_unit
    return Units(length, loaded.job.angle_unit)
