"""Named sizes of misfit: what an estimated blunder looks like, and by what chance.

A size that was found (booked minus what the rest says) is held against sizes that
have a name: feet booked as metres, a slant height taken as vertical, the constant of
another prism. A likeness is a hint where to look in the field book, never a proof:
each carries the chance of being as near by accident.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from .covariances import Floats

LIMITS = {1: 2.5758, 2: 3.0349, 3: 3.3682}
"""How many sds a size of 1, 2, 3 components may be from a name: 99 % of chi-square."""
RANGE = 2.0
"""Sizes considered: from nothing to so many times the size that was found."""


@dataclass(frozen=True, slots=True)
class Named:
    """A size that has a name."""

    words: str
    """What would have happened: "feet booked as metres"."""
    size: Floats
    """(k,) booked minus true, m: one value, or east, north, or east, north, up."""
    sd: float = 0.0
    """Of the size itself, m, per component: rounding of what was read."""


@dataclass(frozen=True, slots=True)
class Likeness:
    """A name that fits a size."""

    words: str
    size: Floats
    """(k,) of the name, m."""
    off: float
    """How far the size that was found is from it, m."""
    chance: float
    """That a size at random, anywhere in the range considered, is as near to this
    name; where it is nearer than its own sd, as near as that."""
    chance_of_any: float
    """That a size at random is as near to any of the names that were tried."""
    range: float
    """Largest size considered, m."""
    names_tried: int


def likenesses(
    found: Floats, covariance: Floats, names: Iterable[Named]
) -> tuple[Likeness, ...]:
    """Return the names that fit a size, the least likely accident first.

    A name fits if the size is within 99 % of what its covariance allows. The range
    considered is a ball of twice the size found, so the chance of being within w of
    one name is (w / range)ᵏ in k components.

    Parameters
    ----------
    found : ndarray, shape (k,)
        Booked minus what the rest says, m; k of 1, 2 or 3.
    covariance : ndarray, shape (k, k)
        m².
    names : iterable of Named
        Of as many components.

    Returns
    -------
    tuple of Likeness

    Examples
    --------
    A height of 1.500 m that comes out 1.043 ± 0.008 m too large was in feet: 0.6952
    of it.

    >>> feet = Named("feet booked as metres", np.array([1.5 * (1 - 0.3048)]))
    >>> (like,) = likenesses(np.array([1.041]), np.array([[64e-6]]), [feet])
    >>> round(like.off, 4), round(like.chance, 4)
    (0.0018, 0.0038)
    """
    tried = [one for one in names if np.isfinite(one.size).all()]
    reach = RANGE * float(np.linalg.norm(found))
    count = len(found)
    if not reach or not np.isfinite(covariance).all():
        return ()
    spread = sqrt(float(np.trace(covariance)) / count)
    near = []
    for one in tried:
        off = found - one.size
        both = covariance + one.sd**2 * np.eye(count)
        if off @ np.linalg.solve(both, off) > LIMITS[count] ** 2:
            continue
        apart = float(np.linalg.norm(off))
        window = max(apart, hypot(spread, one.sd))
        chance = min(1.0, window / reach) ** count
        any_of = 1 - (1 - chance) ** len(tried)
        near.append(
            Likeness(one.words, one.size, apart, chance, any_of, reach, len(tried))
        )
    return tuple(sorted(near, key=lambda like: (like.chance, like.words)))


def one_value(words: str, size: float) -> Named:
    """Return a name for a size of one component, m."""
    return Named(words, np.array([size]))


def either_sign(words: str, size: float) -> list[Named]:
    """Return names for a size that may be too much or too little, m."""
    return [
        one_value(f"{words} too much", size),
        one_value(f"{words} too little", -size),
    ]


def that_exist(names: Iterable[Named]) -> list[Named]:
    """Return the names whose size is known and is one at all."""
    return [one for one in names if np.isfinite(one.size).all() and one.size.any()]
