"""The iteration of a network that is divided: the same steps, part by part."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from ...networks import CommandError, Network, NoSolution
from ...networks.covariances import Floats
from ..adjustment import Adjustment
from ..datum import datum
from ..equations import equations
from ..estimate import (
    HALVINGS,
    LIMIT,
    NEARLY,
    SLOW,
    SMALL,
    WILD,
    near,
)
from ..free import lay
from ..light import rows_at
from ..moves import CONVERGED, bends, laid_anew
from ..nodes import Nodes
from ..unsettled import refuse_not_finite, unsettled
from . import finishing, tasks
from .covariances import Covariances
from .dividing import divide
from .factor import PartedFactor
from .loose import refuse_floating
from .parted import (
    Divided,
    Division,
    Parted,
    domains_wanted,
    middle_of,
    prepared,
)
from .passes import Passes, Tickets
from .store import Store
from .tasks import Facts
from .whole import PartedAdjustment
from .workers import Tell, Workers


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
        to = Divided(division, count)
        ended = _iterated(*prepared(network, hold, workers, store, to, tell), tell)
        tell("covariances")
        return _finished(ended, over, tell)


def _middle(some: Parted, facts: Sequence[Facts]) -> Floats | None:
    """Return the middle of all marks, where anything is turned about it."""
    total = some.elsewhere + sum(fact.middle for fact in facts)
    return middle_of(some.network, total)


class _Ended(NamedTuple):
    """Where the iteration ended."""

    parted: Parted
    stages: Tickets
    above: Tickets
    said: list[Facts]
    iterations: int


def _iterated(some: Parted, begun: dict[int, Any], tell: Tell) -> _Ended:
    """Iterate until the network is settled, or say why it does not."""
    passes = some.passes
    stages: Tickets = {**begun}
    # Who called holds them too: what the first step made must go with the second.
    begun.clear()
    left = farthest = 0.0
    for iteration in range(1, SLOW + 1):
        tell(f"iteration {iteration}")
        above = passes.joined(stages)
        said = _told(passes, stages, tell)
        try:
            refuse_floating(some, stages, above)
        except NoSolution:
            if farthest > WILD:
                break
            raise
        stages, first, said = _step(some, stages, above, said, True)
        if np.isfinite(first):
            stages, left, said = _step(some, stages, above, said, False)
        if not np.isfinite(first) or not np.isfinite(left):
            left = float("inf")
            break
        if left < CONVERGED and first < near(some.network):
            return _Ended(some, stages, above, said, iteration)
        farthest = max(farthest, left)
        if iteration >= LIMIT and left > NEARLY:
            break
        stages = _again(some, stages, _middle(some, said))
        del above
    begin = equations(some.network, some.hold, some.begin)
    raise unsettled(some.network, begin, iteration, left)


def _again(some: Parted, stages: Tickets, middle: Floats | None) -> Tickets:
    """Return tickets for the domains, eliminated where their nodes now are."""
    passes, places = some.passes, some.passes.each(tasks.placed, stages)
    return {
        leaf: passes.submit(
            leaf, tasks.eliminated, some.store, some.opened[leaf], places[leaf], middle
        )
        for leaf in passes.tree.leaves
    }


def _told(passes: Passes, stages: Tickets, tell: Tell | None = None) -> list[Facts]:
    return list(passes.gather(passes.each(tasks.facts, stages), tell).values())


def _step(
    some: Parted, stages: Tickets, above: Tickets, said: list[Facts], on: bool
) -> tuple[Tickets, float, list[Facts]]:
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
    sides = passes.each(tasks.pulled, stages)
    down = passes.solved(above, sides)
    middle, fraction = _middle(some, said), 1.0
    for _ in range(HALVINGS):
        there = {
            leaf: passes.submit(
                leaf, tasks.moved, stages[leaf], down[leaf // 2], fraction, middle, on
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


def _whole(some: Parted, said: Sequence[Facts]) -> finishing.Whole:
    """Return what tests of a domain need of the whole."""
    observed = sum(fact.observed for fact in said)
    square_sum = float(sum(fact.square_sum for fact in said))
    freedom = observed - some.count
    return finishing.Whole(square_sum, freedom, _middle(some, said))


def _finished(
    ended: _Ended, over: str | Sequence[str] | None, tell: Tell
) -> PartedAdjustment:
    """Return the adjustment from the results that the domains leave."""
    some, stages = ended.parted, ended.stages
    passes = some.passes
    inverse, whole = passes.inverted(ended.above), _whole(some, ended.said)
    written = {
        leaf: passes.submit(
            leaf,
            finishing.finished,
            some.store,
            stages[leaf],
            inverse[leaf // 2],
            whole,
        )
        for leaf in passes.tree.leaves
    }
    passes.gather(written, tell)
    del inverse
    factor = PartedFactor(
        passes, stages, ended.above, some.unknowns, some.count, _covariances(some)
    )
    network, hold, columns = some.network, some.hold, some.columns
    nodes, inner = _nodes(some, ended.iterations), None
    if hold.mode == "free" and hold.held:
        nodes, inner = lay(network, nodes, columns, factor, over)
    system, rows = rows_at(network, hold, nodes, columns)
    return PartedAdjustment(
        network, hold, nodes, columns, system, rows, factor, inner, ended.iterations,
        whole.square_sum, whole.freedom, some.store, some.numbers,
    )  # fmt: skip


def _covariances(some: Parted) -> Covariances:
    """Return where covariances that the domains left are looked up."""
    home = np.full(some.count, -1)
    alone = some.passes.tree.owner < 0
    for place, leaf in enumerate(some.passes.tree.leaves):
        unknowns = some.unknowns[leaf]
        home[unknowns[alone[unknowns]]] = place
    return Covariances(some.store, some.numbers, home)


def _nodes(some: Parted, iterations: int) -> Nodes:
    """Return where the nodes are, as the domains that answer for them say.

    In the axes for which the matrix was factored, as the domains have them.
    """
    xyz, values = some.begin.xyz.copy(), some.begin.values.copy()
    for number in some.numbers:
        one = some.store.kept(number, finishing.SOLUTION)
        places = one["node"] < len(xyz)
        xyz[one["node"][places]] = one["xyz"]
        values[one["node"][~places] - len(xyz)] = one["values"]
    there = replace(some.begin, xyz=xyz, values=values)
    if iterations == 1 and not bends(some.network):
        return there
    return laid_anew(some.network, there)
