"""Check shots on control, by class of sky: one class says nothing about another."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats
from .differences import Differences, differences
from .hung import Hung, between_marks

NOT_SAID = "sky not booked"


@dataclass(frozen=True, slots=True)
class SkyClass:
    """What the check shots say of the shots of one class of sky."""

    name: str
    shots: int
    """Shots of detail in the class."""
    checks: int
    mean: Floats
    """(3,) shot minus mark: east, north, up, m; NaN without check shots."""
    rms: Floats
    """(3,)"""
    worst: float
    """Largest test; NaN without one."""
    verdict: str


@dataclass(frozen=True, slots=True)
class CheckShots:
    """Shot minus mark, and what that says by class of sky."""

    differences: Differences
    classes: tuple[SkyClass, ...]


def check_shots(hung: Hung) -> CheckShots:
    """Return the check shots against their marks.

    What the base and the mark share takes no part: the covariance is that of the mark
    as seen from the base, and of the shot's own vector and pole.

    Parameters
    ----------
    hung : Hung

    Returns
    -------
    CheckShots
    """
    shots = hung.shots
    first = np.flatnonzero(shots.is_check)
    second = shots.station[first]
    value = shots.coordinates[first] - hung.control[second]
    covariance = hung.budget.own[first] + between_marks(hung, first, second)
    made = differences(first, second, value, covariance, hung.options)
    return CheckShots(made, _classes(hung, made))


def _classes(hung: Hung, found: Differences) -> tuple[SkyClass, ...]:
    sky = hung.shots.sky
    detail = ~hung.shots.is_check
    classes = []
    for k in (*range(len(sky.names)), -1):
        rows = np.flatnonzero(sky.number[found.first] == k)
        count = int((detail & (sky.number == k)).sum())
        if not count and not len(rows):
            continue
        value = found.value[rows]
        judged = rows[np.isfinite(found.test[rows])]
        mean = value.mean(axis=0) if len(rows) else np.full(3, np.nan)
        rms = np.sqrt((value**2).mean(axis=0)) if len(rows) else np.full(3, np.nan)
        states = {found.verdict[i] for i in judged}
        classes.append(
            SkyClass(
                sky.names[k] if k >= 0 else NOT_SAID,
                count,
                len(rows),
                mean,
                rms,
                float(found.test[judged].max()) if len(judged) else float("nan"),
                _worst(states),
            )
        )
    return tuple(classes)


def _worst(states: set[str]) -> str:
    if not states:
        return "unchecked"
    return next((v for v in ("fails", "query") if v in states), "meets")
