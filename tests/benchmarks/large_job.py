"""Write a large job folder: marks in a jittered grid, seen in sessions of four.

    python3 tests/benchmarks/large_job.py 50000 build/jobs/50000

Every inner mark but one in twelve, and every mark at the rim, is the first of a session
of four receivers, on it and on its neighbours to the east, to the south and across:
three vectors, 2.75 a mark, and 3.67 set-ups a mark. Nothing is planted; the noise is
drawn from a fixed seed, the covariances are those that it is drawn from. Invented, and
no part of the package.
"""

import argparse
from pathlib import Path

import numpy as np

from brasscap.networks import GeodeticFrame

SPACING = 1000.0
"""m between neighbours."""
KNOWN_EVERY = 5000
"""One mark in so many is known; at least three are."""
EARTH = 6371000.0
"""m; mean radius, enough to lay a grid."""
SD_PLAN, SD_UP = 0.004, 0.009
"""m; of a vector, east and north, and up."""
CENTRING, HEIGHT = 0.001, 0.0015
"""m; of a set-up on a tripod, as job.toml says below."""
JOB = """# Invented: a large job to measure the time that tables take.
schema = 1

[job]
title = "Invented network of {count} marks"

[frame]
kind = "geodetic"
geographic_epsg = 7843
epoch = 2020.0
geoid = "none"

[set_up.tripod]
sd_centring_mm = 1.0
sd_height_mm = 1.5
"""


def write_job(
    folder: Path, count: int, *, stations: bool = True, set_ups: bool = True
) -> None:
    """Write the folder; ``count`` marks, rounded down to a full grid.

    Parameters
    ----------
    folder : Path
        Made if need be; files in it are replaced.
    count : int
        Marks, at least 9.
    stations : bool, optional
        Whether stations.csv is written, with approximate coordinates.
    set_ups : bool, optional
        Whether set-ups are booked; without them the vectors join the marks.
    """
    rng = np.random.default_rng(count)
    side = int(np.sqrt(count))
    count = side * side
    frame = GeodeticFrame(7843, 2020.0)
    geodetic = grid(rng, side)
    xyz = frame.cartesian(geodetic)
    names = [f"M{k:07d}" for k in range(count)]
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.toml").write_text(JOB.format(count=count), encoding="utf-8")
    write_control(folder, names, geodetic)
    if stations:
        write_stations(folder, names, geodetic)
    mark = observed_marks(side)
    axes, stood, ends = frame.axes(xyz), xyz[mark], None
    if set_ups:
        height = np.round(rng.uniform(1.2, 1.9, len(mark)), 3)
        write_set_ups(folder, names, mark, height)
        error = rng.normal(0, 1, (len(mark), 3)) * [CENTRING, CENTRING, HEIGHT]
        stood = stood + np.einsum("nji,nj->ni", axes[mark], error)
        stood += axes[mark, 2] * height[:, None]
    else:
        ends = [names[m] for m in mark.tolist()]
    write_baselines(folder, rng, stood, axes[mark], ends)


def grid(rng: np.random.Generator, side: int) -> np.ndarray:
    """Return latitude, longitude, height of the marks, degrees and m."""
    i, j = np.divmod(np.arange(side * side), side)
    off = rng.uniform(-0.2, 0.2, (side * side, 2))
    north = (side / 2 - i + off[:, 0]) * SPACING
    east = (j - side / 2 + off[:, 1]) * SPACING
    latitude = -25.0 + np.degrees(north / EARTH)
    longitude = 133.0 + np.degrees(east / EARTH / np.cos(np.radians(latitude)))
    return np.column_stack([latitude, longitude, rng.uniform(100, 300, side * side)])


