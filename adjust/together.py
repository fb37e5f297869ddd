"""Many small networks adjusted at once: each step is array code over all of them.

A small network is nearly all calls: of 20 ms for twelve marks the arithmetic is one.
Side by side they are one network whose equations are formed together; only its normal
matrix falls apart, and is factored network by network.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ..networks import CommandError, Network, NoSolution
from ..networks.covariances import Bools, Floats, Ints
from ..networks.side_by_side import SideBySide, alike, side_by_side
from . import dense
from .adjustment import Adjustment
from .constraint import Constraint, azimuth_constraint
from .datum import Datum, datum
from .elimination import DENSE
from .equations import equations
from .estimate import HALVINGS, LIMIT, SMALL, bends, estimate, near
from .free import InnerConstraints, lay
from .moves import CONVERGED, moved_by, off_held, on_held
from .nodes import Nodes, nodes_at
from .normal import Whitened, right_side, summed, whiten
from .parted import by_network, columns_of, nodes_of, rows_of
from .start import starting_positions, starting_values
from .unknowns import unknown_columns
from .unsettled import refuse_not_finite

_ROOM = 1 << 22
"""Entries of normal matrices that are held at once (32 MB)."""

Outcome = Adjustment | NoSolution | CommandError
Over = str | Sequence[str] | None


def estimates(
    networks: Iterable[Network],
    mode: str = "constrained",
    *,
    over: Over = None,
    begin: Floats | None = None,
) -> Iterator[Outcome]:
    """Adjust many small networks by least squares, each by itself.

    Parameters
    ----------
    networks : iterable of Network
        Of any kinds and sizes; read some hundred at a time. Those of the same kinds are
        taken together; large ones, and those where something belongs to the whole job,
        one by one.
    mode : "minimal", "constrained" or "free"
    over : "known", "all" or names of marks, optional
        Where free networks are laid.
    begin : ndarray, shape (m, 3), optional
        Where the marks are about, cartesian, m, if they are the same in all networks: a
        plan's places. It spares the search for a start, most of the time of small
        networks. What does not settle from there starts by itself; of what nothing
        observes, this is the place.

    Yields
    ------
    Adjustment, NoSolution or CommandError
        In the order of the networks: what ``estimate`` returns, or what it raises.
    """
    for portion in _portions(networks):
        kinds: dict[tuple[object, ...], dict[int, Network]] = {}
        for k, network in enumerate(portion):
            if _fit(network):
                kinds.setdefault(alike(network), {})[k] = network
        made: dict[int, Outcome] = {}
        with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
            for some in kinds.values():
                made |= _together(some, mode, over, begin)
        for k, network in enumerate(portion):
            # What did not come out is done by itself, which finds the words for it.
            yield made.pop(k) if k in made else _alone(network, mode, over)


def _alone(network: Network, mode: str, over: Over) -> Outcome:
    try:
        return estimate(network, mode, over=over)
    except (NoSolution, CommandError) as reason:
        return reason


def _portions(networks: Iterable[Network]) -> Iterator[list[Network]]:
    """Yield as many networks as there is room for."""
    size, portion = 0, list[Network]()
    for network in networks:
        more = _unknowns(network) ** 2
        if portion and size + more > _ROOM:
            yield portion
            size, portion = 0, []
        size += more
        portion.append(network)
    yield portion


def _unknowns(network: Network) -> int:
    """Return how many unknowns there are at most."""
    places = len(network.marks) + len(network.set_ups)
    return 3 * places + len(network.parameters)


def _fit(network: Network) -> bool:
    """Return whether a network is small and nothing belongs to it as a whole."""
    common = network.undulations is not None and len(network.undulations.estimated) > 0
    turned = network.vectors.parameter is not None and network.frame.kind != "local"
    return _unknowns(network) <= DENSE and not (common or turned or network.part)


@dataclass(frozen=True, slots=True)
class _Open:
    """Networks under way, and where their nodes are."""

    numbers: tuple[int, ...]
    """Of the networks as they were given."""
    networks: tuple[Network, ...]
    holds: tuple[Datum, ...]
    whole: SideBySide
    hold: Datum
    columns: Ints
    """(N + q, 3) column of each component, network by network."""
    first: Ints
    """(k + 1,) where each network's columns begin."""
    nodes: Nodes

    def moved(self, shift: Floats) -> "_Open":
        """Return them moved by a shift of all unknowns, and back to where held."""
        network = self.whole.network
        nodes = moved_by(network, self.nodes, self.columns, shift)
        return replace(self, nodes=on_held(network, self.hold, nodes))

    def rows(self) -> "_Rows":
        """Return the whitened rows where the nodes are."""
        rows, owners = [], []
        for some in equations(self.whole.network, self.hold, self.nodes):
            rows += whiten(some, self.columns)
            whose = self.whole.owner[some.node[:, 0]]
            owners += [whose[batch.members[:, 0]] for batch in some.covariances]
        return _Rows(rows, owners, self.whole.count)


