"""``report``: the document as text or as a page that prints, sheets, a plot."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from brasscap.arguments import Command, Option, Request, wrong
from brasscap.plotting import NAMES, asked, write_plots

if TYPE_CHECKING:
    from brasscap.adjust.follow.topo import Topo
    from brasscap.adjust.judge.closures import Closures
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress
    from brasscap.queries import Queries
    from brasscap.reports.content_spec import Held
    from brasscap.reports.document import Document
    from brasscap.reports.judged import Judged

PLACE = Path("reports", "report.html")
"""Of the page, in the job's folder."""

COMMAND = Command(
    "",
    0,
    0,
    (
        Option("--html", "one page; without FILE reports/report.html", "FILE", True),
        Option(
            "--plot",
            "the network with its ellipses, PNG, SVG or PDF; without FILE "
            "reports/network.png",
            "FILE",
            True,
        ),
        Option(
            "--plot-of",
            "another plot: residuals against the normal, smallest blunders seen, "
            "blunder against effect, heights; all, as SVG",
            "WHAT",
            False,
            (*NAMES, "all"),
        ),
        Option(
            "--marks",
            "a control sheet for each mark, one page each; without FILE "
            "reports/marks.html",
            "FILE",
            True,
        ),
        Option("--paper", "what the pages print on", "SIZE", False, ("A4", "letter")),
    ),
    example="brasscap report --html",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Write the page or the plot; without either, print the report as text."""
    from brasscap.answer import Answer
    from brasscap.commands.loops import closed
    from brasscap.queries import Known, all_queries
    from brasscap.reports.document import Document, Paragraph, Section
    from brasscap.reports.judged import judge
    from brasscap.steps import adjusted, exit_code, head, read_job

    plots = asked(request)
    if paper(request) and not {"html", "marks"} & set(request.values):
        raise wrong("--paper is of the pages: give --html or --marks with it")
    loaded = read_job(request, progress)
    made = adjusted(request, loaded, "constrained", progress, keep=False)
    judged = judge(made.adjustment)
    minimal = _minimal(request, loaded, progress)
    progress("seeking loops")
    loops = closed(loaded)
    known = Known(loops, tests=judged.tests)
    queries = all_queries(request, loaded, made.adjustment, progress, known=known)
    document = full_report(
        request, loaded, judged, minimal, progress, queries, loops=loops
    )
    files: dict[str, Path] = {}
    if "html" in request.values:
        files["html"] = place(request, "html", PLACE)
        write_page(files["html"], document, progress, paper(request))
    if plots:
        units = head(request, loaded).units
        files |= write_plots(plots, judged, units, progress)
    if "marks" in request.values:
        files |= _write_sheets(request, loaded, judged, progress)
    if files:
        pages = [Paragraph(f"written: {path}") for path in files.values()]
        first = next(iter(files.values()))
        said = Paragraph(f"next: open {first}", "next")
        title = f"{document.title}: {judged.verdict}"
        document = Document(title, (Section("", tuple(pages)), Section("", (said,))))
    code = exit_code([judged.verdict], loaded, request, queries.all)
    return Answer(document, report_object(judged, files), code, made.notes)


def _minimal(
    request: Request, loaded: "Loaded", progress: "Progress"
) -> "Judged | None":
    """Return the minimal solution; None where nothing can be held for one."""
    from brasscap.networks import NoSolution
    from brasscap.reports.judged import judge
    from brasscap.steps import adjusted

    try:
        made = adjusted(request, loaded, "minimal", progress, keep=False)
    except NoSolution:
        return None
    return judge(made.adjustment)


def full_report(
    request: Request,
    loaded: "Loaded",
    judged: "Judged",
    minimal: "Judged | None",
    progress: "Progress",
    queries: "Queries | None" = None,
    held: "Held | str | None" = None,
    loops: "Closures | None" = None,
    topo: "Topo | None" = None,
) -> "Document":
    """Return the report of the constrained solution, the minimal one beside it."""
    from brasscap.commands.loops import closed
    from brasscap.queries import Known, all_queries
    from brasscap.reports.content_report import report_document
    from brasscap.reports.judged import brought_back
    from brasscap.specifying import specified
    from brasscap.steps import head
    from brasscap.topo_exporting import reported_day
    from brasscap.weighing import weighed_in

    if loops is None:
        progress("seeking loops")
        loops = closed(loaded)
    if queries is None:
        known = Known(loops, tests=judged.tests)
        queries = all_queries(request, loaded, judged.adjustment, progress, known=known)
    if held is None:
        held = specified(request, loaded, progress)
    weighed = queries.weighed or weighed_in(judged.adjustment, loaded, progress)
    progress("bringing left-out observations back")
    back = brought_back(judged.adjustment)
    return report_document(
        judged,
        head(request, loaded),
        minimal=minimal,
        back=back,
        closed=loops,
        queries=queries.all,
        specified=held,
        weighed=weighed,
        topo=topo or reported_day(loaded, judged.adjustment, progress),
    )


def place(request: Request, option: str, otherwise: Path) -> Path:
    """Return where a file goes: as asked, else in the job's folder."""
    given = request.values.get(option)
    return Path(given) if given else request.folder / otherwise


def paper(request: Request) -> str:
    """Return the paper that is asked for; empty for the browser's own."""
    return request.values.get("paper", "")


def write_page(
    path: Path,
    document: "Document",
    progress: "Progress",
    paper: str = "",
    *,
    page_each: bool = False,
) -> None:
    """Write a document as one HTML file.

    Parameters
    ----------
    path : Path
    document : Document
    progress : callable
    paper : str, optional
        ``A4`` or ``letter``.
    page_each : bool, optional
        Whether every section prints on a page of its own.

    Raises
    ------
    CannotWrite
    """
    from brasscap.io.files import make_folder, write_whole
    from brasscap.reports.html import html

    progress("writing the page")
    page = html(document, paper=paper, page_each=page_each)
    make_folder(path.parent)
    write_whole(path, page)


def report_object(judged: "Judged", files: dict[str, Path]) -> dict[str, Any]:
    """Return what ``--json`` prints."""
    return {
        "schema": "brasscap/report/1",
        "datum": judged.adjustment.datum.mode,
        "verdict": judged.verdict,
        "files": {kind: path.as_posix() for kind, path in files.items()},
    }


def _write_sheets(
    request: Request, loaded: "Loaded", judged: "Judged", progress: "Progress"
) -> dict[str, Path]:
    """Write the control sheets, so many to a file, and return the files."""
    from brasscap.mark_sheets import sheets_of
    from brasscap.steps import head

    first = place(request, "marks", Path("reports", "marks.html"))
    progress("looking for what could hide")
    files: dict[str, Path] = {}
    for document in sheets_of(loaded, judged, head(request, loaded)):
        number = len(files) + 1
        path = first if number == 1 else first.with_stem(f"{first.stem}-{number}")
        files["marks" if number == 1 else f"marks-{number}"] = path
        write_page(path, document, progress, paper(request), page_each=True)
    return files
