"""``run``: all of it in order; it goes on after ``fails``, not after a fault."""

from typing import TYPE_CHECKING, Any

from brasscap.arguments import Command, Option, Request

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from brasscap.adjust.judge.closures import Closures
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress
    from brasscap.queries import Queries
    from brasscap.reports.content_spec import Held
    from brasscap.reports.document import Document, Section
    from brasscap.reports.judged import Judged
    from brasscap.reports.next_steps import NextStep

STEPS = ("check", "minimal", "constrained", "spec", "report")
"""In order; the names that ``--until`` takes."""

COMMAND = Command(
    "",
    0,
    0,
    (
        Option("--until", "the last step to do", "STEP", False, STEPS),
        Option("--html", "where the page goes; else reports/report.html", "FILE"),
    ),
    example="brasscap run",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Check, adjust twice, write the page, and say what to do next."""
    from brasscap.answer import Answer
    from brasscap.commands.loops import closed
    from brasscap.reports.next_steps import next_steps
    from brasscap.specifying import specified
    from brasscap.steps import exit_code, read_for_result
    from brasscap.weighing import weighed_object

    last = STEPS.index(request.values.get("until", STEPS[-1]))
    loaded = read_for_result(request, progress)
    solutions, notes, missing = _solutions(
        request, loaded, progress, STEPS[1 : last + 1]
    )
    held = None
    if last >= STEPS.index("spec") and solutions:
        held = specified(request, loaded, progress)
    loops = None
    if last == len(STEPS) - 1 and "constrained" in solutions:
        progress("seeking loops")
        loops = closed(loaded)
    queries = _queries(request, loaded, solutions, progress, loops)
    page, unwritten = None, ""
    if loops is not None:
        queries = _weighed(loaded, solutions, queries, progress)
        page, unwritten = _page(
            request, loaded, solutions, queries, held, progress, loops
        )
    said = page.as_posix() if page else ""
    steps = next_steps(
        solutions,
        queries.all,
        missing=missing[0] if missing and solutions else "",
        specified=bool(loaded.job.specifications),
        page=said,
    )
    document = _document(
        request, loaded, solutions, queries, held, missing, _next(steps, said)
    )
    verdicts = [judged.verdict for judged in solutions.values()]
    verdicts += spec_verdicts(held)
    code = exit_code(verdicts, loaded, request, queries.all if solutions else None)
    data: dict[str, Any] = {}
    # Of a million marks the object is larger than the memory: only if asked for.
    if "json" in request.values:
        data = _object(request, loaded, solutions, said or None, queries)
        data |= _asked(request, loaded, queries, steps) | _spec_object(held)
        data |= weighed_object(queries.weighed if loops is not None else None)
    notes = tuple(note for note in (*notes, unwritten, *queries.notes) if note)
    return Answer(document, data, code, notes)


def _weighed(
    loaded: "Loaded",
    solutions: "dict[str, Judged]",
    queries: "Queries",
    progress: "Progress",
) -> "Queries":
    """Return the queries with standard deviations by group, as the page shows them."""
    from brasscap.weighing import weighed_in

    # Where the queries were computed, so were the standard deviations.
    if queries.weighed is not None:
        return queries
    adjustment = solutions["constrained"].adjustment
    return queries._replace(weighed=weighed_in(adjustment, loaded, progress))


def _document(
    request: Request,
    loaded: "Loaded",
    solutions: "dict[str, Judged]",
    queries: "Queries",
    held: "Held | str | None",
    missing: "Sequence[str]",
    steps: "Section",
) -> "Document":
    """Return what the terminal shows."""
    from brasscap.reports.document import Document, Paragraph, Section
    from brasscap.running import sections_of, title_of

    return Document(
        title_of(loaded, solutions),
        (
            *sections_of(request, loaded, solutions, queries),
            *_spec_section(request, loaded, held),
            *(Section("", (Paragraph(one),)) for one in missing),
            steps,
        ),
    )


def _page(
    request: Request,
    loaded: "Loaded",
    solutions: "dict[str, Judged]",
    queries: "Queries",
    held: "Held | str | None",
    progress: "Progress",
    loops: "Closures",
) -> "tuple[Path | None, str]":
    """Write the page: its place, or a note why it is not written."""
    from brasscap.commands.report import PLACE, full_report, place, write_page
    from brasscap.networks import CannotWrite

    report = full_report(
        request,
        loaded,
        solutions["constrained"],
        solutions.get("minimal"),
        progress,
        queries,
        held,
        loops,
    )
    page = place(request, "html", PLACE)
    try:
        write_page(page, report, progress)
    except CannotWrite as error:
        if "html" in request.values:
            raise
        return None, f"the page is not written: {error}"
    return page, ""


def _asked(
    request: Request,
    loaded: "Loaded",
    queries: "Queries",
    steps: "Sequence[NextStep]",
) -> dict[str, Any]:
    from brasscap.reports.content_queries import queries_objects
    from brasscap.steps import head

    return {
        "queries": queries_objects(queries.all, head(request, loaded)),
        "next_steps": [{"command": s.command, "why": s.why} for s in steps],
    }


def spec_verdicts(held: "Held | str | None") -> list[str]:
    """Return the verdicts on precision and reliability of what is specified."""
    from brasscap.reports.words_spec import worst_of

    if held is None or isinstance(held, str):
        return []
    lines = [one for one in held.lines if one.limited]
    return [worst_of(one.precision) for one in lines] + [
        worst_of(one.reliability) for one in lines
    ]


def _spec_section(
    request: Request, loaded: "Loaded", held: "Held | str | None"
) -> "list[Section]":
    """Return the two verdicts of each specification, without their tables."""
    from brasscap.queries import units_of
    from brasscap.reports.content_spec import verdict_lines
    from brasscap.reports.document import Paragraph, Section

    if held is None:
        return []
    if isinstance(held, str):
        return [Section("Specification", (Paragraph(f"not judged: {held}"),))]
    parts = tuple(verdict_lines(held, units_of(request, loaded)))
    return [Section("Specification", parts)]


def _spec_object(held: "Held | str | None") -> dict[str, Any]:
    """Return the specifications without their lines; ``spec --json`` has those."""
    from brasscap.reports.words_spec import worst_of

    if held is None or isinstance(held, str):
        return {"specifications": [], "specifications_not_judged": held or ""}
    made = [
        {
            "name": one.specification.name,
            "part": one.part,
            "of": "marks" if one.of_marks else "pairs",
            "precision": worst_of(one.precision),
            "reliability": worst_of(one.reliability),
        }
        for one in held.lines
    ]
    return {"specifications": made, "specifications_not_judged": ""}


def _queries(
    request: Request,
    loaded: "Loaded",
    solutions: "dict[str, Judged]",
    progress: "Progress",
    loops: "Closures | None",
) -> "Queries":
    """Return all queries of the job, those of the last solution made among them."""
    from brasscap.queries import Known, all_queries, kept_queries

    of = solutions.get("constrained") or solutions.get("minimal")
    if of is None:
        return kept_queries(request, loaded)
    known = Known(loops, tests=of.tests)
    return all_queries(request, loaded, of.adjustment, progress, True, known)


def _solutions(
    request: Request, loaded: "Loaded", progress: "Progress", steps: tuple[str, ...]
) -> "tuple[dict[str, Judged], tuple[str, ...], list[str]]":
    """Return the solutions that can be made, notes, and what says why one cannot."""
    from brasscap.networks import NoSolution
    from brasscap.reports.judged import judge, without_factor
    from brasscap.steps import adjusted

    made: dict[str, Judged] = {}
    notes: tuple[str, ...] = ()
    missing: list[str] = []
    failed: NoSolution | None = None
    for mode in steps[:2]:
        try:
            one = adjusted(request, loaded, mode, progress)
        except NoSolution as error:
            failed = error
            missing.append(f"no {mode} solution: {error.problem}; {error.mend}")
            continue
        made[mode] = judge(one.adjustment)
        if mode == "minimal":
            # What is asked of it now is looked up; a large one leaves room so.
            made[mode] = without_factor(made[mode])
        notes += tuple(note for note in one.notes if note not in notes)
        # Nothing of it stays while the next is made.
        del one
    if failed is not None and not made:
        raise failed
    return made, notes, missing


def _next(steps: "Sequence[NextStep]", page: str) -> "Section":
    from brasscap.reports.document import Paragraph, Section
    from brasscap.reports.next_steps import steps_parts

    lines = steps_parts(steps)
    if page:
        lines.append(Paragraph(f"open: {page}", "step"))
    return Section("", tuple(lines))


def _object(
    request: Request,
    loaded: "Loaded",
    solutions: "dict[str, Judged]",
    page: str | None,
    queries: "Queries",
) -> dict[str, Any]:
    from brasscap.reports.judged import worst
    from brasscap.reports.objects import adjust_object, findings_objects
    from brasscap.running import headline

    return {
        "schema": "brasscap/run/1",
        "verdict": worst({judged.verdict for judged in solutions.values()}),
        "largest_finding": headline(request, loaded, solutions, queries),
        "solutions": [adjust_object(judged) for judged in solutions.values()],
        "findings": findings_objects(loaded.findings),
        "page": page,
    }
