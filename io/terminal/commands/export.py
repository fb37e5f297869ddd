"""``export``: the adjusted control for others, as a crew loads it or as a map."""

from pathlib import Path
from textwrap import indent
from typing import TYPE_CHECKING, Any

from brasscap.arguments import Command, Option, Request, wrong

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from brasscap.answer import Answer
    from brasscap.io.formats import ControlPoints, SolutionPoints
    from brasscap.io.tables.load import Loaded
    from brasscap.networks.covariances import Ints
    from brasscap.progress import Progress
    from brasscap.reports.judged import Judged

_WRITTEN = {
    "csv": "csv",
    "geojson": "geojson",
    "gpkg": "gpkg",
    "sinex": "snx",
    "dxf": "dxf",
}
"""Formats, and the ending of each."""

COMMAND = Command(
    "",
    0,
    0,
    (
        Option("--csv", "for crews; without FILE reports/control.csv", "FILE", True),
        Option(
            "--geojson", "RFC 7946, a map; else reports/control.geojson", "FILE", True
        ),
        Option("--gpkg", "GeoPackage; else reports/control.gpkg", "FILE", True),
        Option(
            "--sinex",
            "SINEX 2.02 with the full covariance; else reports/control.snx",
            "FILE",
            True,
        ),
        Option("--dxf", "a drawing; else reports/control.dxf", "FILE", True),
        Option("--shots", "the shots of topo/ and what is made from them instead"),
    ),
    example="brasscap export --csv --units ift",
)


def more() -> str:
    """Return the exchange formats, for ``--help``."""
    from brasscap.io.formats import formats_help

    return "formats\n" + indent(formats_help(), "  ")


def run(request: Request, progress: "Progress") -> "Answer":
    """Write the constrained solution's marks in each format asked for."""
    from brasscap.answer import Answer
    from brasscap.io.files import make_folder, write_whole
    from brasscap.io.streams import write_pieces
    from brasscap.reports.document import Document, Paragraph, Section
    from brasscap.reports.judged import judge
    from brasscap.steps import adjusted, exit_code, read_job

    asked = [name for name in _WRITTEN if name in request.values]
    if not asked:
        raise wrong(
            "export: say what: "
            f"{', '.join(f'--{name}' for name in _WRITTEN)}, or several of them"
        )
    loaded = read_job(request, progress)
    made = adjusted(request, loaded, "constrained", progress, keep=False)
    judged = judge(made.adjustment)
    verdict = judged.verdict
    if "shots" in request.values:
        return _shots(request, loaded, judged, asked)
    points = control_points(request, loaded, judged)
    writers = _writers(request, loaded, judged)
    texts = {name: writers[name](points) for name in asked}
    files: dict[str, str] = {}
    for name, text in texts.items():
        otherwise = request.folder / "reports" / f"control.{_WRITTEN[name]}"
        path = Path(request.values[name] or otherwise)
        make_folder(path.parent)
        if isinstance(text, str | bytes):
            write_whole(path, text)
        else:
            write_pieces(path, text)
        files[name] = path.as_posix()
    count = f"{len(points.name)} marks, {points.frame}"
    lines = [Paragraph(count), *(Paragraph(f"written: {f}") for f in files.values())]
    caution = "next: load it and check one known mark before use"
    document = Document(
        f"adjusted control: {verdict}",
        (Section("", tuple(lines)), Section("", (Paragraph(caution, "next"),))),
    )
    data: dict[str, Any] = {
        "schema": "brasscap/export/1",
        "verdict": verdict,
        "files": files,
        "unit": points.unit,
        "marks_count": len(points.name),
    }
    return Answer(document, data, exit_code([verdict], loaded, request), made.notes)


