"""What an iteration that does not settle breaks on: what, left out, mends it.

The observation that fits the starting positions worst need not be the wrong one: the
start may hang on a blunder itself. So each thing near by is left out in turn and the
network adjusted without it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..networks import Network
from ..networks.covariances import Bools, Floats, Ints
from .adjustment import Adjustment
from .equations import Equations

MOST_UNKNOWNS = 400
"""Of a larger network nothing is tried: each trial is an adjustment."""
_TRIED = 8
"""Observations tried, those that fit the start worst; and known marks near them."""
_ALIKE = 100.0
"""Trials whose vᵀPv is within this factor of the least mend it as well."""
_SOUND = 1e3
"""vᵀPv over degrees of freedom above which a trial mends nothing: other blunders of an
ordinary size may remain, which the tests then find."""

Attempts = Callable[[Sequence[Network]], Sequence[Adjustment | None]]


@dataclass(frozen=True, slots=True)
class Suspect:
    """One thing that may be to blame."""

    kind: str
    words: str
    marks: tuple[str, ...]
    network: Network
    """Without it."""

    @property
    def used(self) -> Bools:
        """Whether each observation and each known mark is in use without it."""
        network = self.network
        levels = () if network.levels is None else (network.levels.used,)
        sights = (some.used for some in network.sights)
        known, vectors = network.known.used, network.vectors.used
        return np.concatenate(
            [known, vectors, network.positions.used, *levels, *sights]
        )


def to_blame(
    network: Network, system: tuple[Equations, ...], attempts: Attempts
) -> tuple[Suspect, ...]:
    """Return what mends the network when it is left out.

    Of what mends it as well, nothing with which something else is left out in vain. A
    set-up on another mark may look like a known mark at fault and the other way round,
    so that set-ups are tried beside known marks, and where no single booking mends it.

    Parameters
    ----------
    network : Network
    system : tuple of Equations
        At the starting positions.
    attempts : callable
        Adjusts networks; None where one has no solution either.

    Returns
    -------
    tuple of Suspect
        One: it is to blame. Several: they cannot be told apart. None: no one thing.
    """
    singles, set_ups = _suspects(network, system)
    found = _mended(singles, attempts)
    if all(one.kind == "known mark" for size, one in found if size <= _ALIKE):
        found += _mended(set_ups, attempts)
    if not found:
        return ()
    least = min(size for size, _ in found)
    alike = [suspect for size, suspect in found if size <= _ALIKE * least]
    return tuple(
        one for one in alike if not any(_in_vain(one, other) for other in alike)
    )


def _in_vain(more: Suspect, less: Suspect) -> bool:
    """Return whether one leaves out all that another does, and more."""
    left, kept = less.used, more.used
    return bool((left >= kept).all() and (left > kept).any())


def _mended(some: list[Suspect], attempts: Attempts) -> list[tuple[float, Suspect]]:
    """Return those without which the network fits, with vᵀPv over its freedom."""
    found = []
    each = attempts([suspect.network for suspect in some])
    for suspect, made in zip(some, each, strict=True):
        if made is not None:
            size = max(made.vtpv / (made.degrees_of_freedom + 1.0), 1.0)
            if size < _SOUND:
                found.append((size, suspect))
    return found


def misfits(some: Equations) -> Floats:
    """Return (m, r) misclosures over standard deviations, 0 where not in use."""
    ratios = np.zeros(some.misclosure.shape)
    for batch in some.covariances:
        variances = np.diagonal(batch.matrix, axis1=1, axis2=2)
        sds = np.sqrt(variances).reshape(*batch.members.shape, -1)
        ratios[batch.members] = np.abs(some.misclosure[batch.members]) / sds
    return np.where(some.active, ratios, 0.0)


def _suspects(
    network: Network, system: tuple[Equations, ...]
) -> tuple[list[Suspect], list[Suspect]]:
    """Return single bookings, and set-ups: of the worst observations, and near them.

    The known marks come with the single ones.
    """
    every = [(some, misfits(some).max(axis=1, initial=0.0)) for some in system]
    worst = sorted(
        (
            (float(ratios[row]), some, row)
            for some, ratios in every
            for row in np.argsort(-ratios, kind="stable")[:_TRIED].tolist()
            if ratios[row] > 0
        ),
        key=lambda one: -one[0],
    )[:_TRIED]
    places = len(network.marks) + len(network.set_ups)
    nodes: set[int] = set()
    singles = []
    for _, some, row in worst:
        here = some.node[row]
        nodes |= set(here[(here >= 0) & (here < places)].tolist())
        singles.append(_without(network, some.kind, row))
    near = {int(m) for m in network.mark_of(np.array(sorted(nodes), dtype=np.int64))}
    for row in np.flatnonzero(network.known.used).tolist():
        if int(network.known.mark[row]) in near or len(network.known) <= _TRIED:
            singles.append(_without(network, "known mark", row))
    first = len(network.marks)
    on = [
        _without(network, "set-up", node - first)
        for node in sorted(nodes)
        if node >= first
    ]
    return [one for one in singles if one], [one for one in on if one]


def _without(network: Network, kind: str, row: int) -> Suspect | None:
    """Return the network without one thing; None where the kind is no booking."""
    from .judge.names import about  # late: the judges take time to import

    touch = {
        "baseline": _vector,
        "position": _position,
        "level difference": _level,
        "known mark": _known,
        "set-up": _set_up,
    }.get(kind, _sight)
    found = touch(network, kind, row)
    if found is None:
        return None
    without, marks = found
    (named,) = about(network, kind, np.array([row]))
    words = f"{kind} {named}"
    if kind == "set-up":
        thing = named if named.startswith("target ") else words
        words = f"all that was observed with {thing}"
    names = tuple(dict.fromkeys(network.marks.name[m] for m in marks))
    return Suspect(kind, words, names, without)


_Found = tuple[Network, list[int]]


def _vector(network: Network, _: str, row: int) -> _Found:
    vectors = network.vectors
    ends = network.mark_of(np.array([vectors.start[row], vectors.end[row]]))
    used = _but(vectors.used, np.array([row]))
    return replace(network, vectors=replace(vectors, used=used)), ends.tolist()


def _position(network: Network, _: str, row: int) -> _Found:
    positions = network.positions
    used = _but(positions.used, np.array([row]))
    made = replace(network, positions=replace(positions, used=used))
    return made, network.mark_of(positions.node[row : row + 1]).tolist()


def _level(network: Network, _: str, row: int) -> _Found | None:
    levels = network.levels
    if levels is None:
        return None
    ends = network.mark_of(np.array([levels.start[row], levels.end[row]]))
    used = _but(levels.used, np.array([row]))
    return replace(network, levels=replace(levels, used=used)), ends.tolist()


def _sight(network: Network, kind: str, row: int) -> _Found | None:
    for k, some in enumerate(network.sights):
        if some.kind == kind:
            less = replace(some, used=_but(some.used, np.array([row])))
            sights = (*network.sights[:k], less, *network.sights[k + 1 :])
            ends = network.mark_of(np.array([some.at[row], some.to[row]]))
            return replace(network, sights=sights), ends.tolist()
    return None


def _known(network: Network, _: str, row: int) -> _Found:
    known = network.known
    used = _but(known.used, np.array([row]))
    made = replace(network, known=replace(known, used=used))
    return made, [int(known.mark[row])]


def _set_up(network: Network, _: str, row: int) -> _Found:
    """Leave out every sight, vector and position that stands on a set-up."""
    node = len(network.marks) + row
    sights = []
    for some in network.sights:
        on = np.flatnonzero((some.at == node) | (some.to == node) | (some.back == node))
        sights.append(replace(some, used=_but(some.used, on)))
    vectors, positions = network.vectors, network.positions
    on = np.flatnonzero((vectors.start == node) | (vectors.end == node))
    at = np.flatnonzero(positions.node == node)
    made = replace(
        network,
        sights=tuple(sights),
        vectors=replace(vectors, used=_but(vectors.used, on)),
        positions=replace(positions, used=_but(positions.used, at)),
    )
    return made, [int(network.set_ups.mark[row])]


def _but(used: Bools, rows: Ints) -> Bools:
    made = used.copy()
    made[rows] = False
    return made
