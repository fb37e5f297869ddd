"""Which directions of a shift observations see, and how well the rest checks them."""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..nodes import last_first
from .shifts import SEEN, Shifts
from .three import plain_of_three

UNCHECKED = 1e-9
"""Share of its own precision below which nothing checks a cause."""
_PLAIN = 1e-4
"""Share from which rounding decides nothing, so that the quick way will do."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What is seen of n shifts."""

    count: Ints
    """(n,) in how many directions observations see it."""
    unchecked: Bools
    """(n,) whether nothing checks one of them."""
    covariance: Floats
    """(n, 3, 3) M⁻¹ among what is seen; of no use where unchecked."""
    least: Floats
    """(n,) the smallest eigenvalue of M among what is seen."""
    axes: Bools
    """(n, 3) whether east, north, up has a part in a direction that is seen."""
    null: dict[int, Floats]
    """(3, d) directions in which nothing checks it, of those that are unchecked."""


def seen_of_shifts(shifts: Shifts, used: Bools) -> Seen:
    """Return what is seen of shifts, and how well it is checked.

    Most are plainly checked in all of their components: by column arithmetic. The
    others are looked at direction by direction.

    Parameters
    ----------
    shifts : Shifts
    used : ndarray of bool, shape (n,)
    """
    count = np.where(used, shifts.components.sum(axis=1), 0)
    covariance = last_first(np.zeros((3, 3, len(used))))
    least = np.full(len(used), np.nan)
    plain = np.zeros(len(used), dtype=bool)
    for components, some in _alike(shifts, used):
        good, inverse, smallest = _plainly(shifts, some, components)
        rows = some[good]
        plain[rows], least[rows] = True, smallest
        at = np.flatnonzero(components)
        if inverse.shape == covariance.shape:
            covariance = inverse
        else:
            covariance[np.ix_(rows, at, at)] = inverse
    seen = Seen(
        count,
        np.zeros(len(used), dtype=bool),
        covariance,
        least,
        shifts.components & plain[:, None],
        {},
    )
    _directly(seen, shifts, used, np.flatnonzero(~plain))
    return seen


def plainly_checked(shifts: Shifts, used: Bools) -> Bools:
    """Return (n,) which shifts are checked in all their components beyond doubt.

    Parameters
    ----------
    shifts : Shifts
    used : ndarray of bool, shape (n,)
    """
    plain = np.zeros(len(used), dtype=bool)
    for components, some in _alike(shifts, used):
        plain[some[_plainly(shifts, some, components)[0]]] = True
    return plain


def _alike(shifts: Shifts, used: Bools) -> list[tuple[Bools, Ints]]:
    """Return the sets of one or three components, and the shifts that have them."""
    made = []
    key = shifts.components @ np.array([4, 2, 1])
    for number in (7, 4, 2, 1):
        some = np.flatnonzero(used & (key == number))
        if len(some):
            made.append((shifts.components[some[0]], some))
    return made


def _plainly(
    shifts: Shifts, some: Ints, components: Bools
) -> tuple[Bools, Floats, Floats]:
    """Return which of some shifts are checked plainly, their M⁻¹ and smallest λ."""
    at = np.flatnonzero(components)
    matrix, own = (
        part if len(at) == 3 and len(some) == len(part) else part[np.ix_(some, at, at)]
        for part in (shifts.matrix, shifts.information)
    )
    if len(at) == 1:
        m, i = matrix[:, 0, 0], own[:, 0, 0]
        good = (i > 0) & (m > _PLAIN * i)
        return good, 1 / m[good, None, None], m[good]
    return plain_of_three(own, matrix, _PLAIN)


def _directly(seen: Seen, shifts: Shifts, used: Bools, some: Ints) -> None:
    """Fill in, in place, what is seen of shifts that are not plainly checked."""
    few = Shifts(
        shifts.matrix[some],
        shifts.pull[some],
        shifts.information[some],
        shifts.components[some],
    )
    ways = _directions(few, used[some])
    seen.count[some] = np.where(used[some], ways.real.sum(axis=1), 0)
    seen.unchecked[some] = used[some] & ways.null.any(axis=1)
    sound = used[some] & ~ways.null.any(axis=1) & (seen.count[some] > 0)
    seen.covariance[some] = ways.covariance(sound)
    seen.least[some] = _least(few.matrix, ways, sound)
    seen.axes[some] = ways.axes
    for k in np.flatnonzero(seen.unchecked[some]).tolist():
        seen.null[int(some[k])] = (ways.root[k] @ ways.vectors[k])[:, ways.null[k]]


@dataclass(frozen=True, slots=True)
class _Directions:
    """The directions of n shifts that observations see, and how well the rest does."""

    ways: Floats
    """(n, 3, 3) columns: orthonormal directions."""
    real: Bools
    """(n, 3) whether an observation sees a shift that way."""
    root: Floats
    """(n, 3, 3) columns: the same directions, scaled to unit information; else 0."""
    values: Floats
    """(n, 3) shares of that information that the network checks; 1 where none is."""
    vectors: Floats
    null: Bools
    """(n, 3) which of them nothing checks."""
    axes: Bools
    """(n, 3) whether east, north, up has a part in a direction that is seen."""

    def covariance(self, sound: Bools) -> Floats:
        """Return (n, 3, 3) M⁻¹ among what is seen; NaN where not sound."""
        turned = self.root @ self.vectors
        share = np.where(sound[:, None], self.values, np.nan)[:, None, :]
        return np.asarray((turned / share) @ np.swapaxes(turned, 1, 2))


def _directions(shifts: Shifts, used: Bools) -> _Directions:
    both = shifts.components[:, :, None] & shifts.components[:, None, :]
    both &= used[:, None, None]
    information = np.where(both, shifts.information, 0.0)
    values, ways = np.linalg.eigh(information)
    real = values > SEEN * np.maximum(values[:, -1:], 0.0)
    real &= values > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        root = ways * np.where(real, 1 / np.sqrt(values), 0.0)[:, None, :]
    matrix = np.where(both, shifts.matrix, 0.0)
    inside = np.swapaxes(root, 1, 2) @ matrix @ root
    inside += np.where(real, 0.0, 1.0)[:, :, None] * np.eye(3)
    shares, vectors = np.linalg.eigh(inside)
    axes = np.einsum("nij,nj->ni", ways**2, real * 1.0) > SEEN
    return _Directions(ways, real, root, shares, vectors, shares < UNCHECKED, axes)


def _least(matrix: Floats, seen: _Directions, sound: Bools) -> Floats:
    least = np.full(len(sound), np.nan)
    ways = seen.ways[sound] * seen.real[sound][:, None, :]
    inside = np.swapaxes(ways, 1, 2) @ matrix[sound] @ ways
    # What is not seen must not be the weakest.
    most = np.einsum("nii->n", inside)[:, None, None] * np.eye(3)
    inside += np.where(seen.real[sound], 0.0, 1.0)[:, :, None] * most
    least[sound] = np.linalg.eigvalsh(inside)[:, 0]
    return least
