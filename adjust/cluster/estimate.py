"""The iteration of a network that is divided: the same steps, part by part."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...networks import CommandError, Network, NoSolution
from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..datum import Datum, datum
from ..equations import equations
from ..estimate import (
    HALVINGS,
    LIMIT,
    SMALL,
    WILD,
    begin_at,
    bends,
    near,
    nothing_to_estimate,
    result,
)
from ..floating import floating
from ..moves import CONVERGED
from ..nodes import Nodes, nodes_at
from ..unknowns import unknown_columns
from ..unsettled import refuse_not_finite, unsettled
from . import separators, tasks
from .dividing import divide
from .domains import cut
from .factor import PartedFactor, gathered
from .passes import Passes, Tickets
from .tasks import Facts, Store
from .touched import Touched, touched
from .tree import tree
from .workers import Tell, Workers

Division = Callable[[Network, tuple[Touched, ...], Floats, int], list[Ints]]
_PER_WORKER = 4
"""Domains a worker, about: so that all have work, though domains differ in size."""
_LEAST = 100
"""Marks a domain should have at least."""


def domains_wanted(marks: int, workers: int) -> int:
    """Return into how many domains to divide: a power of two.

    Parameters
    ----------
    marks, workers : int

    Returns
    -------
    int

    Examples
    --------
    >>> domains_wanted(200_000, 2), domains_wanted(150, 4)
    (8, 2)
    """
    most = max(2, marks // _LEAST)
    wanted = min(_PER_WORKER * workers, most)
    return 1 << max(1, int(np.log2(wanted)))


def estimate_in_parts(
    network: Network,
    mode: str = "constrained",
    *,
    workers: Workers,
    store: Store,
    domains: int = 0,
    division: Division = divide,
    over: str | Sequence[str] | None = None,
    progress: Tell | None = None,
) -> Adjustment:
    """Adjust a network as ``estimate`` does, its parts held and solved by workers.

    Where the iteration starts, how the network is divided, and what is asked of the
    result afterwards is done here; equations, elimination, solution and covariances
    of a domain by the worker that holds it.

    Parameters
    ----------
    network : Network
    mode : "minimal", "constrained" or "free"
    workers : Workers
    store : Store
        Where domains wait, and results are left.
    domains : int, optional
        A power of two; 0: by the number of workers.
    division : callable, optional
        Says the domain of every observation, as ``divide`` does; any will do that
        leaves correlated observations together.
    over : "known", "all" or names of marks, optional
    progress : callable, optional

    Returns
    -------
    Adjustment
        Its factor asks the workers, who must stay as long as it is used.

    Raises
    ------
    NoSolution
    CommandError
        The datum holds an azimuth, which no domain by itself can.
    """
    refuse_not_finite(network)
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        tell = progress or (lambda words: None)
        hold = datum(network, mode)
        if hold.azimuth is not None:
            raise CommandError(
                f"adjust {mode} holds an azimuth here, which is not divided among "
                "workers: leave --workers out, or hold a second known mark"
            )
        count = domains or domains_wanted(len(network.marks), workers.count)
        to = _Divided(division, count)
        made = _prepared(network, hold, workers, store, to, tell)
        stages, above, iterations = _iterated(made, tell)
        tell("covariances")
        factor, nodes = _finished(made, stages, above, tell)
        return result(network, hold, nodes, made.columns, factor, iterations, over)


@dataclass(frozen=True, slots=True)
class _Divided:
    """How to divide a network, and into how many domains at most."""

    division: Division
    count: int


@dataclass(frozen=True, slots=True)
class _Parted:
    """A network divided, its domains with the workers."""

    network: Network
    hold: Datum
    columns: Ints
    begin: Nodes
    passes: Passes
    store: Store
    opened: Tickets
    unknowns: Mapping[int, Ints]
    elsewhere: Floats
    """(3,) sum of the positions of marks that no domain has."""


def _prepared(
    network: Network,
    hold: Datum,
    workers: Workers,
    store: Store,
    to: "_Divided",
    tell: Tell,
) -> _Parted:
    columns = unknown_columns(network, hold)
    if not (columns >= 0).any():
        raise nothing_to_estimate(network)
    begin = begin_at(network, hold)
    kinds = touched(network, hold)
    levels = max(0, to.count.bit_length() - 1)
    marks = len(network.marks)
    tell(f"dividing into {to.count} domains")
    domain_of = to.division(network, kinds, begin.xyz[:marks], levels)
    plan = tree(network, columns, kinds, domain_of, levels)
    passes = Passes(plan, workers)
    opened, unknowns, reached = {}, {}, np.zeros(marks, dtype=bool)
    for domain in cut(network, hold, columns, begin, kinds, domain_of, plan.owner):
        place = (1 << plan.levels) + domain.number
        store.put(domain)
        opened[place] = passes.submit(place, tasks.opened, store, domain.number)
        unknowns[place] = domain.unknowns
        reached[domain.nodes[domain.nodes < marks]] = True
    elsewhere = begin.xyz[:marks][~reached].sum(axis=0)
    return _Parted(
        network, hold, columns, begin, passes, store, opened, unknowns, elsewhere
    )


def _middle(some: _Parted, facts: Sequence[Facts]) -> Floats | None:
    """Return the middle of all marks, where anything is turned about it."""
    if some.network.vectors.parameter is None:
        return None
    if not facts:
        return np.asarray(some.begin.xyz[: len(some.network.marks)].mean(axis=0))
    total = some.elsewhere + sum(fact.middle for fact in facts)
    return np.asarray(total / len(some.network.marks))


def _iterated(some: _Parted, tell: Tell) -> tuple[Tickets, Tickets, int]:
    """Return the domains as they end, the separators, and the iterations."""
    passes = some.passes
    places: dict[int, Any] = dict.fromkeys(passes.tree.leaves)
    said: list[Facts] = []
    left = 0.0
    for iteration in range(1, LIMIT + 1):
        tell(f"iteration {iteration}")
        middle = _middle(some, said)
        stages = {
            leaf: passes.submit(
                leaf, tasks.eliminated, some.opened[leaf], places[leaf], middle
            )
            for leaf in passes.tree.leaves
        }
        above = passes.joined(stages)
        said = _told(passes, stages, tell)
        try:
            _refuse_floating(some, stages, above)
        except NoSolution:
            if left > WILD:
                break
            raise
        stages, first, said = _step(some, stages, above, said)
        if np.isfinite(first):
            stages, left, said = _step(some, stages, above, said)
        if not np.isfinite(first) or not np.isfinite(left):
            left = float("inf")
            break
        if left < CONVERGED and first < near(some.network):
            return stages, above, iteration
        places = passes.each(tasks.placed, stages)
        # Only where the nodes are is needed on; the factors go.
        del stages, above
    begin = equations(some.network, some.hold, some.begin)
    raise unsettled(some.network, begin, iteration, left)


def _told(passes: Passes, stages: Tickets, tell: Tell | None = None) -> list[Facts]:
    return list(passes.gather(passes.each(tasks.facts, stages), tell).values())


def _step(
    some: _Parted, stages: dict[int, Any], above: Tickets, said: list[Facts]
) -> tuple[dict[int, Any], float, list[Facts]]:
    """Move by a solution, or by half, a quarter … of it, as in one process.

    Returns
    -------
    stages : tickets
    largest : float
        The largest move before any halving, m or rad; infinite where numbers end.
    said : list of Facts
    """
    passes, before = some.passes, sum(fact.square_sum for fact in said)
    if not all(fact.finite for fact in said):
        return stages, float("inf"), said
    sides = passes.each(tasks.pull, stages)
    down = passes.solved(above, sides)
    middle, fraction = _middle(some, said), 1.0
    for _ in range(HALVINGS):
        there = {
            leaf: passes.submit(
                leaf, tasks.moved, stages[leaf], down[leaf // 2], fraction, middle
            )
            for leaf in passes.tree.leaves
        }
        now = _told(passes, there)
        largest = max(fact.largest for fact in now)
        small = fraction * largest < SMALL
        gained = sum(fact.square_sum for fact in now) <= before
        if small or not bends(some.network) or gained:
            break
        fraction /= 2
    return there, largest, now


def _refuse_floating(some: _Parted, stages: Tickets, above: Tickets) -> None:
    """Raise where something floats, with the names of all marks that do."""
    passes = some.passes
    said = passes.gather({1: passes.submit(1, separators.border, above[1])})
    if not said[1].free:
        return
    count = int(some.columns.max()) + 1
    found = [
        _spread(count, some.unknowns[leaf], null)
        for leaf, null in passes.gather(passes.each(tasks.null_of, stages)).items()
        if null.shape[1]
    ]
    if not found:
        found = _of_separators(some, stages, above, count)
    raise floating(some.network, some.begin, some.columns, np.hstack(found))


def _spread(count: int, unknowns: Ints, values: Floats) -> Floats:
    made = np.zeros((count, values.shape[1]))
    made[unknowns] = values
    return made


def _of_separators(
    some: _Parted, stages: Tickets, above: Tickets, count: int
) -> list[Floats]:
    """Return what the lowest separators that are not determined leave free."""
    passes, tree = some.passes, some.passes.tree
    gathered_ = passes.gather({p: above[p] for p in tree.separators()})
    bad = [p for p, one in gathered_.items() if one.null.shape[1]]
    lowest = [p for p in bad if not any(_is_above(p, q) for q in bad)]
    found = []
    for place in lowest:
        one = gathered_[place]
        made = np.zeros((count, one.null.shape[1]))
        known = {place: separators.Sides(one.columns, one.null)}
        made[one.columns] = one.null
        for below in sorted(p for p in tree.separators() if _is_above(place, p)):
            width = one.null.shape[1]
            none = separators.Raised(
                np.zeros((gathered_[below].size, width)), known[below // 2]
            )
            known[below] = separators.lowered(gathered_[below], none, known[below // 2])
            made[known[below].columns] = known[below].values
        for leaf in tree.leaves:
            if leaf // 2 in known:
                zero = np.zeros((len(some.unknowns[leaf]), one.null.shape[1]))
                ticket = passes.submit(
                    leaf, tasks.completed, stages[leaf], zero, known[leaf // 2]
                )
                made[some.unknowns[leaf]] = passes.gather({leaf: ticket})[leaf]
        found.append(made)
    return found


def _is_above(high: int, low: int) -> bool:
    while low > high:
        low //= 2
        if low == high:
            return True
    return False


def _finished(
    some: _Parted, stages: Tickets, above: Tickets, tell: Tell
) -> tuple[PartedFactor, Nodes]:
    """Return the factor and the nodes from the results that the domains left."""
    passes = some.passes
    inverse = passes.inverted(above)
    written = {
        leaf: passes.submit(
            leaf, tasks.finished, some.store, stages[leaf], inverse[leaf // 2]
        )
        for leaf in passes.tree.leaves
    }
    passes.gather(written, tell)
    del inverse
    xyz, values = some.begin.xyz.copy(), some.begin.values.copy()
    results: list[Mapping[str, Any]] = []
    for leaf in passes.tree.leaves:
        one = some.store.kept(leaf - (1 << passes.tree.levels))
        places = one["node"] < len(xyz)
        xyz[one["node"][places]] = one["xyz"]
        values[one["node"][~places] - len(xyz)] = one["values"]
        results.append({k: one[k] for k in ("row", "column", "covariance")})
    count = int(some.columns.max()) + 1
    factor = PartedFactor(
        passes, stages, above, some.unknowns, count, *gathered(results, count)
    )
    marks = len(some.network.marks)
    return factor, nodes_at(some.network, xyz[:marks], xyz[marks:], values)
