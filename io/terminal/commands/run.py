"""``run``: all of it in order; it goes on after ``fails``, not after a fault."""

from typing import TYPE_CHECKING, Any

from brasscap.arguments import Command, Option, Request

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress
    from brasscap.queries import Queries
    from brasscap.reports.content_spec import Held
    from brasscap.reports.document import Section
    from brasscap.reports.judged import Judged
    from brasscap.reports.next_steps import NextStep
    from brasscap.reports.rounding import Units

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
    from brasscap.reports.document import Document, Paragraph, Section
    from brasscap.reports.next_steps import next_steps
    from brasscap.specifying import specified
    from brasscap.steps import exit_code, read_job

    last = STEPS.index(request.values.get("until", STEPS[-1]))
    loaded = read_job(request, progress)
    solutions, notes, missing = _solutions(
        request, loaded, progress, STEPS[1 : last + 1]
    )
    held = None
    if last >= STEPS.index("spec") and solutions:
        held = specified(request, loaded, progress)
    queries = _queries(request, loaded, solutions, progress)
    page, unwritten = None, ""
    if last == len(STEPS) - 1 and "constrained" in solutions:
        page, unwritten = _page(request, loaded, solutions, queries, held, progress)
    said = page.as_posix() if page else ""
    steps = next_steps(
        solutions,
        queries.all,
        missing=missing[0] if missing and solutions else "",
        specified=bool(loaded.job.specifications),
        page=said,
    )
    document = Document(
        _title(loaded, solutions),
        (
            *_sections(request, loaded, solutions, queries),
            *_spec_section(request, loaded, held),
            *(Section("", (Paragraph(one),)) for one in missing),
            _next(request, steps, said),
        ),
    )
    verdicts = [judged.verdict for judged in solutions.values()]
    verdicts += spec_verdicts(held)
    code = exit_code(verdicts, loaded, request, queries.all if solutions else None)
    data = _object(request, loaded, solutions, said or None)
    data |= _asked(request, loaded, queries, steps) | _spec_object(held)
    notes = tuple(note for note in (*notes, unwritten, *queries.notes) if note)
    return Answer(document, data, code, notes)


def _page(
    request: Request,
    loaded: "Loaded",
    solutions: "dict[str, Judged]",
    queries: "Queries",
    held: "Held | str | None",
    progress: "Progress",
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
    from brasscap.reports.content_spec import worst_of

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
    from brasscap.reports.content_spec import verdict_lines
    from brasscap.reports.document import Paragraph, Section

    if held is None:
        return []
    if isinstance(held, str):
        return [Section("Specification", (Paragraph(f"not judged: {held}"),))]
    parts = tuple(verdict_lines(held, _units(request, loaded)))
    return [Section("Specification", parts)]


def _spec_object(held: "Held | str | None") -> dict[str, Any]:
    """Return the specifications without their lines; ``spec --json`` has those."""
    from brasscap.reports.content_spec import worst_of

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
) -> "Queries":
    """Return all queries of the job, those of the last solution made among them."""
    from brasscap.queries import all_queries, kept_queries

    if "constrained" in solutions:
        of = solutions["constrained"].adjustment
    elif solutions:
        of = solutions["minimal"].adjustment
    else:
        return kept_queries(request, loaded)
    return all_queries(request, loaded, of, progress, keep=True)


def _solutions(
    request: Request, loaded: "Loaded", progress: "Progress", steps: tuple[str, ...]
) -> "tuple[dict[str, Judged], tuple[str, ...], list[str]]":
    """Return the solutions that can be made, notes, and what says why one cannot."""
    from brasscap.networks import NoSolution
    from brasscap.reports.judged import judge
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
        notes += tuple(note for note in one.notes if note not in notes)
    if failed is not None and not made:
        raise failed
    return made, notes, missing


def largest(solutions: "dict[str, Judged]") -> "tuple[Judged, int] | None":
    """Return the largest finding, a solution and the row of its tests; None if none.

    The minimal solution comes first: there the known marks cannot bend what the
    observations say of each other. What fails comes before what is a query.
    """
    for judged in solutions.values():
        for verdict in ("fails", "query"):
            for i in judged.tests.order():
                if judged.tests.verdict[i] == verdict:
                    return judged, int(i)
    return None


def found_words(
    loaded: "Loaded", found: "tuple[Judged, int] | None", units: "Units"
) -> str:
    """Return the largest finding in words, with an open query about the same thing."""
    from brasscap.reports.words import shift_words

    if found is None:
        return ""
    judged, i = found
    tests, kind = judged.tests, judged.tests.kind[i]
    words = shift_words(kind, tests.tests.shift[i], units, tests.measure[i])
    # "height of set-up …" says it where the sentence does not.
    what = kind.removesuffix(" height") if "height" in words else kind
    said = f"{what} {tests.about[i]}: {words}{_twins(judged, i)}"
    return said + _query_about(loaded, f"{what} {tests.name[i]}")


