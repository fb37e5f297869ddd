"""Shots moved after their control was revised: by the vector of what they hang on."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from ...networks import Frame
from ...networks.covariances import Bools, Floats, Ints
from ...networks.map_scale import turn_and_scale, turned
from ...networks.observations import Names
from ...networks.shots import Shots
from .control_issue import ControlIssue
from .descent import Descent
from .prediction import predicted, similar

NOT_IN_BOTH = "its mark is not in both issues"
NO_HEIGHT = "the height above the geoid of its mark is not known: geoid.csv"
STILL = 5e-7
"""m; less than the last recorded digit: the control did not move."""


@dataclass(frozen=True, slots=True)
class MarkShift:
    """What the revision did to one mark that shots hang on."""

    station: str
    shift: Floats
    """(3,) new minus old, east, north, height at the mark, m."""
    sd: Floats
    """(3,) of the new place, stated, m."""


@dataclass(frozen=True, slots=True)
class Moved:
    """Shots after the revision; those untouched have their old values."""

    old: ControlIssue
    new: ControlIssue
    before: Floats
    """(n, 3) grid east, grid north, height, m."""
    after: Floats
    covariance: Floats
    """(n, 3, 3) of what carried them over, grid axes, m²; NaN untouched."""
    moved: Bools
    why: tuple[str, ...]
    """(n,) why a shot was left where it is; empty for a moved one."""
    by: tuple[str, ...]
    """(n,) how it was moved: mark or real-time network, and the method."""
    shifts: tuple[MarkShift, ...]
    """Of the marks that carried something, in the order of the new issue."""


def move_shots(
    shots: Shots,
    found: Descent,
    names: Names,
    frame: Frame,
    old: ControlIssue,
    new: ControlIssue,
    *,
    between: str = "prediction",
    reach: float = 0.0,
) -> Moved:
    """Return shots moved from one issue of the control to another.

    A shot of a base moves by the vector of its mark, in space. One of a real-time
    network moves by what the marks of its check shots say together. Only shots whose
    ``record`` is the old issue move; they always start from what was booked, so doing
    it again gives the same and never moves twice.

    Parameters
    ----------
    shots : Shots
    found : Descent
    names : tuple of str
        Marks by the numbers in ``found``.
    frame : Frame
    old, new : ControlIssue
    between : str
        Between several marks: ``prediction`` or ``similarity``.
    reach : float
        Of the prediction, m; 0 = the middle distance between the marks.
    """
    marks = _marks(names, frame, old, new)
    why = np.array(_reasons(found, old.number, new.number), dtype=object)
    by = np.full(len(why), "", dtype=object)
    vector = np.zeros((len(why), 3))
    covariance = np.full((len(why), 3, 3), np.nan)
    for rows, carried in _carried(shots, found, marks, frame, why, between, reach):
        vector[rows], covariance[rows] = carried.vector, carried.covariance
        by[rows] = carried.said
    still = (why == "") & (np.abs(vector) < STILL).all(axis=1)
    why[still] = "its control did not move"
    goes = np.asarray(why == "", dtype=bool)
    after = shots.coordinates.copy()
    after[goes] = _shifted(frame, shots.coordinates[goes], vector[goes])
    covariance[~goes] = np.nan
    by[~goes] = ""
    return Moved(
        old,
        new,
        shots.coordinates,
        after,
        covariance,
        goes,
        tuple(why.tolist()),
        tuple(by.tolist()),
        _carriers(shots, found, marks, goes),
    )


@dataclass(frozen=True, slots=True)
class _Marks:
    """What the revision did to every mark of the network; NaN where not in both."""

    name: Names
    shift: Floats
    """(m, 3) east, north, height, m."""
    vector: Floats
    """(m, 3) the same, cartesian."""
    covariance: Floats
    """(m, 3, 3) of the new place, grid axes, m²."""
    issue: ControlIssue
    """The new one."""
    place: Floats
    """(m, 2) grid east and north of the new place, m."""

    @property
    def usable(self) -> Bools:
        return np.asarray(np.isfinite(self.vector).all(axis=1))

    @property
    def flat(self) -> Bools:
        """Whether a mark has a plan in both issues, but no height like the shots'."""
        return np.asarray(np.isfinite(self.place).all(axis=1) & ~self.usable)


def _marks(names: Names, frame: Frame, old: ControlIssue, new: ControlIssue) -> _Marks:
    first = {name: k for k, name in enumerate(old.name)}
    second = {name: k for k, name in enumerate(new.name)}
    # A mark that an issue lacks is its last row: nothing known.
    one = np.array([first.get(name, -1) for name in names], dtype=np.int64)
    two = np.array([second.get(name, -1) for name in names], dtype=np.int64)
    nowhere = np.full((1, 3), np.nan)
    before = np.concatenate([old.xyz, nowhere])[one]
    after = np.concatenate([new.xyz, nowhere])[two]
    shift = np.full((len(names), 3), np.nan)
    vector = np.full((len(names), 3), np.nan)
    place = np.full((len(names), 2), np.nan)
    there = np.flatnonzero(np.isfinite(before + after).all(axis=1))
    if len(there):
        axes = frame.axes(before[there])
        shift[there] = np.einsum("nij,nj->ni", axes, (after - before)[there])
        # Heights of shots follow the heights that they are counted in.
        rise = np.append(new.height, np.nan)[two] - np.append(old.height, np.nan)[one]
        shift[there, 2] = rise[there]
        vector[there] = np.einsum("nij,ni->nj", axes, shift[there])
        place[there] = frame.grid(after[there])[:, [1, 0]]
    unknown = np.full((1, 3, 3), np.nan)
    covariance = np.concatenate([new.covariance, unknown])[two]
    return _Marks(names, shift, vector, covariance, new, place)


