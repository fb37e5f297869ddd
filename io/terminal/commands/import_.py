"""``import``: a table or a solution of others brought in as one more file."""

from pathlib import Path
from textwrap import indent
from typing import TYPE_CHECKING, Any, NamedTuple

from brasscap.arguments import Command, Option, Request, nearest, wrong

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.io.formats import GvxVectors, SinexSolution
    from brasscap.io.tables.job import Job
    from brasscap.networks import Finding, InputError
    from brasscap.progress import Progress
    from brasscap.reports.document import Document

COMMAND = Command(
    "FILE…",
    1,
    -1,
    (
        Option("--as", "the table it goes to: positions, baselines …", "TABLE"),
        Option("--name", "name of the import; else the file's", "NAME"),
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


class Understood(NamedTuple):
    """What was understood of one file."""

    name: str
    files: dict[str, bytes]
    """Name in the job's folder to content."""
    facts: tuple[tuple[str, str], ...]
    """For a person."""
    data: dict[str, Any]
    """For a program."""
    findings: "tuple[Finding, ...]"


def more() -> str:
    """Return the exchange formats, for ``--help``."""
    from brasscap.io.formats import formats_help

    own = "a .csv with the headers of one of the job's tables is added as it comes"
    return f"{own}\n\nformats\n" + indent(formats_help(), "  ")


def run(request: Request, progress: "Progress") -> "Answer":
    """Read every file whole, then write each as a file of its own."""
    from brasscap.answer import Answer
    from brasscap.io.additions import add_files
    from brasscap.steps import require_job

    require_job(request.folder)
    table = _table(request)
    names = [request.values.get("name") or Path(f).stem for f in request.words]
    for name in names:
        if not name.strip() or set(name) & set('/\\:*?"<>|') or name[0] in ".~":
            raise wrong(f"import: {name!r} cannot name a file; give another: --name")
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
    from brasscap.io.tables.schema import schemas

    known = [name for name in schemas() if name != "decisions"]
    table = request.values.get("as", "")
    if table not in known:
        which = f"there is no table {table!r}{nearest(table, known)}" if table else ""
        raise wrong(f"import: {which or 'as what?'} (--as {', '.join(known)})")
    return table


def _understand(request: Request, path: Path, table: str, name: str) -> Understood:
    from brasscap.io.formats import FORMATS
    from brasscap.reports.objects import findings_objects

    if path.suffix.lower() == ".gvx":
        if table != "baselines":
            raise wrong("import: a GVX file holds vectors: --as baselines")
        return _gvx(request, path, name)
    suffixes = next(f.suffixes for f in FORMATS if f.name == "sinex")
    if path.suffix.lower() in suffixes:
        if table != "positions":
            raise wrong("import: a SINEX solution holds positions: --as positions")
        return _solution(request, path, name)
    if path.suffix.lower() != ".csv":
        raise wrong(
            f"import: {path} is neither .csv nor SINEX ({', '.join(suffixes)}) nor GVX "
            "(.gvx)"
        )
    from brasscap.io.additions import read_addition

    added = read_addition(path, table, name)
    facts = (("rows", str(added.rows)), ("columns", ", ".join(added.columns)))
    data: dict[str, Any] = {
        "name": name,
        "file": path.name,
        "rows": added.rows,
        "columns": list(added.columns),
        "findings": findings_objects(added.findings),
    }
    files = {added.file: added.content}
    return Understood(name, files, (("file", path.name), *facts), data, added.findings)


def _solution(request: Request, path: Path, name: str) -> Understood:
    from brasscap.io.additions import cannot_read
    from brasscap.io.formats import position_tables, read_sinex
    from brasscap.networks import InputError

    try:
        solution = read_sinex(path)
    except OSError as error:
        raise InputError([cannot_read(path, error)]) from error
    code = _frame(request, _job(request.folder), solution)
    stations = _stations(request, solution)
    # Without a frame the file is only looked at.
    made = position_tables(solution, frame_epsg=code or 0, name=name, stations=stations)
    # A solution of one station has nothing in common with another.
    files = {f: text.encode() for f, text in made.items() if text.count("\n") > 1}
    return Understood(
        name,
        files,
        _facts(solution, stations, code),
        _object(name, solution, stations, code),
        solution.notes,
    )


def _gvx(request: Request, path: Path, name: str) -> Understood:
    from brasscap.io.additions import cannot_read
    from brasscap.io.formats import baseline_tables, read_gvx
    from brasscap.networks import InputError

    try:
        vectors = read_gvx(path)
    except OSError as error:
        raise InputError([cannot_read(path, error)]) from error
    job = _job(request.folder)
    local = job.frame.geographic_epsg is None
    code = None if local else _frame(request, job, vectors)
    made = baseline_tables(vectors, frame_epsg=code, name=name)
    sessions = [s for s in dict.fromkeys(vectors.session) if s]
    stated = "not stated" if code is None else f"EPSG:{code}"
    facts = (
        ("file", f"{vectors.file}, GVX 1.0"),
        ("vectors", ", ".join(vectors.name)),
        ("marks", ", ".join(dict.fromkeys((*vectors.start, *vectors.end)))),
        ("sessions", ", ".join(sessions) or "none"),
        ("frame", f"{stated}; the file names {vectors.frame or 'none'}"),
        ("correlations", f"{len(vectors.cross)} blocks between vectors, as they stand"),
        ("times", "GPS time in the file, UTC in the table"),
    )
    data: dict[str, Any] = {
        "name": name,
        "file": vectors.file,
        "rows": len(vectors.name),
        "frame_epsg": code,
        "frame_named": vectors.frame,
        "findings": [],
    }
    files = {file: text.encode() for file, text in made.items()}
    return Understood(name, files, facts, data, ())


def _job(folder: Path) -> "Job":
    from brasscap.io.tables.reading import read_folder
    from brasscap.networks import InputError

    reading = read_folder(folder)
    if reading.job is None:
        raise InputError([f for f in reading.findings if f.file == "job.toml"])
    return reading.job


def _frame(
    request: Request, job: "Job", solution: "SinexSolution | GvxVectors"
) -> int | None:
    """Return the code of the frame as stated; None where the file is only looked at.

    A frame that is taken for granted moves marks by a metre or two without a word.
    """
    given = request.values.get("frame-epsg")
    if given == "job":
        if job.frame.geographic_epsg is None:
            raise wrong("import: the solution is geocentric, and this job is local")
        return job.frame.geographic_epsg
    if given is not None and not given.isdigit():
        raise wrong(f"--frame-epsg {given!r} is no EPSG code, such as 7912, nor job")
    if given is None and "read-only" not in request.values:
        raise _frame_not_stated(job, solution)
    return None if given is None else int(given)


def _frame_not_stated(
    job: "Job", solution: "SinexSolution | GvxVectors"
) -> "InputError":
    from brasscap.networks import Finding, InputError

    own = job.frame.geographic_epsg
    ways = "--frame-epsg CODE"
    if own is not None:
        ways += f", or --frame-epsg job if it is in the job's own, EPSG:{own}"
    return InputError(
        [
            Finding(
                "frame-not-stated",
                "fault",
                f"solution {solution.file}",
                file=solution.file,
                booked=f"the file names {solution.frame or 'no frame'}",
                against="an EPSG code: the format carries none, and another frame "
                "lies a metre or two away",
                mend=f"look it up where the file comes from, and import with {ways}",
            )
        ]
    )


def _stations(request: Request, solution: "SinexSolution") -> list[str]:
    wanted = [s.strip() for s in request.values.get("stations", "").split(",")]
    for station in filter(None, wanted):
        if station not in solution.station:
            hint = nearest(station, solution.station)
            raise wrong(f"import: {solution.file} has no station {station!r}{hint}")
    return [station for station in wanted if station] or list(solution.station)


def _facts(
    solution: "SinexSolution", stations: list[str], code: int | None
) -> tuple[tuple[str, str], ...]:
    epochs = sorted({f"{epoch:.4f}" for epoch in solution.epoch})
    stated = "not stated" if code is None else f"EPSG:{code}"
    return (
        ("file", f"{solution.file}, SINEX {solution.version}"),
        ("stations", ", ".join(stations)),
        ("epoch", ", ".join(epochs)),
        ("frame", f"{stated}; the file names {solution.frame or 'none'}"),
        ("covariance", "as it stands in the file"),
    )


def _object(
    name: str, solution: "SinexSolution", stations: list[str], code: int | None
) -> dict[str, Any]:
    from brasscap.reports.objects import findings_objects
    from brasscap.reports.objects_figures import rounded

    return {
        "name": name,
        "file": solution.file,
        "rows": len(stations),
        "stations": stations,
        "frame_epsg": code,
        "epochs_year": [rounded(float(epoch), 6) for epoch in solution.epoch],
        "frame_named": solution.frame,
        "constraint_code": solution.constraint_code,
        "variance_factor": rounded(solution.variance_factor, 6),
        "findings": findings_objects(solution.notes),
    }


def _document(read: list[Understood], table: str, written: list[str]) -> "Document":
    from brasscap.failures import counted, findings_section
    from brasscap.reports.document import Document, Facts, Paragraph, Section

    sections = []
    for one in read:
        sections.append(Section(one.name, (Facts(one.facts),)))
        sections.append(findings_section(one.findings))
    count = counted(sum(one.data["rows"] for one in read), "row")
    lines = [Paragraph(f"written: {file}") for file in written]
    step = Paragraph("next: brasscap check", "next")
    done = "imported" if written else "read, nothing written"
    title = f"{table}: {count} {done}"
    return Document(title, (*sections, Section("", (*lines, step))))
