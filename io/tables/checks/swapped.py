"""North and east, or latitude and longitude, exchanged in the control."""

from dataclasses import replace

import numpy as np

from ....networks.covariances import Floats, Ints
from ....networks.distinct import distinct
from ....networks.findings import Finding
from ....networks.frames import Frame
from ....networks.spanning import piece_of
from ..assemble import Survey
from ..assemble.approximate import rough_positions
from ..assemble.places import to_natural

FAR_M = 1000.0
NEAR_M = 100.0


def check_swapped(survey: Survey) -> list[Finding]:
    """Return a fault for each known mark that fits only with its axes exchanged.

    The vectors carry every other known mark to it; where none leads, the approximate
    position of stations.csv is compared.
    """
    if survey.control is None:
        return []
    mark, places = survey.control
    table = survey.tables["control"]
    rows = np.flatnonzero((mark >= 0) & places.has_plan & ~table.has("x"))
    booked = places.placed(survey.frame, np.nan_to_num(places.orthometric))
    swapped = _exchanged(survey, booked)
    relative, piece = _relative(survey)
    wrong = set(rows[_all_exchanged(booked, swapped, relative, piece, mark, rows)])
    found = []
    for i in rows.tolist():
        expected = _from_others(booked, relative, piece, mark, rows, i)
        if expected is None:
            expected = survey.marks.approximate[mark[i]]
        fits = _apart(survey.frame, swapped[i], expected) < NEAR_M
        far = _apart(survey.frame, booked[i], expected) > FAR_M
        if (fits and far) or i in wrong:
            found.append(_exchange(survey, i))
    return found


def _exchanged(survey: Survey, booked: Floats) -> Floats:
    """Return the known marks with the two plan coordinates exchanged, m."""
    assert survey.control is not None
    table, places = survey.tables["control"], survey.control[1]
    natural = to_natural(survey.frame, booked)[:, [1, 0, 2]]
    natural[np.abs(natural[:, 0]) > 90, 0] = np.nan
    if survey.frame.kind == "local":
        natural = to_natural(survey.frame, booked)[:, [1, 0, 2]]
    turned = replace(places, natural=natural, xyz=np.full_like(booked, np.nan))
    xyz = turned.placed(survey.frame, np.zeros(len(booked)))
    on_grid = table.has("north") & np.isfinite(booked).all(axis=1)
    if on_grid.any() and survey.frame.has_grid:
        north, east, height = survey.frame.grid(booked[on_grid]).T
        xyz[on_grid] = survey.frame.place(east, north, height)
    return np.where(np.isfinite(xyz), xyz, np.nan)


def _relative(survey: Survey) -> tuple[Floats, Ints]:
    """Return positions by vectors alone from one mark of each piece, and the piece."""
    count = len(survey.names.names)
    relative = np.full((count, 3), np.nan)
    piece = np.full(count, -1, dtype=np.int64)
    if survey.vectors is None:
        return relative, piece
    ties = survey.vectors.ties
    tied = (ties.start >= 0) & (ties.end >= 0)
    joined = piece_of(count, ties.start[tied], ties.end[tied])
    starts = distinct(ties.start[ties.start >= 0])
    starts = starts[np.isfinite(survey.rough[starts]).all(axis=1)]
    _, first = np.unique(joined[starts], return_index=True)
    seed = np.full((count, 3), np.nan)
    seed[starts[first]] = survey.rough[starts[first]]
    relative = rough_positions(survey.frame, [seed], ties)
    reached = np.isfinite(relative[:, 0])
    piece[reached] = joined[reached]
    return relative, piece


def _from_others(
    booked: Floats, relative: Floats, piece: Ints, mark: Ints, rows: Ints, i: int
) -> Floats | None:
    """Return where the other known marks put one, by the vectors; None if none do."""
    same_piece = piece[mark[rows]] == piece[mark[i]]
    others = rows[same_piece & (mark[rows] != mark[i])]
    if piece[mark[i]] < 0 or not len(others):
        return None
    shifts = booked[others] - relative[mark[others]]
    return np.asarray(relative[mark[i]] + np.median(shifts, axis=0))


def _all_exchanged(
    booked: Floats,
    swapped: Floats,
    relative: Floats,
    piece: Ints,
    mark: Ints,
    rows: Ints,
) -> Ints:
    """Return the places in ``rows`` whose whole piece fits only when exchanged."""
    wrong: list[int] = []
    of_piece = piece[mark[rows]]
    for p in np.unique(of_piece[of_piece >= 0]).tolist():
        at = np.flatnonzero(of_piece == p)
        if len(at) < 2:
            continue
        some = rows[at]
        spread = [
            np.linalg.norm(np.ptp(xyz[some] - relative[mark[some]], axis=0))
            for xyz in (booked, swapped)
        ]
        if spread[0] > FAR_M and spread[1] < NEAR_M:
            wrong += at.tolist()
    return np.array(wrong, dtype=np.int64)


def _apart(frame: Frame, here: Floats, there: Floats) -> float:
    """Return the distance in plan of two positions, m; NaN where one is missing."""
    if not (np.isfinite(here).all() and np.isfinite(there).all()):
        return float("nan")
    axes = frame.axes(there[None])[0]
    return float(np.hypot(*(axes @ (here - there))[:2]))


def _exchange(survey: Survey, i: int) -> Finding:
    table = survey.tables["control"]
    pair = ("north", "east") if table.has("north")[i] else ("latitude", "longitude")
    first, second = (str(table.booked[c][i]) for c in pair)
    return table.finding(
        "axes-swapped",
        "fault",
        i,
        pair,
        against="the other known marks and the vectors, or the approximate position: "
        f"over {FAR_M / 1000:.0f} km off as booked, within {NEAR_M:.0f} m exchanged",
        likely=f"{pair[0]} {second}, {pair[1]} {first}",
        mend="import the corrected table, or leave the row out by a decision",
    )
