"""Humps: an initialisation whose shots lie off the surface that others give.

Each shot on the ground is held against a plane through its neighbours from other
initialisations, fitted so that a few strays do not pull it. One shot off it is
terrain; a whole initialisation off it by one amount is a wrong fixing.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.spatial import cKDTree

from ...networks import Options
from ...networks.covariances import Bools, Floats, Ints
from ..judge.limits import b_method

_LEAST, _BEST = 6, 12
"""Neighbours from other initialisations: fewer tell nothing, more add nothing."""
_ASKED = (24, 96)
"""Neighbours looked through for them; a shot amid its own needs many."""
_ROUNDS = 6
_STRAY = 4.685
"""Of Tukey's biweight, 95 % efficient for normal errors (Holland and Welsch 1977;
from memory)."""
_WEAK = 1.0
"""A plane whose height at the shot is worth less than one neighbour's extrapolates."""
_MAD = 1.482602
"""Normal sd for a median absolute deviation of one."""


@dataclass(frozen=True, slots=True)
class Humps:
    """One row an initialisation with shots on the ground."""

    source: Ints
    """(g,) number of the initialisation."""
    shots: Ints
    """(g,) shots of it that have a surface of others to be held against."""
    offset: Floats
    """(g,) middle height above that surface, m; NaN where there is none."""
    sd: Floats
    """(g,) of the offset: roughness of the ground, and the vectors' own heights."""
    test: Floats
    """(g,) 1 is the limit; NaN cannot be judged."""
    verdict: tuple[str, ...]
    """``meets``, ``query`` or ``unchecked``: a hump may be there on the ground."""
    roughness: float
    """Spread of single shots about the surface, m."""


def humps(
    coordinates: Floats, source: Ints, sd_height: Floats, options: Options
) -> Humps:
    """Return how each initialisation lies to the surface that the others give.

    The largest hump is taken first; the others are judged again without it as a
    neighbour, so that good ground beside a hump is not a hollow.

    Parameters
    ----------
    coordinates : ndarray, shape (n, 3)
        East, north, height of shots on the ground, m.
    source : ndarray of int, shape (n,)
        Initialisation of each; −1 where none is booked: such a shot is a neighbour
        only.
    sd_height : ndarray, shape (n,)
        Of the vectors' heights, m: what all shots of an initialisation may share.
    options : Options
    """
    of = _by_group(source)
    rows = np.flatnonzero(source >= 0)
    off = np.full(len(source), np.nan)
    if not len(rows):
        return _gathered({}, float("nan"))
    surface = _Surface(coordinates, source)
    off[rows] = surface.off(rows, ())
    roughness = _roughness(off[rows], source[rows])
    limit = float(np.sqrt(b_method(options.outlier_alpha, options.power, 1)[1]))

    def judged(k: int) -> _Group:
        return _group(off[of[k]], sd_height[of[k]], roughness, limit)

    made = {k: judged(k) for k in of}
    over = {k for k, one in made.items() if one.test > 1}
    taken: list[int] = []
    while over:
        worst = max(over, key=lambda k: (made[k].test, -k))
        over.discard(worst)
        taken.append(worst)
        for k in sorted(over):
            off[of[k]] = surface.off(of[k], tuple(taken))
            made[k] = judged(k)
        over = {k for k in over if made[k].test > 1}
    return _gathered(made, roughness)


class _Group(NamedTuple):
    """What the shots of one initialisation say together."""

    shots: int = 0
    offset: float = float("nan")
    sd: float = float("nan")
    test: float = float("nan")


def _by_group(source: Ints) -> dict[int, Ints]:
    rows = np.flatnonzero(source >= 0)
    order = rows[np.argsort(source[rows], kind="stable")]
    groups, start = np.unique(source[order], return_index=True)
    if not len(groups):
        return {}
    parts = np.split(order, start[1:])
    return dict(zip(groups.tolist(), parts, strict=True))


def _group(off: Floats, sd_height: Floats, roughness: float, limit: float) -> _Group:
    """Return the offset of one initialisation, and its test."""
    known = off[np.isfinite(off)]
    if not len(known):
        return _Group()
    offset = float(np.median(known))
    # The median of m has π/2 the variance of their mean; own and others' vectors.
    shared = 2 * float(np.median(sd_height) ** 2)
    sd = float(np.sqrt(roughness**2 * np.pi / 2 / len(known) + shared))
    test = abs(offset) / (limit * sd) if sd > 0 else float("nan")
    return _Group(len(known), offset, sd, test)


