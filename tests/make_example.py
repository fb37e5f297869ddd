"""Write the example job: an invented harbour, its noise drawn from a fixed seed.

    python tests/make_example.py FOLDER

The shipped files in networks/examples/harbour came from here; they are plain text
and are never made at run time. Everything is invented: the place, its marks, its
people, its coordinates. One height was booked wrongly on purpose: see PLANTED.
"""

import csv
import io
import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import numpy as np

from brasscap.networks import (
    GeodeticFrame,
    KnownMarks,
    Marks,
    Network,
    Positions,
    SetUps,
    Vectors,
)
from brasscap.networks.covariances import Batch, single
from brasscap.networks.simulate import Blunder, simulate

SEED = 20260311
FRAME = GeodeticFrame(7843, 2020.0, 7853)
# 1.617 m on the tape, 1.671 m in the book: two digits changed places. The second
# reading, 5.305 international feet, has it right.
PLANTED = Blunder("set-up height", "S3-ICE", (0.0, 0.0, 0.054))
FOOT = 0.3048

TESTS = Path(__file__).parent


def read_marks():
    """Return short name, name, north, east, height (m) and words of every mark."""
    with (TESTS / "example_marks.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))[1:]
    return [(*row[:2], *map(float, row[2:5]), *row[5:]) for row in rows]


MARKS = read_marks()
NAME = {mark[0]: mark[1] for mark in MARKS}
HELD = {"SIG": (3, 3, 6), "SHED": (4, 4, 8), "PIL": (4, 4, 8)}  # sds, mm


class Session(NamedTuple):
    """One session: start in UTC, minutes, first receiver of every vector, others."""

    name: str
    start: str
    minutes: int
    hub: str
    others: tuple[str, ...]


SESSIONS = [
    Session("S1", "2026-03-10T22:40", 60, "SIG", ("SHED", "ICE", "LOFT")),
    Session("S2", "2026-03-11T00:25", 55, "PIL", ("BW1", "BW2", "SLIP")),
    Session("S3", "2026-03-11T02:10", 50, "ICE", ("DOCK", "SLIP", "LEAD")),
    Session("S4", "2026-03-11T22:35", 60, "SHED", ("RAMP", "DOCK", "LOFT")),
    Session("S5", "2026-03-12T00:30", 60, "SIG", ("LEAD", "BW2", "PIL")),
    Session("S6", "2026-03-12T02:20", 55, "SHED", ("RAMP", "BW1", "ICE")),
    Session("L1", "2026-03-12T04:05", 40, "LOFT", ("LEAD",)),
    Session("L2", "2026-03-12T05:15", 40, "DOCK", ("BW1",)),
    Session("L3", "2026-03-12T22:50", 45, "SHED", ("DUNE",)),
]
# Correlation of east and north, as the satellites of a session stood.
LEAN = dict(
    zip(
        (session.name for session in SESSIONS),
        (0.15, -0.30, 0.35, -0.10, 0.25, -0.40, 0.05, 0.30, -0.20),
        strict=True,
    )
)
# What a mark's sky does to the noise of a receiver there.
SKY = {"SHED": 1.15, "SLIP": 1.2, "DOCK": 1.25, "LEAD": 1.1, "ICE": 1.1}
POLES = {"RAMP": 2.0, "DUNE": 2.0}
PILLAR = {"SIG": 0.0965}
# name, model, serial, radius to the slant mark, slant mark above reference point.
ANTENNAS = {
    "A1": ("disc with notch (invented)", "1047", 0.0892, 0.0350),
    "A2": ("disc with notch (invented)", "1052", 0.0892, 0.0350),
    "A3": ("round dome (invented)", "3316", None, None),
    "A4": ("round dome (invented)", "3321", None, None),
}
SDS = {"tripod": (1.0, 1.5), "pole_bipod": (2.5, 1.0), "pillar": (0.2, 0.5)}
PEOPLE = ("J. Tallow", "M. Penhale", "R. Okonedo")


class SetUp(NamedTuple):
    """One occupation as it will be booked, and the height it reduces to, m."""

    name: str
    mark: str
    session: Session
    support: str
    antenna: str
    height: float
    reading: str
    measured_to: str
    second_reading: str
    after: str
    reduced: float


def occupations(random):
    """Return every set-up, readings included."""
    made = []
    for session in SESSIONS:
        for k, mark in enumerate((session.hub, *session.others)):
            support = "pole_bipod" if mark in POLES else "tripod"
            support = "pillar" if mark in PILLAR else support
            made.append(occupation(random, session, mark, support, f"A{k + 1}"))
    return made


def occupation(random, session, mark, support, antenna):
    name = f"{session.name}-{mark}"
    height = round(1.40 + 0.35 * random.random(), 3)
    reading, measured_to = "vertical", "reference point"
    # The slant is read to a notch, on tripods with the antennas that have one.
    radius, offset = ANTENNAS[antenna][2:]
    if support == "pole_bipod":
        height, reading = POLES[mark], "fixed pole"
    elif support == "pillar":
        height = PILLAR[mark]
    elif radius is not None and name != PLANTED.about:
        reading, measured_to = "slant", "slant mark"
    if name == PLANTED.about:
        height = 1.671
    reduced = height
    if reading == "slant":
        reduced = float(np.sqrt(height**2 - radius**2)) - offset
    jitter = random.normal(0.0, 0.0004, 2)
    second, after = "", ""
    if name == PLANTED.about:
        second = "5.305"
    elif support == "tripod":
        second = f"{(height + jitter[0]) / FOOT:.3f}"
        after = f"{height + jitter[1]:.3f}"
    return SetUp(
        name,
        mark,
        session,
        support,
        antenna,
        height,
        reading,
        measured_to,
        second,
        after,
        reduced,
    )


def plan(set_ups):
    """Return the network as planned: true marks, booked heights, covariances."""
    grid = np.array([mark[2:5] for mark in MARKS])
    true = FRAME.place(*grid.T)
    short = [mark[0] for mark in MARKS]
    at = np.array([short.index(s.mark) for s in set_ups])
    vectors = planned_vectors(true, set_ups, at)
    names = [session.name for session in SESSIONS]
    sds = np.array([SDS[s.support] for s in set_ups]) / 1000
    count = len(set_ups)
    held = [short.index(mark) for mark in HELD]
    covariance = np.stack([np.diag(np.square(HELD[m])) * 1e-6 for m in HELD])
    return Network(
        FRAME,
        Marks(
            tuple(mark[1] for mark in MARKS),
            true,
            ("",) * len(MARKS),
            ("",) * len(MARKS),
            np.arange(len(MARKS)),
        ),
        SetUps(
            tuple(s.name for s in set_ups),
            at,
            tuple(s.support for s in set_ups),
            np.array([names.index(s.session.name) for s in set_ups]),
            np.array([s.reduced for s in set_ups]),
            np.zeros((count, 2)),
            sds[:, 0],
            sds[:, 1],
            ("",) * count,
            ("",) * count,
            ("",) * count,
            np.arange(count),
        ),
        vectors,
        Positions(
            (),
            np.zeros(0, int),
            np.zeros((0, 3)),
            np.zeros(0),
            np.zeros((0, 3), bool),
            (),
            np.zeros(0, int),
            np.zeros(0, bool),
            np.zeros(0, int),
        ),
        KnownMarks(
            np.array(held),
            true[held],
            np.ones((3, 3), bool),
            ("held",) * 3,
            ("held",) * 3,
            single(covariance),
            ("",) * 3,
            np.ones(3, bool),
            np.arange(3),
        ),
        tuple(names),
    )


def planned_vectors(true, set_ups, at):
    """Return the vectors: in a session all start at its hub, whose noise they share."""
    number = {s.name: k for k, s in enumerate(set_ups)}
    name, start, end, session_of, batches = [], [], [], [], []
    for k, session in enumerate(SESSIONS):
        first = len(name)
        hub = number[f"{session.name}-{session.hub}"]
        ends = [number[f"{session.name}-{other}"] for other in session.others]
        for end_at in ends:
            name.append(f"B{len(name) + 1}")
            start.append(hub)
            end.append(end_at)
            session_of.append(k)
        members = np.arange(first, len(name))[None]
        matrix = session_covariance(true, at[hub], at[ends], session)
        batches.append(Batch(members, matrix[None]))
    n, m = len(name), len(true)
    reduced = np.array([s.reduced for s in set_ups])
    return Vectors(
        tuple(name),
        m + np.array(start),
        m + np.array(end),
        np.full((n, 3), np.nan),
        reduced[start],
        reduced[end],
        tuple(batches),
        np.array(session_of),
        np.zeros(n, int),
        np.ones(n, bool),
        np.arange(n),
    )


def session_covariance(true, hub, ends, session):
    """Return the covariance of a session: noise of the hub in every vector.

    Each receiver 1.3 mm east, 1.8 mm north, 3.6 mm up at one hour, and 0.5 ppm
    (twice in height) of the length; correlated as the session's satellites stood.
    """
    lean = LEAN[session.name]
    correlation = np.array([[1.0, lean, -0.15], [lean, 1.0, 0.20], [-0.15, 0.20, 1.0]])
    hour = np.array([1.3, 1.8, 3.6]) * np.sqrt(60 / session.minutes) / 1000
    axes = FRAME.axes(true)

    def turned(mark, sds):
        return axes[mark].T @ (correlation * np.outer(sds, sds)) @ axes[mark]

    common = turned(hub, hour * SKY.get(MARKS[hub][0], 1.0))
    matrix = np.tile(common, (len(ends), len(ends)))
    for i, end in enumerate(ends):
        length = np.linalg.norm(true[end] - true[hub])
        own = hour * SKY.get(MARKS[end][0], 1.0)
        own = np.hypot(own, np.array([0.5, 0.5, 1.0]) * 1e-6 * length)
        matrix[3 * i : 3 * i + 3, 3 * i : 3 * i + 3] += turned(end, own)
    return matrix


def files():
    """Return the files of the example: name to text."""
    random = np.random.default_rng(SEED)
    set_ups = occupations(random)
    network = simulate(plan(set_ups), seed=SEED, blunders=[PLANTED])
    return {
        "job.toml": (TESTS / "example_job.toml").read_text("utf-8"),
        "stations.csv": stations(),
        "control.csv": control(),
        "antennas.csv": antennas(),
        "set_ups.csv": set_up_table(set_ups),
        "baselines.csv": baselines(network, set_ups),
        "covariances.csv": covariances(network),
        "proposed.csv": proposed(),
    }


def table(header, rows, comment=""):
    out = io.StringIO()
    if comment:
        out.write(f"# {comment}\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header.split())
    writer.writerows(rows)
    return out.getvalue()


def stations():
    rows = [[m[1], m[5], m[6], m[7], m[8], m[9]] for m in MARKS]
    header = "station mark_kind status description access_note sky"
    return table(header, rows, "Invented marks of an invented harbour.")


def control():
    rows = []
    for mark in MARKS:
        if mark[0] in HELD:
            place = [f"{value:.4f}" for value in mark[2:5]]
            rows.append(
                [
                    mark[1],
                    "held",
                    "held",
                    *place,
                    *HELD[mark[0]],
                    "sd",
                    7843,
                    2020,
                    "harbour control register, sheet 4 (invented)",
                    "2023-08-14",
                ]
            )
    header = (
        "station use_plan use_height north_m east_m ellipsoidal_height_m sd_north_mm "
        "sd_east_mm sd_height_mm stated_at frame_epsg epoch_year source source_date"
    )
    return table(header, rows)


def antennas():
    rows = [
        [name, model, serial, "" if r is None else r, "" if o is None else o]
        for name, (model, serial, r, o) in ANTENNAS.items()
    ]
    return table("antenna model serial slant_radius_m offset_m", rows)


def times(session):
    start = datetime.fromisoformat(session.start)
    stop = start + timedelta(minutes=session.minutes)
    return [f"{moment:%Y-%m-%dT%H:%M}:00Z" for moment in (start, stop)]


def set_up_table(set_ups):
    rows = []
    for k, s in enumerate(set_ups):
        tripod = f"T{s.antenna[1]}" if s.support == "tripod" else ""
        rows.append(
            [
                s.name,
                NAME[s.mark],
                s.support,
                s.session.name,
                *times(s.session),
                PEOPLE[k % 3],
                f"R{s.antenna[1]}",
                s.antenna,
                tripod,
                f"{s.height:.4f}" if s.support == "pillar" else f"{s.height:.3f}",
                s.reading,
                s.measured_to,
                s.second_reading,
                s.after,
                NAME[s.mark],
                "in the circle",
            ]
        )
    header = (
        "set_up station support session start_utc stop_utc observer receiver antenna "
        "tripod height_m reading measured_to height_second_reading_ift height_after_m "
        "stamping_read bubble_after"
    )
    return table(header, rows)


def baselines(network, set_ups):
    vectors, m = network.vectors, len(network.marks)
    rows = []
    for batch in vectors.covariances:
        for k, row in enumerate(batch.members[0]):
            session = SESSIONS[vectors.session[row]]
            block = batch.matrix[0, 3 * k : 3 * k + 3, 3 * k : 3 * k + 3] * 1e6
            rows.append(
                [
                    vectors.name[row],
                    session.name,
                    set_ups[vectors.start[row] - m].name,
                    set_ups[vectors.end[row] - m].name,
                    *(f"{value:.4f}" for value in vectors.delta[row]),
                    *(f"{block[i, j]:.4f}" for i in range(3) for j in range(i, 3)),
                    "reference points",
                    7843,
                    2020,
                    "fixed",
                    "static",
                    *times(session),
                    session.minutes * 4,
                ]
            )
    header = (
        "baseline session from_set_up to_set_up dx_m dy_m dz_m cov_xx_mm2 cov_xy_mm2 "
        "cov_xz_mm2 cov_yy_mm2 cov_yz_mm2 cov_zz_mm2 vector_between frame_epsg "
        "epoch_year solution group start_utc stop_utc epochs_count"
    )
    return table(header, rows)


def covariances(network):
    """Return the cross blocks between the vectors of each session."""
    name = network.vectors.name
    rows = []
    for batch in network.vectors.covariances:
        members, matrix = batch.members[0], batch.matrix[0] * 1e6
        for i in range(len(members)):
            for j in range(i + 1, len(members)):
                for a in range(3):
                    for b in range(3):
                        value = f"{matrix[3 * i + a, 3 * j + b]:.4f}"
                        rows.append(
                            [
                                "baselines",
                                name[members[i]],
                                "xyz"[a],
                                name[members[j]],
                                "xyz"[b],
                                value,
                            ]
                        )
    return table("table row row_axis column column_axis cov_mm2", rows)


def proposed():
    rows = [
        [
            "P1",
            "baseline",
            "DUNE TRACK",
            "BOAT RAMP",
            45,
            "",
            "",
            "a second vector to a mark that hangs on one",
        ],
        ["P2", "baseline", "DUNE TRACK", "FISH DOCK", 45, "", "", ""],
        [
            "P3",
            "baseline",
            "ICE HOUSE",
            "NET LOFT",
            45,
            "12:30",
            "",
            "after the fork-lifts",
        ],
        ["P4", "baseline", "SLIPWAY", "BREAKWATER 1", 45, "", "", ""],
    ]
    header = "proposal kind from_station to_station minutes earliest latest note"
    return table(header, rows)


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files().items():
        (folder / name).write_text(text, "utf-8")
