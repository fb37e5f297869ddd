"""``new``: a folder to start from, empty tables or an example job."""

from pathlib import Path
from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, nearest, wrong

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.progress import Progress

KINDS = ("site", "gnss", "levels", "mixed")
"""Of empty jobs: which tables they start with."""

COMMAND = Command(
    "DIR",
    1,
    1,
    (
        Option("--kind", "empty tables with commented headers", "K", False, KINDS),
        Option("--example", "a complete invented job; see the list below", "NAME"),
    ),
    example="brasscap new footbridge --example NAME",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Make the folder; nothing that exists is touched."""
    from shlex import quote

    from brasscap.answer import Answer
    from brasscap.io.files import write_folder
    from brasscap.reports.document import Document, Facts, Paragraph, Section

    folder = Path(request.words[0])
    example = request.values.get("example")
    kind = request.values.get("kind")
    if (example is None) == (kind is None):
        names = ", ".join(example_names()) or "none"
        raise wrong(
            f"new needs either --kind ({', '.join(KINDS)}) or --example (there are: "
            f"{names})"
        )
    files = (
        example_files(example)
        if example is not None
        else _empty_job(str(kind), folder.resolve().name)
    )
    write_folder(folder, files)
    what = f"example {example}" if example is not None else f"empty {kind} job"
    where = "" if folder == Path() else f" --job {quote(str(folder))}"
    step = "run" if example is not None else "check"
    document = Document(
        f"{folder}: {what}",
        (
            Section("", (Facts((("files", ", ".join(sorted(files))),)),)),
            Section("", (Paragraph(f"next: brasscap {step}{where}", "next"),)),
        ),
    )
    data = {"schema": "brasscap/new/1", "folder": str(folder), "files": sorted(files)}
    return Answer(document, data | {"example": example or "", "kind": kind or ""})


def example_names() -> list[str]:
    """Return the names of the examples that come with the package."""
    from brasscap.networks import example_jobs

    return list(example_jobs.example_names())


def example_files(name: str) -> dict[str, bytes]:
    """Return the files of an example, name relative to its folder to content."""
    from brasscap.networks import example_jobs

    names = example_names()
    if name not in names:
        raise wrong(
            f"there is no example {name!r}{nearest(name, names)} "
            f"(there are: {', '.join(names) or 'none'})"
        )
    return example_jobs.example_files(name)


def _empty_job(kind: str, title: str) -> dict[str, bytes]:
    from brasscap.io.tables.blank import blank_files

    return {name: text.encode() for name, text in blank_files(kind, title).items()}
