"""``run``: all of it in order; it goes on after ``fails``, not after a fault."""

from typing import TYPE_CHECKING, Any

from brasscap.arguments import Command, Option, Request

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress
    from brasscap.reports.document import Paragraph, Section
    from brasscap.reports.judged import Judged

STEPS = ("check", "minimal", "constrained", "report")
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
    from brasscap.commands.report import PLACE, full_report, place, write_page
    from brasscap.networks import CannotWrite
    from brasscap.reports.document import Document
    from brasscap.steps import exit_code, read_job

    last = STEPS.index(request.values.get("until", STEPS[-1]))
    loaded = read_job(request, progress)
    solutions, notes, missing = _solutions(request, loaded, progress, STEPS[1 : last + 1])
    page = None
    if last == len(STEPS) - 1 and "constrained" in solutions:
        report = full_report(request, loaded, solutions["constrained"], progress)
        page = place(request, "html", PLACE)
        try:
            write_page(page, report, progress)
        except CannotWrite as error:
            if "html" in request.values:
                raise
            notes += (f"the page is not written: {error}",)
            page = None
    verdicts = [judged.verdict for judged in solutions.values()]
    document = Document(
        _title(loaded, solutions),
        (
            *_sections(request, loaded, solutions),
            *missing,
            _next(request, solutions, page.as_posix() if page else ""),
        ),
    )
    data = _object(request, loaded, solutions, page.as_posix() if page else None)
    return Answer(document, data, exit_code(verdicts, loaded, request), notes)