@dataclass(frozen=True, slots=True)
class _Rows:
    """Whitened rows of all networks."""

    batches: list[Whitened]
    owners: list[Ints]
    """(c,) network of each cluster of a batch."""
    count: int

    def square_sums(self) -> Floats:
        """Return (k,) vᵀPv of each network."""
        made = np.zeros(self.count)
        for batch, owner in zip(self.batches, self.owners, strict=True):
            squares = np.einsum("cq,cq->c", batch.misclosure, batch.misclosure)
            made += np.bincount(owner, squares, self.count)
        return made

    def matrices(self, first: Ints) -> list[Floats]:
        """Return the normal matrix of each network, (u, u)."""
        counts = np.diff(first)
        ends = np.cumsum(counts**2)
        flat = [np.zeros(0, dtype=np.int64)]
        for batch, owner in zip(self.batches, self.owners, strict=True):
            row, column = batch.columns[:, :, None], batch.columns[:, None]
            own = owner[:, None, None]
            begin = (ends - counts**2)[own] - first[own]
            at = begin + (row - first[own]) * counts[own] + column
            flat.append(np.where((row < 0) | (column < 0), ends[-1], at).ravel())
        values = summed(self.batches, np.concatenate(flat), int(ends[-1]))
        parts = np.split(values, ends[:-1])
        return [v.reshape(u, u) for v, u in zip(parts, counts.tolist(), strict=True)]


def _together(
    some: dict[int, Network], mode: str, over: Over, start: Floats | None
) -> dict[int, Outcome]:
    """Return the adjustments of those networks that come to a solution."""
    made: dict[int, Outcome] = {}
    left = _begun(some, mode, start)
    for iteration in range(1, LIMIT + 1):
        if left is None:
            break
        step = _step(left)
        close = near(left.whole.network)
        settled = (step.left < CONVERGED) & (step.first < close)
        done = _some(step.after, settled)
        if done is not None:
            made |= _results(done, step.factors_of(settled), iteration, over)
        left = _some(step.after, ~settled & np.isfinite(step.left))
    return made


def _begun(some: dict[int, Network], mode: str, start: Floats | None) -> _Open | None:
    """Return the networks where they start; those without a start are left out."""
    begin: dict[int, tuple[Network, Datum, Floats]] = {}
    for k, network in some.items():
        try:
            refuse_not_finite(network)
            places = starting_positions(network) if start is None else start
            begin[k] = network, datum(network, mode), places
        except (NoSolution, CommandError):
            continue
    if len(begin) < 2:
        return None
    networks, holds, starts = zip(*begin.values(), strict=True)
    return _sound(_laid(tuple(begin), networks, holds, np.concatenate(starts)))


def _sound(start: _Open) -> _Open | None:
    """Return the networks on what is held; but those held at two places at once."""
    network, whole = start.whole.network, start.whole
    nodes = on_held(network, start.hold, start.nodes)
    off = off_held(network, start.hold, nodes)
    nodes = replace(nodes, values=starting_values(network, nodes))
    sound = np.diff(start.first) > 0
    sound[whole.owner[network.known.mark[off > CONVERGED]]] = False
    return _some(replace(start, nodes=nodes), sound)


def _laid(
    numbers: tuple[int, ...],
    networks: tuple[Network, ...],
    holds: tuple[Datum, ...],
    marks: Floats,
    set_ups: Floats | None = None,
    values: Floats | None = None,
) -> _Open:
    whole = side_by_side(networks)
    hold = replace(
        holds[0],
        held_rows=np.concatenate([one.held_rows for one in holds]),
        weighted=np.concatenate([one.weighted for one in holds]),
        azimuth=None,
    )
    columns, first = by_network(whole, unknown_columns(whole.network, hold))
    nodes = nodes_at(whole.network, marks, set_ups, values)
    return _Open(numbers, networks, holds, whole, hold, columns, first, nodes)


def _some(made: _Open, which: Bools) -> _Open | None:
    """Return some of the networks where they are; None where there are none."""
    if which.all():
        return made
    chosen = np.flatnonzero(which).tolist()
    if not chosen:
        return None
    nodes = nodes_of(made.whole, made.nodes)
    return _laid_at(
        tuple(made.numbers[k] for k in chosen),
        tuple(made.networks[k] for k in chosen),
        tuple(made.holds[k] for k in chosen),
        [nodes[k] for k in chosen],
    )


