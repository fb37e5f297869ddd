"""Shots and made points for others, and the points kept in results/topo/."""

from typing import TYPE_CHECKING

from brasscap.arguments import Request

if TYPE_CHECKING:
    from collections.abc import Callable

    from brasscap.adjust import Adjustment
    from brasscap.adjust.follow.topo import Topo
    from brasscap.io.formats.detail import DetailPoints
    from brasscap.io.tables.load import Loaded
    from brasscap.networks.topo_day import Day
    from brasscap.progress import Progress


def judged_day(loaded: "Loaded", control: "Adjustment") -> "Topo":
    """Return the shots of a job, judged on its adjusted control."""
    from brasscap.adjust.follow.topo import judge_topo
    from brasscap.io.tables.topo_load import load_topo

    return judge_topo(load_topo(loaded).day, control, loaded.job.topo)


def reported_day(
    loaded: "Loaded", control: "Adjustment", progress: "Progress"
) -> "Topo | str | None":
    """Return the shots for a report, or why they cannot be judged; None without any.

    A fault among them stops no report of the control.
    """
    from brasscap.io.tables.topo import has_topo
    from brasscap.networks import InputError

    if not has_topo(loaded.folder):
        return None
    progress("judging the shots")
    try:
        return judged_day(loaded, control)
    except InputError as error:
        faults = sum(f.verdict == "fault" for f in error.findings)
        named = f"{faults} fault{'s' * (faults != 1)} in topo/"
        return f"The shots cannot be judged: {named}; brasscap topo check says which."


def detail_points(request: Request, loaded: "Loaded", topo: "Topo") -> "DetailPoints":
    """Return every point of the day as it goes to others."""
    import numpy as np

    from brasscap.io.formats.detail import DetailPoints
    from brasscap.networks import GeodeticFrame

    points, day = topo.constructed.points, topo.day
    coordinates = points.coordinates
    covariance = points.covariance(np.arange(len(points.name)))
    sd = np.sqrt(np.diagonal(covariance, axis1=1, axis2=2))
    frame = loaded.network.frame
    grid = coordinates[:, [1, 0, 2]]
    geodetic = np.full_like(grid, np.nan)
    if isinstance(frame, GeodeticFrame):
        north, east, height = grid.T
        xyz = frame.place(north, east, np.nan_to_num(height))
        geodetic = np.column_stack([frame.geodetic(xyz)[:, :2], height])
    heights = "ellipsoidal heights"
    if frame.kind == "local":
        heights = f"heights {loaded.job.frame.height_datum or 'of the site datum'}"
    elif day.shots.above_geoid.any():
        datum = loaded.job.frame.height_datum
        heights = f"heights above the geoid{f', {datum}' if datum else ''}"
    title = loaded.job.title or loaded.folder.resolve().name
    return DetailPoints(
        points.name,
        codes(topo),
        tuple(topo.line.word(i) for i in range(len(points.name))),
        ways(topo),
        grid,
        geodetic,
        sd[:, [1, 0, 2]],
        request.values.get("units") or loaded.job.length_unit,
        f"{frame.describe().removesuffix(', metres')}; {heights}",
        f"{title}; {len(day.shots)} shots as booked; input {loaded.input_hash[:16]}",
        None if frame.kind == "local" else loaded.job.frame.geographic_epsg,
    )


def codes(topo: "Topo") -> tuple[str, ...]:
    """Return the code of every point."""
    own = [topo.detail.code.word(i) for i in range(topo.day.roots)]
    made = topo.day.constructions
    return tuple(own + [made.code.word(i) for i in range(len(made))])


def ways(topo: "Topo") -> tuple[str, ...]:
    """Return how every point came to be."""
    day = topo.day
    polar = day.roots - len(day.shots)
    return (
        *["shot"] * len(day.shots),
        *["polar shot"] * polar,
        *day.constructions.kind,
    )


def coded(day: "Day") -> dict[str, tuple[str, str]]:
    """Return code and line of every point by its name."""
    made = day.constructions
    groups = [
        (day.shots.name, day.shots.code, day.shots.line),
        (made.name, made.code, made.line),
    ]
    if day.polar is not None:
        groups.append((day.polar.name, day.polar.code, day.polar.line))
    return {
        name: (code.word(i), line.word(i))
        for names, code, line in groups
        for i, name in enumerate(names)
    }


def keep_points(request: Request, topo: "Topo") -> tuple[str, ...]:
    """Write results/topo/points.csv; return notes where that cannot be done."""
    import numpy as np

    from brasscap.io.topo_results import keep_topo, points_csv
    from brasscap.networks import CannotWrite

    points = topo.constructed.points
    lines = [topo.line.word(i) for i in range(len(points.name))]
    words = list(zip(codes(topo), lines, ways(topo), strict=True))
    covariance = points.covariance(np.arange(len(points.name)))
    text = points_csv(points.name, words, points.coordinates, covariance)
    try:
        keep_topo(request.folder, "points.csv", text)
    except CannotWrite as error:
        return (f"the points are not kept: {error}",)
    return ()


def detail_writers(
    request: Request,
) -> "dict[str, Callable[[DetailPoints], str | bytes]]":
    """Return the writers of points by the name of their format."""
    from functools import partial

    from brasscap.io.formats.detail import write_detail_csv, write_detail_geojson
    from brasscap.io.formats.detail_dxf import write_detail_dxf
    from brasscap.io.formats.detail_geopackage import write_detail_geopackage
    from brasscap.steps import time_utc

    dated = time_utc(request) if "dated" in request.values else ""
    return {
        "csv": write_detail_csv,
        "geojson": write_detail_geojson,
        "gpkg": partial(write_detail_geopackage, dated=dated),
        "dxf": write_detail_dxf,
    }
