"""A separator: what its parts say about their borders, added up and eliminated.

The same elimination of one front as within a domain. A part says S and r: the matrix
and the right side that are left for its border. F. R. Helmert, "Die mathematischen
und physikalischen Theorieen der höheren Geodäsie", part I (1880), from memory:
a network adjusted in blocks.
"""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ...networks.distinct import distinct
from ..sparse.fronts import Eliminated, eliminate

_SMALL_PIVOT = 1e-11
_NO_INFORMATION = 1e-13
"""As in the dense factor: when to look, and below which eigenvalue nothing is known."""


@dataclass(frozen=True, slots=True)
class Border:
    """What a part says about its border."""

    columns: Ints
    """(b,) unknowns of the whole, sorted."""
    matrix: Floats
    """(b, b) S."""
    diagonal: Floats
    """(b,) diagonal of the matrix before anything was eliminated."""
    free: int = 0
    """How many directions the part, with all below it, leaves free; mostly none."""


@dataclass(frozen=True, slots=True)
class Sides:
    """Numbers for some unknowns of the whole: right sides, or solutions."""

    columns: Ints
    values: Floats
    """(columns, k)"""


@dataclass(frozen=True, slots=True)
class Block:
    """The inverse among some unknowns of the whole."""

    columns: Ints
    values: Floats
    """(columns, columns)"""


@dataclass(frozen=True, slots=True)
class Separator:
    """A separator after its elimination."""

    columns: Ints
    """Its own unknowns, then its border, each sorted."""
    size: int
    """How many are its own."""
    eliminated: Eliminated | None
    """None without own unknowns, or where these are not determined."""
    rest: Border
    null: Floats
    """(columns, d) directions that cost nothing; mostly none."""


def joined(own: Ints, *parts: Border) -> Separator:
    """Return a separator, eliminated, from what the parts below it say.

    Parameters
    ----------
    own : ndarray of int
        Unknowns that no part above or beside has, sorted.
    parts : Border
    """
    every = distinct(np.concatenate([own, *(part.columns for part in parts)]))
    outer = np.setdiff1d(every, own, assume_unique=True)
    columns, size = np.concatenate([own, outer]), len(own)
    front, diagonal = np.zeros((len(columns),) * 2), np.zeros(len(columns))
    for part in parts:
        at = find(columns, part.columns)
        front[at[:, None], at] += part.matrix
        diagonal[at] += part.diagonal
    none = np.zeros((len(columns), 0))
    free = sum(part.free for part in parts)
    if not size:
        return Separator(columns, 0, None, Border(outer, front, diagonal, free), none)
    made = _eliminated(front, diagonal[:size])
    if made is None:
        none = _free(front[:size, :size], diagonal[:size], len(columns))
    if none.shape[1] or free:
        left = Border(
            outer, 0 * front[size:, size:], diagonal[size:], free + none.shape[1]
        )
        return Separator(columns, size, None, left, none)
    own_part, left_over = made or eliminate(front[None], size, True)
    lower = np.tril(left_over[0])
    left = Border(outer, lower + np.tril(lower, -1).T, diagonal[size:])
    return Separator(columns, size, own_part, left, none)


def _eliminated(front: Floats, diagonal: Floats) -> tuple[Eliminated, Floats] | None:
    """Return the elimination of own unknowns; None where a pivot says to look."""
    try:
        made = eliminate(front[None], len(diagonal), True)
    except np.linalg.LinAlgError:
        return None
    sound = (made[0].pivots[0] >= _SMALL_PIVOT * diagonal).all()
    return made if sound else None


def _free(matrix: Floats, diagonal: Floats, count: int) -> Floats:
    """Return (count, d) the directions of own unknowns that cost nothing."""
    scale = 1 / np.sqrt(np.where(diagonal > 0, diagonal, 1.0))
    values, vectors = np.linalg.eigh(scale[:, None] * matrix * scale)
    free = values < _NO_INFORMATION
    null = np.zeros((count, int(free.sum())))
    null[: len(scale)] = scale[:, None] * vectors[:, free]
    return null


def find(columns: Ints, wanted: Ints) -> Ints:
    """Return where wanted unknowns stand among columns, in any order."""
    order = np.argsort(columns, kind="stable")
    return np.asarray(order[np.searchsorted(columns, wanted, sorter=order)])


def border(separator: Separator) -> Border:
    """Return what a separator says about its border."""
    return separator.rest


@dataclass(frozen=True, slots=True)
class Raised:
    """Right sides on their way up through a separator."""

    inner: Floats
    """(own, k) L⁻¹b."""
    rest: Sides


def raised(separator: Separator, own: Floats | None, *sides: Sides) -> Raised:
    """Return right sides after the elimination of a separator.

    Parameters
    ----------
    separator : Separator
    own : ndarray, shape (own, k), optional
        What the own unknowns have besides.
    sides : Sides
        From the parts below.
    """
    count, size = len(separator.columns), separator.size
    width = sides[0].values.shape[1]
    total = np.zeros((count, width))
    if own is not None:
        total[:size] = own
    for side in sides:
        total[find(separator.columns, side.columns)] += side.values
    outer = separator.columns[size:]
    if separator.eliminated is None:
        return Raised(total[:size], Sides(outer, total[size:]))
    inner, taken = separator.eliminated.forward(total[None, :size])
    return Raised(inner[0], Sides(outer, total[size:] - taken[0]))


def rest(some: Raised) -> Sides:
    """Return what is left of right sides for those above."""
    return some.rest


def lowered(separator: Separator, some: Raised, above: Sides | None) -> Sides:
    """Return the solution of all unknowns of a separator.

    Parameters
    ----------
    separator : Separator
    some : Raised
    above : Sides or None
        The solution of a separator above that has the border; None at the root.
    """
    outer = _picked(separator, above, some.inner.shape[1])
    inner = some.inner
    if separator.eliminated is not None:
        inner = separator.eliminated.back(inner[None], outer[None])[0]
    return Sides(separator.columns, np.concatenate([inner, outer]))


def _picked(separator: Separator, above: Sides | None, width: int) -> Floats:
    if above is None:
        return np.zeros((0, width))
    at = find(above.columns, separator.columns[separator.size :])
    return np.asarray(above.values[at])


def inverted(separator: Separator, above: Block | None) -> Block:
    """Return the inverse among all unknowns of a separator."""
    outer = np.zeros((0, 0))
    if above is not None:
        outer = block_of(above, separator.columns[separator.size :])
    if separator.eliminated is None:
        return Block(separator.columns, outer)
    front = np.empty((1, len(separator.columns), len(separator.columns)))
    separator.eliminated.invert(front, outer[None])
    return Block(separator.columns, front[0])


def block_of(block: Block, columns: Ints) -> Floats:
    """Return the inverse among some of the unknowns of a block."""
    at = find(block.columns, columns)
    return np.asarray(block.values[at[:, None], at])