def _laid_at(
    numbers: tuple[int, ...],
    networks: tuple[Network, ...],
    holds: tuple[Datum, ...],
    nodes: Sequence[Nodes],
) -> _Open:
    marks = [len(network.marks) for network in networks]
    each = list(zip(nodes, marks, strict=True))
    return _laid(
        numbers,
        networks,
        holds,
        np.concatenate([own.xyz[:count] for own, count in each]),
        np.concatenate([own.xyz[count:] for own, count in each]),
        np.concatenate([own.values for own in nodes]),
    )


class _Stepped(NamedTuple):
    after: _Open
    factors: list[dense.DenseFactor | None]
    first: Floats
    """(k,) m or rad; the largest move of the step."""
    left: Floats
    """(k,) m or rad; what the second solution still moved; inf where there is none."""

    def factors_of(self, some: Bools) -> list[dense.DenseFactor]:
        """Return the factors of networks that came to a solution."""
        chosen = zip(self.factors, some.tolist(), strict=True)
        return [factor for factor, which in chosen if which and factor is not None]


def _step(here: _Open) -> _Stepped:
    """Solve once, move, and solve again with the same factors, as ``estimate`` does."""
    rows, bounds = here.rows(), _bounds(here)
    matrices = rows.matrices(here.first)
    factors = [_factor(m, b) for m, b in zip(matrices, bounds, strict=True)]
    sizes = []
    for last in (False, True):
        pull = right_side(rows.batches, int(here.first[-1]))
        shift = np.zeros(len(pull))
        lost = np.zeros(len(factors), dtype=bool)
        for k, (low, high) in enumerate(pairwise(here.first.tolist())):
            factor, bound, mine = factors[k], bounds[k], pull[low:high]
            if factor is None or not np.isfinite(mine).all():
                lost[k] = True
            elif bound is None:
                shift[low:high] = factor.solve(mine)
            else:
                start = bound.particular()
                shift[low:high] = start + factor.solve(mine - matrices[k] @ start)
        size = np.maximum.reduceat(np.abs(shift), here.first[:-1])
        sizes.append(np.where(lost, np.inf, size))
        here, rows = _down(here, rows, shift, last)
        if not last:
            bounds = _bounds(here)
    return _Stepped(here, factors, *sizes)


def _bounds(here: _Open) -> list[Constraint | None]:
    """Return the azimuth that each network holds, if it holds one."""
    if not any(hold.azimuth for hold in here.holds):
        return [None] * len(here.holds)
    each = zip(
        here.networks,
        here.holds,
        nodes_of(here.whole, here.nodes),
        columns_of(here.whole, here.columns, here.first),
        strict=True,
    )
    return [azimuth_constraint(*one) for one in each]


def _factor(matrix: Floats, bound: Constraint | None) -> dense.DenseFactor | None:
    """Return the factor of one network; None where something is left free."""
    if not np.isfinite(matrix).all():
        return None
    try:
        return dense.factor(matrix, bound.basis() if bound else None)
    except dense.Singular:
        return None


def _down(here: _Open, rows: _Rows, shift: Floats, last: bool) -> tuple[_Open, _Rows]:
    """Move, each network by as much of its shift as makes its misfit smaller."""
    before, counts = rows.square_sums(), np.diff(here.first)
    for _ in range(HALVINGS):
        there = here.moved(shift)
        size = np.maximum.reduceat(np.abs(shift), here.first[:-1])
        plain = size < SMALL
        if not bends(here.whole.network):
            plain[:] = True
        if last and plain.all():
            break
        rows = there.rows()
        worse = ~plain & ~(rows.square_sums() <= before)
        if not worse.any():
            break
        shift = np.where(np.repeat(worse, counts), shift / 2, shift)
    return there, rows


def _results(
    done: _Open, factors: Sequence[dense.DenseFactor], iteration: int, over: Over
) -> dict[int, Outcome]:
    """Return the adjustments of networks that have settled."""
    columns = columns_of(done.whole, done.columns, done.first)
    nodes = nodes_of(done.whole, done.nodes)
    inner: list[InnerConstraints | None] = [None] * len(nodes)
    unlaid = set()
    for k, hold in enumerate(done.holds):
        if hold.mode == "free" and hold.held:
            at = (nodes[k], columns[k], factors[k])
            try:
                nodes[k], inner[k] = lay(done.networks[k], *at, over)
            except CommandError:
                unlaid.add(k)
    if any(inner):
        done = _laid_at(done.numbers, done.networks, done.holds, nodes)
    system = equations(done.whole.network, done.hold, done.nodes)
    rows = rows_of(done.whole, system, done.columns, done.first)
    return {
        number: Adjustment(
            done.networks[k],
            done.holds[k],
            nodes[k],
            columns[k],
            *rows[k],
            factors[k],
            inner[k],
            iteration,
        )
        for k, number in enumerate(done.numbers)
        if k not in unlaid
    }
