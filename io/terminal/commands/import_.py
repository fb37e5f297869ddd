"""``import``: a solution of others brought in as one more file of a table."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from brasscap.arguments import Command, Option, Request, wrong

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.io.formats import SinexSolution
    from brasscap.io.tables.job import Job
    from brasscap.progress import Progress
    from brasscap.reports.document import Document

COMMAND = Command(
    "FILE…",
    1,
    -1,
    (
        Option("--as", "the table it goes to", "TABLE", False, ("positions",)),
        Option("--name", "name of the import; else the file's", "NAME"),
        Option("--stations", "only these, comma between them", "LIST"),
        Option("--frame-epsg", "frame of the coordinates; else the job's", "CODE"),
        Option("--read-only", "say what was understood, write nothing"),
    ),
    example="brasscap import week12.snx --as positions",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Read every file whole, then write each as a file of its own."""
    from brasscap.answer import Answer
    from brasscap.steps import require_job

    if "as" not in request.values:
        raise wrong("import: as what? there is  --as positions")
    names = [request.values.get("name") or Path(f).stem for f in request.words]
    if len(set(names)) < len(names):
        raise wrong("import: two files of one name; import each by itself, with --name")
    require_job(request.folder)
    job = _job(request.folder)
    solutions = [_read(Path(file), progress) for file in request.words]
    code, note = _frame(request, job, solutions)
    tables: dict[str, str] = {}
    for name, solution in zip(names, solutions, strict=True):
        tables |= _tables(request, solution, name, code)
    read_only = "read-only" in request.values
    if not read_only:
        _write(request.folder, tables)
    data: dict[str, Any] = {
        "schema": "brasscap/import/1",
        "frame_epsg": code,
        "files": [] if read_only else sorted(tables),
        "solutions": [
            _object(name, s) for name, s in zip(names, solutions, strict=True)
        ],
    }
    document = _document(names, solutions, code, [] if read_only else sorted(tables))
    return Answer(document, data, 0, (note,) if note else ())


def _job(folder: Path) -> "Job":
    from brasscap.io.tables.reading import read_folder
    from brasscap.networks import InputError

    reading = read_folder(folder)
    if reading.job is None:
        raise InputError([f for f in reading.findings if f.file == "job.toml"])
    return reading.job


def _read(path: Path, progress: "Progress") -> "SinexSolution":
    from brasscap.io.formats import FORMATS, read_sinex
    from brasscap.networks import Finding, InputError

    suffixes = next(f.suffixes for f in FORMATS if f.name == "sinex")
    if path.suffix.lower() not in suffixes:
        raise wrong(f"import: {path} is no SINEX file ({', '.join(suffixes)})")
    progress(f"reading {path.name}")
    try:
        return read_sinex(path)
    except OSError as error:
        why = (error.strerror or "cannot be read").lower()
        finding = Finding("cannot-read", "fault", f"file {path}", against=why)
        raise InputError([finding]) from error


def _frame(
    request: Request, job: "Job", solutions: "list[SinexSolution]"
) -> tuple[int, str]:
    """Return the frame's code, and a note where it is taken to be the job's."""
    given = request.values.get("frame-epsg")
    if given is not None:
        if not given.isdigit():
            raise wrong(f"--frame-epsg {given!r} is no EPSG code, such as 7912")
        return int(given), ""
    code = job.frame.geographic_epsg
    if code is None:
        raise wrong("import: the solution is geocentric, and this job is local")
    words = ", ".join(sorted({s.frame for s in solutions if s.frame})) or "no frame"
    return code, (
        f"frame taken to be the job's, EPSG:{code}; the file names {words}; "
        "if that differs, delete the import and state --frame-epsg"
    )


def _tables(
    request: Request, solution: "SinexSolution", name: str, code: int
) -> dict[str, str]:
    from brasscap.arguments import nearest
    from brasscap.io.formats import position_tables

    if not name.strip() or set(name) & set('/\\:*?"<>|') or name[0] in ".~":
        raise wrong(
            f"import: {name!r} cannot be the name of a file; give another with --name"
        )
    wanted = [s.strip() for s in request.values.get("stations", "").split(",")]
    wanted = [station for station in wanted if station]
    for station in wanted:
        if station not in solution.station:
            hint = nearest(station, solution.station)
            raise wrong(f"import: {solution.file} has no station {station!r}{hint}")
    made = position_tables(solution, frame_epsg=code, name=name, stations=wanted)
    # A solution of one station has nothing in common with another.
    return {file: text for file, text in made.items() if text.count("\n") > 1}


def _write(folder: Path, tables: dict[str, str]) -> None:
    """Write the covariances first: positions without them would pass as independent."""
    from brasscap.io.files import make_folder, write_whole
    from brasscap.networks import CannotWrite

    for name in tables:
        if name.startswith("positions/") and (folder / name).exists():
            raise CannotWrite(
                f"{folder / name} exists, and an import only adds; nothing was "
                "written; give another name with --name"
            )
    for name in sorted(tables):
        make_folder((folder / name).parent)
        write_whole(folder / name, tables[name])


def _object(name: str, solution: "SinexSolution") -> dict[str, Any]:
    from brasscap.reports.objects import findings_objects, rounded

    return {
        "name": name,
        "file": solution.file,
        "stations": list(solution.station),
        "epochs_year": [rounded(float(epoch), 6) for epoch in solution.epoch],
        "frame_named": solution.frame,
        "constraint_code": solution.constraint_code,
        "variance_factor": rounded(solution.variance_factor, 6),
        "findings": findings_objects(solution.notes),
    }


def _document(
    names: list[str], solutions: "list[SinexSolution]", code: int, written: list[str]
) -> "Document":
    from brasscap.failures import counted, findings_section
    from brasscap.reports.document import Document, Facts, Paragraph, Section

    sections = []
    for name, solution in zip(names, solutions, strict=True):
        facts = (
            ("file", f"{solution.file}, SINEX {solution.version}"),
            ("stations", ", ".join(solution.station)),
            ("epoch", ", ".join(sorted({f"{e:.4f}" for e in solution.epoch}))),
            ("frame", f"EPSG:{code}; the file names {solution.frame or 'none'}"),
            ("covariance", f"as it stands, from {solution.covariance_from}"),
        )
        sections += [
            Section(name, (Facts(facts),)),
            findings_section(solution.notes),
        ]
    count = counted(sum(len(s.station) for s in solutions), "position")
    lines = [Paragraph(f"written: {file}") for file in written]
    step = Paragraph("next: brasscap check", "next")
    title = f"{count} imported" if written else f"{count} read, nothing written"
    return Document(title, (*sections, Section("", (*lines, step))))