def _twins(judged: "Judged", i: int) -> str:
    """Return what tests exactly as large: the residuals cannot tell it apart."""
    tests = judged.tests
    equal = [
        k
        for k, test in enumerate(tests.basis.test.tolist())
        if tests.kind[k] == tests.kind[i]
        and k != i
        and abs(test - tests.basis.test[i]) < 1e-6 * tests.basis.test[i]
    ]
    if not equal:
        return ""
    named = ", ".join(tests.name[k] for k in equal[:3])
    more = f" and {len(equal) - 3} more" if len(equal) > 3 else ""
    return f"; or {named}{more}, which cannot be told from it"


def _query_about(loaded: "Loaded", thing: str) -> str:
    for finding in loaded.findings:
        about = f"{finding.about},"
        if finding.query and finding.is_open and about.startswith(f"{thing},"):
            return f"; query {finding.query} is about it too ({finding.slug})"
    return ""


def _title(loaded: "Loaded", solutions: "dict[str, Judged]") -> str:
    from brasscap.reports.judged import worst

    name = loaded.job.title or loaded.folder.resolve().name
    if not solutions:
        return f"{name}: the input can be used"
    return f"{name}: {worst({judged.verdict for judged in solutions.values()})}"


def _sections(
    request: Request,
    loaded: "Loaded",
    solutions: "dict[str, Judged]",
    queries: "Queries",
) -> "list[Section]":
    from brasscap.failures import counted
    from brasscap.reports.document import Paragraph, Section

    asked = [q.name for q in queries.open if q.source == "check"]
    said = "input: no fault, no open query"
    if asked:
        count = counted(len(asked), "open query", "open queries")
        said = f"input: no fault, {count} ({', '.join(asked)})"
    others = len(queries.open) - len(asked)
    if others:
        count = counted(others, "open query", "open queries")
        said += f"; results: {count}; all of them:  brasscap"
    found = found_words(loaded, largest(solutions), _units(request, loaded))
    lines = [Paragraph(said)]
    if found:
        lines.append(Paragraph(f"largest finding: {found}"))
    sections = [Section("", tuple(lines))]
    for judged in solutions.values():
        sections.append(_solution(request, loaded, judged))
    return sections


def _solution(request: Request, loaded: "Loaded", judged: "Judged") -> "Section":
    """Return one solution: what its tests say; the constrained one with its marks."""
    from brasscap.reports.content import largest_table, title
    from brasscap.reports.content_heights import heights_table
    from brasscap.reports.content_marks import (
        counts,
        geodetic_table,
        known_table,
        marks_table,
    )
    from brasscap.reports.content_tests import could_hide, variance_factor_line
    from brasscap.reports.document import Paragraph, Part, Section

    units = _units(request, loaded)
    parts: list[Part | None] = [
        Paragraph(counts(judged)),
        variance_factor_line(judged),
        could_hide(judged, units),
        largest_table(judged, units),
    ]
    if judged.adjustment.datum.mode == "constrained":
        parts += [known_table(judged, units), marks_table(judged, units)]
        if not judged.network.frame.has_grid:
            parts.append(geodetic_table(judged, units))
        parts.append(heights_table(judged, units))
    return Section(title(judged), tuple(part for part in parts if part is not None))


def _units(request: Request, loaded: "Loaded") -> "Units":
    from brasscap.reports.rounding import Units

    length = request.values.get("units") or loaded.job.length_unit
    return Units(length, loaded.job.angle_unit)


def _next(request: Request, steps: "Sequence[NextStep]", page: str) -> "Section":
    from brasscap.reports.document import Paragraph, Section
    from brasscap.reports.next_steps import steps_parts

    lines = steps_parts(steps, request.values.get("job", ""))
    if page:
        lines.append(Paragraph(f"open: {page}", "step"))
    return Section("", tuple(lines))


def _object(
    request: Request,
    loaded: "Loaded",
    solutions: "dict[str, Judged]",
    page: str | None,
) -> dict[str, Any]:
    from brasscap.reports.judged import worst
    from brasscap.reports.objects import adjust_object, findings_objects

    return {
        "schema": "brasscap/run/1",
        "verdict": worst({judged.verdict for judged in solutions.values()}),
        "largest_finding": found_words(
            loaded, largest(solutions), _units(request, loaded)
        ),
        "solutions": [adjust_object(judged) for judged in solutions.values()],
        "findings": findings_objects(loaded.findings),
        "page": page,
    }
