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
        Option(
            "--table",
            "empty tables alone, names with commas; into a job that is there, too",
            "LIST",
        ),
    ),
    example="brasscap new footbridge --example mill",
)


def more() -> str:
    """Return the examples and the tables, for ``--help``."""
    from textwrap import wrap

    from brasscap.io.tables.blank import table_schemas

    names = wrap(", ".join(example_names()), 78)
    lines = ["examples", *(f"  {line}" for line in names), "", "tables of --table"]
    for name, schema in table_schemas().items():
        says = wrap(schema.says, 56)
        lines.append(f"  {name:<20} {says[0]}")
        lines += [f"{'':<23}{line}" for line in says[1:]]
    return "\n".join(lines)


def run(request: Request, progress: "Progress") -> "Answer":
    """Make the folder; nothing that exists is touched."""
    from shlex import quote

    from brasscap.answer import Answer
    from brasscap.io.files import write_folder
    from brasscap.reports.document import Document, Facts, Paragraph, Section

    folder = Path(request.words[0])
    if "table" in request.values:
        return _with_tables(request, folder)
    example = request.values.get("example")
    kind = request.values.get("kind")
    if (example is None) == (kind is None):
        names = ", ".join(example_names()) or "none"
        raise wrong(
            f"new needs either --kind ({', '.join(KINDS)}) or --example (there are: "
            f"{names}), or --table LIST for tables alone"
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


def _with_tables(request: Request, folder: Path) -> "Answer":
    """Add empty tables to a folder; what is there is not touched."""
    from shlex import quote

    from brasscap.answer import Answer
    from brasscap.io.files import make_folder, write_whole
    from brasscap.io.tables.blank import blank_table
    from brasscap.reports.document import Document, Facts, Paragraph, Section

    if {"kind", "example"} & request.values.keys():
        raise wrong("new: --table stands alone, without --kind or --example")
    kind = _kind_of(folder)
    files = dict(blank_table(name, kind) for name in _tables(request.values["table"]))
    there = [name for name in files if (folder / name).exists()]
    if there:
        raise wrong(
            f"{', '.join(there)}: there already, in {folder}; nothing was written"
        )
    for name, text in files.items():
        make_folder((folder / name).parent)
        write_whole(folder / name, text)
    only_topo = all(name.startswith("topo/") for name in files)
    step = "topo check" if only_topo else "check"
    where = "" if folder == Path() else f" --job {quote(str(folder))}"
    said = f"next: fill them in, a row each, then  brasscap {step}{where}"
    document = Document(
        f"{folder}: empty tables",
        (
            Section("", (Facts((("files", ", ".join(sorted(files))),)),)),
            Section("", (Paragraph(said, "next"),)),
        ),
    )
    data = {"schema": "brasscap/new/1", "folder": str(folder), "files": sorted(files)}
    return Answer(document, data | {"example": "", "kind": ""})


def _tables(words: str) -> list[str]:
    """Return the tables that are asked for, with or without ``.csv``.

    Raises
    ------
    CommandError
        One is not known.
    """
    from brasscap.io.tables.blank import table_schemas

    known = list(table_schemas())
    names = [word.strip().removesuffix(".csv") for word in words.split(",")]
    for name in names:
        if name not in known:
            raise wrong(
                f"there is no table {name!r}{nearest(name, known)} "
                "(all of them: brasscap new --help)"
            )
    return names


def _kind_of(folder: Path) -> str:
    """Return the kind of job whose columns a folder wants: ``site`` or ``mixed``."""
    import tomllib

    try:
        job = tomllib.loads((folder / "job.toml").read_text("utf-8"))
    except (OSError, ValueError):
        return "mixed"
    frame = job.get("frame")
    is_local = isinstance(frame, dict) and frame.get("kind") == "local"
    return "site" if is_local else "mixed"


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
