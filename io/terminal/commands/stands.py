"""``brasscap`` alone: where the job stands; nothing is computed or written."""

from typing import TYPE_CHECKING, Any

from brasscap.arguments import Request

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress
    from brasscap.queries import Queries
    from brasscap.reports.document import Part
    from brasscap.reports.heading import Heading
    from brasscap.reports.judged import Judged
    from brasscap.reports.next_steps import NextStep


def run(request: Request, progress: "Progress") -> "Answer":
    """Read the tables and the kept results, and say what comes next."""
    from brasscap.answer import Answer
    from brasscap.queries import kept_queries
    from brasscap.reports.content_check import status_document
    from brasscap.reports.content_verdicts import blunder_line, mode_line
    from brasscap.reports.next_steps import steps_parts
    from brasscap.steps import exit_code, head, read_job

    loaded = read_job(request, progress)
    kept = kept_solutions(loaded)
    queries = kept_queries(request, loaded)
    heading = head(request, loaded)
    lines = [mode_line(judged) for judged in kept]
    if kept:
        lines.append(blunder_line(kept[0], heading.units))
    steps = _steps(request, loaded, kept, queries)
    issues = _issues(loaded)
    document = status_document(
        loaded.findings,
        lines,
        heading,
        steps_parts(steps),
        _queries_parts(queries, heading),
        [one["words"] for one in issues],
    )
    verdicts = [judged.verdict for judged in kept]
    data = _object(loaded, kept, queries, heading, steps) | {"issues": issues}
    code = exit_code(verdicts, loaded, request, queries.all if kept else None)
    return Answer(document, data, code)


def _steps(
    request: Request, loaded: "Loaded", kept: "list[Judged]", queries: "Queries"
) -> "tuple[NextStep, ...]":
    from brasscap.commands.report import PLACE
    from brasscap.reports.next_steps import NextStep, next_steps

    if not kept or not queries.complete:
        why = "nothing is adjusted yet, or the input has changed since"
        return (NextStep("brasscap run", why),)
    page = (request.folder / PLACE).is_file()
    return next_steps(
        {judged.adjustment.datum.mode: judged for judged in kept},
        queries.all,
        specified=bool(loaded.job.specifications),
        page=PLACE.as_posix() if page else "",
    )


def _issues(loaded: "Loaded") -> list[dict[str, Any]]:
    """Return the issues of the job, and whether the input has moved on since."""
    from brasscap.io.record.copies import moved_on
    from brasscap.io.record.initials import read_initials
    from brasscap.io.record.issues import RECORDS, replaced_by, shelf
    from brasscap.networks import CommandError
    from brasscap.reports.content_record import issue_words

    made: list[dict[str, Any]] = []
    for number in shelf(loaded.folder).issues:
        record, by = loaded.folder / RECORDS / str(number), None
        moved: list[str] = []
        try:
            by = replaced_by(loaded.folder, number)
            if by is None:
                found = moved_on(record, loaded.folder, loaded.job.frame.geoid)
                moved = [one.file for one in found]
            who = [one.who for one in read_initials(record)[0]]
            words = issue_words(number, by, moved, who)
        except CommandError as error:
            words = str(error)
        made.append(
            {"issue": number, "replaced_by": by, "moved": moved, "words": words}
        )
    return made


def _queries_parts(queries: "Queries", heading: "Heading") -> "list[Part]":
    from brasscap.reports.content_queries import queries_table
    from brasscap.reports.document import Paragraph

    parts: list[Part] = []
    if queries.all:
        parts.append(queries_table(queries.all, heading))
    if not queries.complete:
        said = "the results are not looked at: what they ask is known after a run"
        parts.append(Paragraph(said))
    return parts


def _object(
    loaded: "Loaded",
    kept: "list[Judged]",
    queries: "Queries",
    heading: "Heading",
    steps: "tuple[NextStep, ...]",
) -> dict[str, Any]:
    from brasscap.reports.content_queries import queries_objects
    from brasscap.reports.objects import findings_objects, variance_factor_object

    verdicts = [judged.verdict for judged in kept]
    return {
        "schema": "brasscap/stands/1",
        "verdict": _overall(verdicts, bool(queries.open)),
        "solutions": [
            {
                "datum": judged.adjustment.datum.mode,
                "verdict": judged.verdict,
                "variance_factor": variance_factor_object(judged),
            }
            for judged in kept
        ],
        "findings": findings_objects(loaded.findings),
        "queries": queries_objects(queries.all, heading),
        "queries_complete": queries.complete,
        "next": steps[0].command,
        "next_steps": [{"command": s.command, "why": s.why} for s in steps],
    }


def kept_solutions(loaded: "Loaded") -> "list[Judged]":
    """Return the solutions that results/ holds for exactly this input."""
    if not (loaded.folder / "results").is_dir():
        return []
    from brasscap import __version__
    from brasscap.io.results import read_result, result_key
    from brasscap.reports.judged import judge

    made = []
    for mode in ("minimal", "constrained"):
        network = loaded.network
        key = result_key(loaded.computed_hash, network, mode, None, __version__)
        kept = read_result(loaded.folder, network, mode, key)
        if kept is not None:
            made.append(judge(kept))
    return made


def _overall(verdicts: list[str], queries: bool) -> str:
    from brasscap.reports.judged import worst

    if not verdicts:
        return "query" if queries else "unchecked"
    return worst({*verdicts, "query"} if queries else set(verdicts))
