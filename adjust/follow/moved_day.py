"""The whole day after a revision: polar shots and made points beside the moved shots.

Polar shots are computed from either issue's control. What was made from shots is made
again: once from the old places, once from the new ones.
"""

from dataclasses import dataclass, replace

import numpy as np

from ...networks.covariances import Bools, Floats
from ...networks.observations import Names
from ...networks.topo_day import Day
from .budget import base_extra
from .constructions import Constructed, construct
from .hung import Hung
from .moving import STILL, Moved
from .points import CARRIED, Roots, root_points
from .polar import Polar
from .roots import detail

MADE_AGAIN = "made again from what moved"
NOTHING_MOVED = "nothing that it is made from moved"


@dataclass(frozen=True, slots=True)
class MovedDay:
    """All points of a day after a revision, in the order of ``Day.names``."""

    shots: Moved
    """The booked shots alone, with what was revised."""
    name: Names
    kind: Names
    before: Floats
    """(N, 3) grid east, grid north, height, m; NaN where a point had none."""
    after: Floats
    covariance: Floats
    """(N, 3, 3) of each point on the new control, grid axes, m²; NaN untouched."""
    moved: Bools
    why: Names
    """Why a point was left where it is; empty for a moved one."""
    by: Names


def move_day(
    moved: Moved, day: Day, hung: Hung, new: Polar | None, old: Polar | None
) -> MovedDay:
    """Return all points of a day, after its shots were moved.

    Parameters
    ----------
    moved : Moved
        The booked shots.
    day : Day
        On the control of the new issue, like ``hung`` and ``new``.
    hung : Hung
        With what the repeats say of the sky.
    new, old : Polar, optional
        Polar shots from the control of the new issue and of the old one.
    """
    roots = _roots(moved, hung, new)
    polar = _polar_before(new, old)
    after = construct(root_points(roots), day.constructions, hung.scale)
    start = replace(roots, coordinates=np.concatenate([moved.before, polar]))
    before = construct(root_points(start), day.constructions, hung.scale)
    was, now = before.points.coordinates, after.points.coordinates
    why, by = _words(moved, day, after, was)
    goes = np.array([words == "" for words in why], dtype=bool)
    covariance = after.points.covariance(np.arange(len(why)))
    count = len(moved.moved)
    covariance[:count] = _of_shots(moved, hung, covariance[:count])
    covariance[~goes] = np.nan
    return MovedDay(
        moved,
        day.names,
        _kinds(day),
        was,
        np.where(goes[:, None], now, was),
        covariance,
        goes,
        why,
        by,
    )


def _kinds(day: Day) -> Names:
    polar = day.roots - len(day.shots)
    kinds = ["shot"] * len(day.shots) + ["polar shot"] * polar
    return (*kinds, *day.constructions.kind)


def _roots(moved: Moved, hung: Hung, polar: Polar | None) -> Roots:
    """Return what was measured at its new places, on the new control.

    What carries a real-time network is worth the mean of what carried its shots: over
    a construction, which is small, it is the same for all of them.
    """
    roots = detail(hung, polar).roots
    own = np.zeros((0, 3)) if polar is None else polar.coordinates
    carriers = roots.carriers.copy()
    bases, service = len(hung.bases), hung.shots.service.number
    for k in range(len(hung.shots.service.names)):
        rows = moved.moved & (hung.shots.base < 0) & (service == k)
        if rows.any():
            at = slice(CARRIED * (bases + k), CARRIED * (bases + k) + 3)
            carriers[at, at] = moved.covariance[rows].mean(axis=0)
    coordinates = np.concatenate([moved.after, own])
    return replace(roots, coordinates=coordinates, carriers=carriers)


def _of_shots(moved: Moved, hung: Hung, on_new: Floats) -> Floats:
    """Return (n, 3, 3) of booked shots: base with its set-up, or what carried them.

    A base that the new issue does not know is worth its mark, with centring and height.
    """
    of_base = np.concatenate([base_extra(hung.bases), np.zeros((1, 3, 3))])
    carried = hung.budget.own + of_base[hung.shots.base] + moved.covariance
    known = (hung.shots.base >= 0) & np.isfinite(on_new[:, :2, :2]).all(axis=(1, 2))
    return np.asarray(np.where(known[:, None, None], on_new, carried))


def _polar_before(new: Polar | None, old: Polar | None) -> Floats:
    """Return polar shots of the new issue as the old one had them; NaN where not."""
    if new is None:
        return np.zeros((0, 3))
    made = np.full((len(new.shots), 3), np.nan)
    if old is None:
        return made
    at = {name: k for k, name in enumerate(old.shots.name)}
    rows = np.array([at.get(name, -1) for name in new.shots.name], dtype=np.int64)
    made[rows >= 0] = old.coordinates[rows[rows >= 0]]
    return made


def _words(
    moved: Moved, day: Day, made: Constructed, was: Floats
) -> tuple[Names, Names]:
    """Return why each point stays, and how each other one went."""
    now = made.points.coordinates
    plan = np.asarray(np.isfinite(now[:, :2]).all(axis=1))
    known = np.asarray(np.isfinite(was[:, :2]).all(axis=1))
    apart = np.abs(np.nan_to_num(now - was)).max(axis=1, initial=0.0)
    still: Bools = np.asarray(known & (apart < STILL))
    why, by = list(moved.why), list(moved.by)
    old, new = moved.old.number, moved.new.number
    for i in range(len(why), day.roots):
        words = "" if known[i] else f"it is no polar shot of issue {old}"
        why.append("its control did not move" if still[i] else words)
        by.append("" if why[-1] else f"sighted from the control of issue {new}")
    for k in range(len(day.constructions)):
        i = day.roots + k
        if not plan[i]:
            why.append(f"it cannot be made: {made.trouble[k]}")
        elif still[i]:
            why.append(NOTHING_MOVED)
        else:
            why.append("" if known[i] else f"it could not be made on issue {old}")
        by.append("" if why[-1] else MADE_AGAIN)
    return tuple(why), tuple(by)
