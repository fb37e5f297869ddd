"""What an import understands of one file: a table of ours, a solution, vectors."""

from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from brasscap.arguments import Request, nearest, wrong

if TYPE_CHECKING:
    from brasscap.io.additions import Addition
    from brasscap.io.formats import GvxVectors, SinexSolution
    from brasscap.io.tables.job import Job
    from brasscap.networks import Finding, InputError


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


def as_it_comes(path: Path, table: str, name: str) -> Understood:
    """Return what is understood of a table with our headers."""
    from brasscap.io.additions import read_addition

    return added(read_addition(path, table, name), path, name)


def added(addition: "Addition", path: Path, name: str) -> Understood:
    """Return what is understood of a table that can be added."""
    from brasscap.reports.objects import findings_objects

    columns = ", ".join(addition.columns)
    facts = (("file", path.name), ("rows", str(addition.rows)), ("columns", columns))
    data: dict[str, Any] = {
        "name": name,
        "file": path.name,
        "rows": addition.rows,
        "columns": list(addition.columns),
        "findings": findings_objects(addition.findings),
    }
    files = {addition.file: addition.content}
    return Understood(name, files, facts, data, addition.findings)


def solution(request: Request, path: Path, name: str) -> Understood:
    """Return what is understood of a SINEX solution, as positions."""
    from brasscap.io.additions import cannot_read
    from brasscap.io.formats import position_tables, read_sinex
    from brasscap.networks import InputError

    try:
        read = read_sinex(path)
    except OSError as error:
        raise InputError([cannot_read(path, error)]) from error
    code = _frame(request, _job(request.folder), read)
    stations = _stations(request, read)
    # Without a frame the file is only looked at.
    made = position_tables(read, frame_epsg=code or 0, name=name, stations=stations)
    # A solution of one station has nothing in common with another.
    files = {f: text.encode() for f, text in made.items() if text.count("\n") > 1}
    return Understood(
        name,
        files,
        _facts(read, stations, code),
        _object(name, read, stations, code),
        read.notes,
    )


def vectors(request: Request, path: Path, name: str) -> Understood:
    """Return what is understood of GVX vectors, as baselines."""
    from brasscap.io.additions import cannot_read
    from brasscap.io.formats import baseline_tables, read_gvx
    from brasscap.networks import InputError

    try:
        read = read_gvx(path)
    except OSError as error:
        raise InputError([cannot_read(path, error)]) from error
    job = _job(request.folder)
    local = job.frame.geographic_epsg is None
    code = None if local else _frame(request, job, read)
    made = baseline_tables(read, frame_epsg=code, name=name)
    sessions = [s for s in dict.fromkeys(read.session) if s]
    stated = "not stated" if code is None else f"EPSG:{code}"
    facts = (
        ("file", f"{read.file}, GVX 1.0"),
        ("vectors", ", ".join(read.name)),
        ("marks", ", ".join(dict.fromkeys((*read.start, *read.end)))),
        ("sessions", ", ".join(sessions) or "none"),
        ("frame", f"{stated}; the file names {read.frame or 'none'}"),
        ("correlations", f"{len(read.cross)} blocks between vectors, as they stand"),
        ("times", "GPS time in the file, UTC in the table"),
    )
    data: dict[str, Any] = {
        "name": name,
        "file": read.file,
        "rows": len(read.name),
        "frame_epsg": code,
        "frame_named": read.frame,
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