def _reasons(found: Descent, old: int, new: int) -> list[str]:
    """Return why shots stay where they are; empty for those that may move."""
    record = found.record
    made = np.full(len(record), "", dtype=object)
    for number in np.unique(record[record != old]).tolist():
        words = f"it hangs on issue {number}, not on {old}"
        if number == new:
            words = f"already on issue {new}"
        made[record == number] = words if number else "it is not yet in a record"
    made[~found.whole] = "it hangs on nothing"
    return made.tolist()


def _carried(
    shots: Shots,
    found: Descent,
    marks: _Marks,
    frame: Frame,
    why: Any,
    between: str,
    reach: float,
) -> Iterator[tuple[Ints, "_Carried"]]:
    """Yield shots, and the cartesian vectors that carry them; ``why`` is extended."""
    usable = np.append(marks.usable, False)
    ready = np.asarray(why == "", dtype=bool)
    lost = ready & (found.mark >= 0) & ~usable[found.mark]
    why[lost] = NOT_IN_BOTH
    why[lost & np.append(marks.flat, False)[found.mark]] = NO_HEIGHT
    for mark in np.unique(found.mark[ready & (found.mark >= 0)]).tolist():
        rows = np.flatnonzero(ready & ~lost & (found.mark == mark))
        if len(rows):
            yield rows, _translation(marks, mark, len(rows))
    for k, some in enumerate(found.service_marks):
        rows = np.flatnonzero(ready & (found.mark < 0) & (shots.service.number == k))
        some = some[usable[some]]
        if not len(some):
            why[rows] = "none of its marks has a place in both issues"
        elif len(rows):
            at = shots.coordinates[rows]
            yield rows, _between(marks, some, at, frame, between, reach)


class _Carried(NamedTuple):
    """What moves some shots."""

    vector: Floats
    """(n, 3) cartesian, m."""
    covariance: Floats
    """(n, 3, 3) of where it brings them, grid axes, m²."""
    said: str


def _translation(marks: _Marks, mark: int, count: int) -> _Carried:
    return _Carried(
        np.broadcast_to(marks.vector[mark], (count, 3)),
        np.broadcast_to(marks.covariance[mark], (count, 3, 3)),
        f"translation of {marks.name[mark]}",
    )


def _between(
    marks: _Marks, some: Ints, at: Floats, frame: Frame, between: str, reach: float
) -> _Carried:
    """Return what several marks say together, as cartesian vectors at the shots."""
    if len(some) == 1:
        return _translation(marks, int(some[0]), len(at))
    errors = marks.issue.together([marks.name[m] for m in some.tolist()])
    given = marks.place[some], marks.shift[some], errors, at[:, :2]
    made = similar(*given) if between == "similarity" else predicted(*given, reach)
    xyz = _placed(frame, at)
    vector = np.einsum("nij,ni->nj", frame.axes(xyz), made.shift)
    grid = turned(made.covariance, turn_and_scale(frame, xyz)[0])
    said = f"{made.said}; marks correlated as issue {marks.issue.number} says"
    return _Carried(vector, grid, said)


def _placed(frame: Frame, coordinates: Floats) -> Floats:
    """Return cartesian positions; a height that is not known, or above the geoid.

    What it is off turns the axes by less than 2e-5, which no shift can feel.
    """
    east, north, height = coordinates.T
    return frame.place(north, east, np.nan_to_num(height))


def _shifted(frame: Frame, coordinates: Floats, vector: Floats) -> Floats:
    """Return coordinates after a cartesian shift in space."""
    if not len(coordinates):
        return coordinates
    start = _placed(frame, coordinates)
    change = frame.grid(start + vector) - frame.grid(start)
    return coordinates + change[:, [1, 0, 2]]


def _carriers(
    shots: Shots, found: Descent, marks: _Marks, goes: Bools
) -> tuple[MarkShift, ...]:
    """Return the marks that carried something, in the order of the network."""
    carrying = set(found.mark[goes & (found.mark >= 0)].tolist())
    for k, some in enumerate(found.service_marks):
        if (goes & (found.mark < 0) & (shots.service.number == k)).any():
            carrying |= set(some[marks.usable[some]].tolist())
    return tuple(
        MarkShift(
            marks.name[m], marks.shift[m], np.sqrt(np.diagonal(marks.covariance[m]))
        )
        for m in sorted(carrying)
    )
