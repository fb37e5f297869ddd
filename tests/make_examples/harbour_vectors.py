"""The vectors of the harbour: sessions, occupations, and the noise they share."""

from typing import NamedTuple

import numpy as np
from harbour_marks import FRAME, MARKS, NAME, PLANTED
from sheets import span, table

FOOT = 0.3048


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
SHARED = "S4-DOCK"
PEOPLE = ("J. Tallow", "M. Penhale", "R. Okonedo")


class SetUp(NamedTuple):
    """One occupation as it will be booked."""

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
    radius = ANTENNAS[antenna][2]
    if support == "pole_bipod":
        height, reading = POLES[mark], "fixed pole"
    elif support == "pillar":
        height = PILLAR[mark]
    elif radius is not None and name != PLANTED.about:
        reading, measured_to = "slant", "slant mark"
    if name == PLANTED.about:
        height = 1.671
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


def antennas():
    rows = [
        [name, model, serial, "" if r is None else r, "" if o is None else o]
        for name, (model, serial, r, o) in ANTENNAS.items()
    ]
    return table("antenna model serial slant_radius_m offset_m", rows)


def set_up_rows(set_ups):
    """Return rows of set_ups.csv by column."""
    return [
        {
            "set_up": s.name,
            "station": NAME[s.mark],
            "support": s.support,
            "session": s.session.name,
            "observer": PEOPLE[k % 3],
            "receiver": f"R{s.antenna[1]}",
            "antenna": s.antenna,
            "tripod": f"T{s.antenna[1]}" if s.support == "tripod" else "",
            "height_m": f"{s.height:.{4 if s.support == 'pillar' else 3}f}",
            "reading": s.reading,
            "measured_to": s.measured_to,
            "height_second_reading_ift": s.second_reading,
            "height_after_m": s.after,
            "stamping_read": NAME[s.mark],
            "bubble_after": "in the circle",
            # The total station took the antenna's place on this tripod.
            "forced_centring": s.name if s.name == SHARED else "",
        }
        | dict(zip(("start_utc", "stop_utc"), times(s.session), strict=True))
        for k, s in enumerate(set_ups)
    ]


def times(session):
    return span(session.start, session.minutes)


class Vector(NamedTuple):
    """A vector, and its place in the covariance of its session."""

    name: str
    session: Session
    end: str
    """Short name of the mark at its end; it starts at the session's hub."""
    place: int
    matrix: np.ndarray
    """Of the whole session, m²."""


def vectors():
    """Return the vectors: in a session all start at its hub, whose noise they share."""
    true = FRAME.place(*np.array([mark[2:5] for mark in MARKS]).T)
    short = [mark[0] for mark in MARKS]
    made = []
    for session in SESSIONS:
        ends = [short.index(other) for other in session.others]
        matrix = session_covariance(true, short.index(session.hub), ends, session)
        for k, other in enumerate(session.others):
            made.append(Vector(f"B{len(made) + 1}", session, other, k, matrix))
    return made


def block(matrix, i, j):
    """Return the block between the vectors i and j of a session, mm²."""
    return matrix[3 * i : 3 * i + 3, 3 * j : 3 * j + 3] * 1e6


def baselines(read):
    rows = []
    for vector in vectors():
        session, own = vector.session, block(vector.matrix, vector.place, vector.place)
        rows.append(
            [
                vector.name,
                session.name,
                f"{session.name}-{session.hub}",
                f"{session.name}-{vector.end}",
                *(f"{value:.4f}" for value in read("baseline", vector.name)),
                *(f"{own[i, j]:.4f}" for i in range(3) for j in range(i, 3)),
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


def covariances():
    """Return the cross blocks between the vectors of each session."""
    made = vectors()
    rows = [
        ["baselines", one.name, "xyz"[a], other.name, "xyz"[b], f"{cross[a, b]:.4f}"]
        for one in made
        for other in made
        if one.session is other.session and one.place < other.place
        for cross in [block(one.matrix, one.place, other.place)]
        for a in range(3)
        for b in range(3)
    ]
    return table("table row row_axis column column_axis cov_mm2", rows)
