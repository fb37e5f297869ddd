"""``import``: a table or a solution of others brought in as one more file."""

from pathlib import Path
from textwrap import indent
from typing import TYPE_CHECKING, Any

from brasscap.arguments import Command, Option, Request, nearest, wrong

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.importing import Understood
    from brasscap.progress import Progress
    from brasscap.reports.document import Document

COMMAND = Command(
    "FILE…",
    1,
    -1,
    (
        Option("--as", "the table it goes to: positions, baselines …", "TABLE"),
        Option("--name", "name of the import; else the file's", "NAME"),
        Option(
            "--mapping",
            "file of others: which of their columns is which of ours, their units, "
            "signs and confidences",
            "FILE",
        ),
        Option(
            "--propose-mapping",
            "write a mapping from the header and the values of one file, to "
            "mapping.toml of the job or to --mapping FILE; what is not sure is left "
            "open, with the reason",
        ),
        Option(
            "--covariance",
            "what six columns xx, xy … are",
            "WHAT",
            choices=("cov", "sd-corr"),
        ),
        Option(
            "--length-unit",
            "of lengths whose header states none, or a foot without its name",
            "U",
            choices=("m", "ift", "sft"),
        ),
        Option("--stations", "of a solution only these, comma between them", "LIST"),
        Option(
            "--frame-epsg",
            "frame of a solution, which its file does not carry: its EPSG code, or "
            "job for the job's own",
            "CODE",
        ),
        Option("--read-only", "say what was understood, write nothing"),
    ),
    example="brasscap import week12.snx --as positions --frame-epsg 9989",
)


_RESTATES = ("length-unit", "covariance")


def more() -> str:
    """Return the exchange formats, for ``--help``."""
    from brasscap.io.formats import formats_help

    own = (
        "a .csv with the headers of one of the job's tables is added as it comes; any\n"
        "other list, of points too, by a mapping:  brasscap help mapping"
    )
    return f"{own}\n\nformats\n" + indent(formats_help(), "  ")


def run(request: Request, progress: "Progress") -> "Answer":
    """Read every file whole, then write each as a file of its own."""
    from brasscap.answer import Answer
    from brasscap.io.additions import add_files
    from brasscap.proposing_mapping import proposed
    from brasscap.steps import require_job

    require_job(request.folder)
    table = _table(request)
    if "propose-mapping" in request.values:
        return proposed(request, table)
    names = [request.values.get("name") or Path(f).stem for f in request.words]
    for name in names:
        if not name.strip() or set(name) & set('/\\:*?"<>|') or name[0] in ".~":
            raise wrong(f"import: {name!r} cannot name a file; give another: --name")
        if table == "topo/shots" and name in ("constructions", "checks", "field_test"):
            raise wrong(f"import: topo/{name}.csv is no file of shots; another --name")
    if len(set(names)) < len(names):
        raise wrong("import: two files of one name; import each by itself, with --name")
    read = []
    for file, name in zip(request.words, names, strict=True):
        progress(f"reading {Path(file).name}")
        read.append(_understand(request, Path(file), table, name))
    files = {file: raw for one in read for file, raw in one.files.items()}
    read_only = "read-only" in request.values
    if not read_only:
        add_files(request.folder, files)
    written = [] if read_only else sorted(files)
    data: dict[str, Any] = {
        "schema": "brasscap/import/1",
        "table": table,
        "files": written,
        "imports": [one.data for one in read],
    }
    return Answer(_document(read, table, written), data, 0)


def _table(request: Request) -> str:
    from brasscap.io.additions import importable

    known = list(importable())
    table = request.values.get("as", "")
    if table not in known:
        which = f"there is no table {table!r}{nearest(table, known)}" if table else ""
        raise wrong(f"import: {which or 'as what?'} (--as {', '.join(known)})")
    return table


def _understand(request: Request, path: Path, table: str, name: str) -> "Understood":
    from brasscap.importing import as_it_comes, solution, vectors
    from brasscap.importing_mapped import mapped, restated
    from brasscap.io.formats import FORMATS

    suffixes = next(f.suffixes for f in FORMATS if f.name == "sinex")
    is_gvx, is_sinex = (path.suffix.lower() in s for s in ((".gvx",), suffixes))
    given = [f"--{key}" for key in _RESTATES if key in request.values]
    if "mapping" in request.values:
        if given:
            raise wrong(f"import: {given[0]}: the mapping states it; leave it out")
        return mapped(path, table, name, Path(request.values["mapping"]))
    if given and (is_gvx or is_sinex):
        raise wrong(f"import: {given[0]}: {path.name} states it; leave it out")
    if is_gvx:
        if table != "baselines":
            raise wrong("import: a GVX file holds vectors: --as baselines")
        return vectors(request, path, name)
    if is_sinex:
        if table != "positions":
            raise wrong("import: a SINEX solution holds positions: --as positions")
        return solution(request, path, name)
    if given:
        return restated(
            path, table, name, *(request.values.get(k, "") for k in _RESTATES)
        )
    if path.suffix.lower() != ".csv":
        raise wrong(
            f"import: {path} is neither .csv nor SINEX ({', '.join(suffixes)}) nor GVX "
            "(.gvx); a list of others needs --mapping FILE"
        )
    return as_it_comes(path, table, name)


def _document(read: "list[Understood]", table: str, written: list[str]) -> "Document":
    from brasscap.failures import counted, findings_section
    from brasscap.reports.document import Document, Facts, Paragraph, Section

    sections = []
    for one in read:
        sections.append(Section(one.name, (Facts(one.facts),)))
        sections.append(findings_section(one.findings))
    count = counted(sum(one.data["rows"] for one in read), "row")
    lines = [Paragraph(f"written: {file}") for file in written]
    judge = "topo check" if table.startswith("topo/") else "check"
    step = Paragraph(f"next: brasscap {judge}", "next")
    done = "imported" if written else "read, nothing written"
    title = f"{table}: {count} {done}"
    return Document(title, (*sections, Section("", (*lines, step))))