def _shots(
    request: Request, loaded: "Loaded", judged: "Judged", asked: list[str]
) -> "Answer":
    """Write shots and made points in each format asked for."""
    from brasscap.answer import Answer
    from brasscap.io.files import make_folder, write_whole
    from brasscap.reports.document import Document, Paragraph, Section
    from brasscap.topo_exporting import detail_points, detail_writers, judged_day

    writers = detail_writers(request)
    other = sorted(set(asked) - writers.keys())
    if other:
        known = ", ".join(f"--{name}" for name in writers)
        raise wrong(f"export --shots writes {known}, not --{other[0]}")
    points = detail_points(request, loaded, judged_day(loaded, judged.adjustment))
    texts = {name: writers[name](points) for name in asked}
    files: dict[str, str] = {}
    for name, text in texts.items():
        otherwise = request.folder / "reports" / f"shots.{name}"
        path = Path(request.values[name] or otherwise)
        make_folder(path.parent)
        write_whole(path, text)
        files[name] = path.as_posix()
    moved = sorted((request.folder / "results" / "topo").glob("moved_*.csv"))
    notes = tuple(f"shots as booked; moved ones: {path.as_posix()}" for path in moved)
    lines = [Paragraph(f"{len(points.name)} points, {points.frame}")]
    lines += [Paragraph(f"written: {file}") for file in files.values()]
    step = Paragraph("next: load it and check one known mark before use", "next")
    document = Document("shots", (Section("", tuple(lines)), Section("", (step,))))
    data = {
        "schema": "brasscap/export/1",
        "verdict": judged.verdict,
        "files": files,
        "unit": points.unit,
        "marks_count": len(points.name),
    }
    return Answer(document, data, 0, notes)


def control_points(
    request: Request, loaded: "Loaded", judged: "Judged"
) -> "ControlPoints":
    """Return the marks whose plan or height is known or estimated."""
    import numpy as np

    from brasscap.io.formats import ControlPoints
    from brasscap.networks import GeodeticFrame

    frame, marks = loaded.network.frame, judged.marks
    some = np.flatnonzero(np.isfinite(marks.xyz).all(axis=1))
    xyz = marks.xyz[some]
    # A mark of a job of heights alone has a plan, from nowhere: it is not said.
    north_east_up = marks.estimated[some][:, [1, 0, 2]]
    grid = np.where(north_east_up, frame.grid(xyz), np.nan)
    geodetic = np.full_like(xyz, np.nan)
    if isinstance(frame, GeodeticFrame):
        geodetic = np.where(north_east_up, frame.geodetic(xyz), np.nan)
    local = frame.kind == "local"
    stated = loaded.job.frame
    title = loaded.job.title or loaded.folder.resolve().name
    datum = judged.adjustment.datum
    found = judged.heights
    above = None
    if found is not None:
        sd = found.sd * _scale(judged) ** 0.5
        above = np.stack([found.height, sd], axis=1)[some]
    return ControlPoints(
        name=tuple(loaded.network.marks.name[i] for i in some),
        geodetic=geodetic,
        grid=grid,
        covariance=marks.covariance[some] * _scale(judged),
        covariance_kind=marks.multipliers.kind,
        # The unit of writing is said apart, and may be the foot.
        frame=frame.describe().removesuffix(", metres"),
        frame_epsg=None if local else stated.geographic_epsg,
        epoch=None if local else stated.epoch,
        height_kind=(stated.height_datum or "site datum") if local else "ellipsoidal",
        unit=request.values.get("units") or loaded.job.length_unit,
        source=f"{title}; {datum.mode}, {datum.text}; verdict: {judged.verdict}; "
        f"input {loaded.input_hash[:16]}",
        unchecked=_unchecked(judged, some),
        orthometric=above,
        geoid=_geoid_words(judged),
    )


def _scale(judged: "Judged") -> float:
    """Return what stated covariances are multiplied by: s0² where that is printed."""
    estimated = judged.marks.multipliers.kind == "estimated"
    return judged.adjustment.s0_sq if estimated else 1.0