def write_control(folder: Path, names: list[str], geodetic: np.ndarray) -> None:
    """Write known marks, held, spread over the whole."""
    some = np.linspace(0, len(names) - 1, max(3, len(names) // KNOWN_EVERY), dtype=int)
    header = (
        "station,use_plan,use_height,latitude_deg,longitude_deg,ellipsoidal_height_m,"
        "sd_north_mm,sd_east_mm,sd_height_mm,stated_at,source"
    )
    rows = (
        f"{names[k]},held,held,{a:.10f},{b:.10f},{h:.4f},3,3,6,sd,invented"
        for k, (a, b, h) in zip(some.tolist(), geodetic[some].tolist(), strict=True)
    )
    write(folder / "control.csv", header, rows)


def write_stations(folder: Path, names: list[str], geodetic: np.ndarray) -> None:
    """Write the marks, with places to about a metre."""
    header = (
        "station,mark_kind,status,approx_latitude_deg,approx_longitude_deg,"
        "approx_ellipsoidal_height_m"
    )
    rows = (
        f"{name},brass cap,found,{a:.5f},{b:.5f},{h:.0f}"
        for name, (a, b, h) in zip(names, geodetic.tolist(), strict=True)
    )
    write(folder / "stations.csv", header, rows)


def observed_marks(side: int) -> np.ndarray:
    """Return the four marks of every session, one after the other."""
    first = np.arange(side * side)
    # Never at the rim, where marks have fewer neighbours.
    i, j = np.divmod(first, side)
    inside = (i > 0) & (j > 0) & (i < side - 1) & (j < side - 1)
    first = first[~inside | ((i * 5 + j) % 12 > 0)]
    i, j = np.divmod(first, side)
    # At the rim, the neighbours on the other side.
    below = np.where(i + 1 < side, first + side, first - side)
    beside = np.where(j + 1 < side, 1, -1)
    return np.column_stack([first, first + beside, below, below + beside]).ravel()


def write_set_ups(
    folder: Path, names: list[str], mark: np.ndarray, height: np.ndarray
) -> None:
    """Write four set-ups a session."""
    header = (
        "set_up,station,support,session,start_utc,stop_utc,observer,antenna,height_m,"
        "reading,measured_to,height_after_m"
    )
    rows = (
        f"S{n // 4}-{n % 4},{names[m]},tripod,S{n // 4},{time(n // 4, 0)},"
        f"{time(n // 4, 45)},J. Tallow,,{h:.3f},vertical,reference point,{h:.3f}"
        for n, (m, h) in enumerate(zip(mark.tolist(), height.tolist(), strict=True))
    )
    write(folder / "set_ups.csv", header, rows)


def time(session: int, minutes: int) -> str:
    """Return when a session begins or ends; eight a day, many at once."""
    day, part = divmod(session % 200, 8)
    return f"2026-03-{day + 1:02d}T{2 * part + 1:02d}:{minutes:02d}:00Z"


def write_baselines(
    folder: Path,
    rng: np.random.Generator,
    stood: np.ndarray,
    axes: np.ndarray,
    marks: list[str] | None,
) -> None:
    """Write three vectors a session, between reference points or, if named, marks."""
    sessions = np.arange(len(stood) // 4)
    start = np.repeat(4 * sessions, 3)
    end = start + np.tile([1, 2, 3], len(sessions))
    # Rows of the axes are east, north, up.
    local = np.diag([SD_PLAN**2, SD_PLAN**2, SD_UP**2])
    booked = 1e6 * np.einsum("nji,jk,nkl->nil", axes[start], local, axes[start])
    error = rng.normal(0, 1, (len(start), 3)) * [SD_PLAN, SD_PLAN, SD_UP]
    delta = stood[end] - stood[start]
    delta += np.einsum("nji,nj->ni", axes[start], error)
    six = booked[:, [0, 0, 0, 1, 1, 2], [0, 1, 2, 1, 2, 2]]
    thing = "set_up" if marks is None else "station"
    between = "reference points" if marks is None else "marks"
    header = (
        f"baseline,session,from_{thing},to_{thing},dx_m,dy_m,dz_m,cov_xx_mm2,"
        "cov_xy_mm2,cov_xz_mm2,cov_yy_mm2,cov_yz_mm2,cov_zz_mm2,vector_between,"
        "solution,group"
    )

    def name(k: int) -> str:
        return f"S{k // 4}-{k % 4}" if marks is None else marks[k]

    rows = (
        f"B{n},S{n // 3},{name(4 * (n // 3))},{name(4 * (n // 3) + n % 3 + 1)},"
        f"{x:.4f},{y:.4f},{z:.4f},{a:.4f},{b:.4f},{c:.4f},{d:.4f},{e:.4f},{f:.4f},"
        f"{between},fixed,static"
        for n, ((x, y, z), (a, b, c, d, e, f)) in enumerate(
            zip(delta.tolist(), six.tolist(), strict=True)
        )
    )
    write(folder / "baselines.csv", header, rows)


def write(path: Path, header: str, rows) -> None:
    """Write a table, a row at a time."""
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.write(header + "\n")
        file.writelines(row + "\n" for row in rows)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("marks", type=int)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--no-set-ups", action="store_true")
    words = parser.parse_args()
    write_job(words.folder, words.marks, set_ups=not words.no_set_ups)
