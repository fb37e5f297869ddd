"""``trial``: a page to try things on, that opens from disk and asks for nothing."""

from pathlib import Path
from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress

COMMAND = Command(
    "",
    0,
    0,
    (
        Option("--out", "the page; without it reports/trial.html", "FILE"),
        Option(
            "--stations",
            "marks of a part of the network, with commas; else all, and above 300 the "
            "worst placed 200",
            "LIST",
        ),
        Option(
            "--datum",
            "the solution that is tried on; constrained if not said",
            "MODE",
            False,
            ("minimal", "constrained"),
        ),
    ),
    example="brasscap trial --out trial.html",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Write the page; nothing of the job is changed."""
    from brasscap.answer import Answer
    from brasscap.io.files import make_folder, write_whole
    from brasscap.reports.document import Document, Paragraph, Section
    from brasscap.steps import read_job
    from brasscap.trialling import trial_page

    loaded = read_job(request, progress)
    page = trial_page(request, loaded, progress)
    path = Path(request.values.get("out") or request.folder / "reports" / "trial.html")
    make_folder(path.parent)
    write_whole(path, page)
    size = len(page.encode())
    lines = (
        Paragraph(f"written: {path}, {size / 1e6:.1f} MB{_part(request, loaded)}"),
        Paragraph(
            "it opens from disk and asks for nothing; what is tried there changes "
            "nothing here; Save trial gives a file, which  "
            "brasscap adjust --trial FILE  adjusts in full"
        ),
        Paragraph(f"next: open {path} in a browser", "next"),
    )  # fmt: skip
    data = {
        "schema": "brasscap/trial/1",
        "job_hash": loaded.computed_hash,
        "datum": request.values.get("datum", "constrained"),
        "changes": [],
        "file": path.as_posix(),
        "size_bytes": size,
        "marks_count": len(loaded.network.marks),
    }
    return Answer(Document("Trial page", (Section("", lines),)), data)


def _part(request: Request, loaded: "Loaded") -> str:
    """Return in words that a page shows a part of the network; empty if all of it."""
    from brasscap.trialling import MOST_MARKS, PART

    marks = len(loaded.network.marks)
    if "stations" in request.values:
        return f"; the marks named with --stations, of {marks}"
    if marks <= MOST_MARKS:
        return ""
    return (
        f"; {PART} of {marks} marks, the worst placed one and those nearest to it, "
        f"since a page carries {MOST_MARKS}: choose others with  --stations LIST"
    )