def _geoid_words(judged: "Judged") -> str:
    """Return height datum and geoid model, and what of it was estimated."""
    stated = judged.network.undulations
    if stated is None:
        return ""
    words = [f"height datum {stated.height_datum or 'not stated'}"]
    words.append(f"geoid {stated.model}" if stated.model else "no geoid model")
    shifted = {0: "", 1: "shift"}.get(len(stated.estimated), "shift and tilt")
    words += [f"{shifted} of the geoid estimated"] if shifted else []
    return ", ".join(words)


def _unchecked(judged: "Judged", marks: "Ints") -> tuple[str, ...]:
    """Return what of marks nothing checks, of what was estimated of them."""
    estimated = judged.adjustment.estimated[marks]
    plan = estimated[:, :2].any(axis=1) & ~judged.checked[marks, 0]
    height = estimated[:, 2] & ~judged.checked[marks, 1]
    words = {(1, 0): "plan", (0, 1): "height", (1, 1): "plan and height"}
    pairs = zip(plan.tolist(), height.tolist(), strict=True)
    return tuple(words.get(pair, "") for pair in pairs)


def _writers(
    request: Request, loaded: "Loaded", judged: "Judged"
) -> "dict[str, Callable[[ControlPoints], str | bytes | Iterator[str]]]":
    from functools import partial

    from brasscap.io.formats import (
        control_csv_pieces,
        geojson_pieces,
        write_dxf,
        write_geopackage,
        write_sinex,
    )
    from brasscap.steps import time_utc

    dated = time_utc(request) if "dated" in request.values else ""

    def sinex(points: "ControlPoints") -> str:
        created = _decimal_year(dated) if dated else float("nan")
        return write_sinex(solution_points(loaded, judged, points), created)

    return {
        "csv": control_csv_pieces,
        "geojson": geojson_pieces,
        "gpkg": partial(write_geopackage, dated=dated),
        "sinex": sinex,
        "dxf": write_dxf,
    }


def _decimal_year(time: str) -> float:
    from calendar import isleap
    from datetime import UTC, datetime

    when = datetime.fromisoformat(time)
    start = datetime(when.year, 1, 1, tzinfo=UTC)
    days = 366 if isleap(when.year) else 365
    return when.year + (when - start).total_seconds() / (days * 86400)


def solution_points(
    loaded: "Loaded", judged: "Judged", points: "ControlPoints"
) -> "SolutionPoints":
    """Return the marks with an estimated place, and their whole covariance.

    Raises
    ------
    CommandError
        The job is local: its marks have no geocentric place.
    """
    import numpy as np

    from brasscap.io.formats import SolutionPoints
    from brasscap.networks import GeodeticFrame

    adjustment, frame = judged.adjustment, loaded.network.frame
    if not isinstance(frame, GeodeticFrame):
        raise wrong("export: a local job has no geocentric places, and SINEX no others")
    free = (adjustment.columns[: len(loaded.network.marks)] >= 0).all(axis=1)
    at = np.flatnonzero(free)
    names = loaded.network.marks.name
    first, second = (k.ravel() for k in np.meshgrid(at, at, indexing="ij"))
    axes = adjustment.nodes.axes
    blocks = adjustment.covariance(first, second)
    turned = np.swapaxes(axes[first], 1, 2) @ blocks @ axes[second]
    n = len(at)
    whole = turned.reshape(n, n, 3, 3).transpose(0, 2, 1, 3).reshape(3 * n, 3 * n)
    held = [names[i] for i in np.flatnonzero(judged.held.all(axis=1))]
    factor = judged.variance_factor
    return SolutionPoints(
        name=tuple(names[i] for i in at),
        xyz=judged.marks.xyz[at],
        covariance=(whole + whole.T) / 2,
        geodetic=frame.geodetic(judged.marks.xyz[at]),
        epoch=float("nan") if points.epoch is None else points.epoch,
        comments=(
            points.frame,
            points.source,
            f"held, and not among the estimates: {', '.join(held) or 'none'}",
            "covariance as stated, not multiplied by the variance factor",
        ),
        observations_count=adjustment.observations_count,
        degrees_of_freedom=adjustment.degrees_of_freedom,
        variance_factor=factor.value,
    )