def _gathered(made: dict[int, _Group], roughness: float) -> Humps:
    rows = list(made.values())
    test = np.array([one.test for one in rows])
    states = np.select([~np.isfinite(test), test > 1], ["unchecked", "query"], "meets")
    return Humps(
        np.array(list(made), dtype=np.int64),
        np.array([one.shots for one in rows], dtype=np.int64),
        np.array([one.offset for one in rows]),
        np.array([one.sd for one in rows]),
        test,
        tuple(states.tolist()),
        roughness,
    )


def _roughness(off: Floats, source: Ints) -> float:
    """Return the robust spread of shots about the surface, each group's middle off."""
    known = np.flatnonzero(np.isfinite(off))
    if len(known) < 2:
        return float("nan")
    apart = []
    for rows in _by_group(source[known]).values():
        own = off[known[rows]]
        if len(own) > 2:
            apart.append(np.abs(own - np.median(own)))
    every = np.concatenate(apart) if apart else np.abs(off[known])
    return float(_MAD * np.median(every))


class _Surface:
    """Points with a search tree; asked for heights above their neighbours' plane."""

    def __init__(self, coordinates: Floats, source: Ints) -> None:
        self._points = coordinates - np.nanmean(coordinates, axis=0, keepdims=True)
        self._source = source
        self._tree = cKDTree(self._points[:, :2])

    def off(self, rows: Ints, without: tuple[int, ...]) -> Floats:
        """Return heights of shots above the plane of others; NaN without enough.

        Parameters
        ----------
        rows : ndarray of int, shape (k,)
        without : tuple of int
            Initialisations that are no neighbours.
        """
        made = np.full(len(rows), np.nan)
        left = np.arange(len(rows))
        for asked in _ASKED:
            if not len(left):
                break
            near, use = self._neighbours(rows[left], asked, without)
            enough = use.sum(axis=1) >= _LEAST
            some = left[enough]
            made[some] = self._above(rows[some], near[enough], use[enough])
            left = left[~enough]
            if asked >= len(self._source):
                break
        return made

    def _neighbours(
        self, rows: Ints, asked: int, without: tuple[int, ...]
    ) -> tuple[Ints, Bools]:
        """Return the nearest points of others, and which places are filled."""
        count = min(asked, len(self._source))
        _, near = self._tree.query(self._points[rows, :2], k=count)
        near = near.reshape(len(rows), count)
        theirs = self._source[near]
        other = (theirs != self._source[rows, None]) & (near != rows[:, None])
        for k in without:
            other &= theirs != k
        # The nearest of the others come first, in their order.
        order = np.argsort(~other, axis=1, kind="stable")[:, :_BEST]
        return (
            np.take_along_axis(near, order, axis=1),
            np.take_along_axis(other, order, axis=1),
        )

    def _above(self, rows: Ints, near: Ints, use: Bools) -> Floats:
        """Return heights above planes fitted with Tukey's biweight."""
        if not len(rows):
            return np.zeros(0)
        here = self._points[rows]
        way = self._points[near] - here[:, None, :]
        far = np.hypot(way[..., 0], way[..., 1])
        reach = np.max(np.where(use, far, 0.0), axis=1)
        reach = np.maximum(reach, 1e-6)
        design = np.stack(
            [
                np.ones_like(far),
                way[..., 0] / reach[:, None],
                way[..., 1] / reach[:, None],
            ],
            axis=2,
        )
        height, weight = way[..., 2], use.astype(float)
        for _ in range(_ROUNDS):
            plane, worth = _fitted(design, height, weight)
            left = np.abs(height - np.einsum("nkj,nj->nk", design, plane))
            scale = _MAD * np.nanmedian(np.where(use, left, np.nan), axis=1)
            scale = np.maximum(scale, 1e-4)[:, None]
            share = np.minimum(left / (_STRAY * scale), 1.0)
            weight = use * (1 - share**2) ** 2
        return np.where(worth <= _WEAK, -plane[:, 0], np.nan)


def _fitted(design: Floats, height: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """Return planes (n, 3), and the variance of their height at the shot."""
    weighted = design * weight[..., None]
    normal = np.einsum("nki,nkj->nij", weighted, design)
    # A plane through a line of points is held level across it, and is found weak.
    normal[:, [0, 1, 2], [0, 1, 2]] += 1e-9
    inverse = np.linalg.inv(normal)
    right = np.einsum("nki,nk->ni", weighted, height)
    return np.einsum("nij,nj->ni", inverse, right), inverse[:, 0, 0]
