"""The iteration: from a network to its adjustment, or to the words why not."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import NamedTuple

import numpy as np

from ..networks import CommandError, Network, NoSolution
from ..networks.covariances import Floats, Ints
from . import dense
from .adjustment import Adjustment
from .constraint import azimuth_constraint
from .contradicted import MOST_UNKNOWNS
from .datum import Datum, datum
from .elimination import Elimination, Factor, elimination
from .equations import equations
from .floating import floating
from .free import lay
from .light import rows_at
from .misfit import Misfit, misfit_at
from .moves import (
    CONVERGED,
    bends,
    laid_anew,
    moved_by,
    on_held,
    refuse_held_twice,
)
from .nodes import Nodes, nodes_at
from .normal import right_side, weighted_square_sum, whiten
from .one_thread import one_thread
from .shared_plan import Planned, planned, shared_elimination
from .start import starting_positions, starting_values
from .unknowns import unknown_columns
from .unsettled import refuse_not_finite, unsettled

LIMIT, SLOW = 30, 100
"""Steps; so many for what moves less than ``NEARLY`` by then: with a blunder of a
hundred metres in it sights settle by a part of what is left at each step."""
NEARLY = 1e-3
"""m or rad."""
TRIAL = 8
"""Steps of an adjustment with something left out, to see whether it then settles."""
LOST = 100.0
"""m; what still moves so far after three steps of a trial will not settle."""
WILD = 1.0
"""m; marks that once still moved so far, and float later, have run away: what holds
too little together floats at the first step."""
HALVINGS = 12
SMALL = 0.01
"""m or rad; a shift that is taken as it is: rounding may hide what it gains."""

Progress = Callable[[str], None]


@one_thread
def estimate(
    network: Network,
    mode: str = "constrained",
    *,
    over: str | Sequence[str] | None = None,
    progress: Progress | None = None,
    arithmetic: str = "",
    like: Adjustment | None = None,
) -> Adjustment:
    """Adjust a network by least squares.

    Parameters
    ----------
    network : Network
    mode : "minimal", "constrained" or "free"
    over : "known", "all" or names of marks, optional
        Where a free network is laid.
    progress : callable, optional
        Told each step in words.
    arithmetic : str
        ``dense`` or ``sparse``; empty: whichever is the quicker. Results are the same.
    like : Adjustment, optional
        Of this network or of one that differs in figures alone: how it was eliminated
        serves again where it fits.

    Returns
    -------
    Adjustment

    Raises
    ------
    NoSolution
        Something floats, or the iteration does not settle; marks, freedoms and
        mend are named.
    """
    refuse_not_finite(network)
    # What overflows is found and named below, not warned of.
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        tell = progress or (lambda words: None)
        plan = None if like is None else planned(like)
        return _estimated(network, mode, over, tell, arithmetic, like=plan)


def _estimated(
    network: Network,
    mode: str,
    over: str | Sequence[str] | None,
    tell: Progress,
    arithmetic: str,
    limit: int = 0,
    like: Planned | None = None,
) -> Adjustment:
    hold = datum(network, mode)
    columns = unknown_columns(network, hold)
    if not (columns >= 0).any():
        raise nothing_to_estimate(network)
    place = [begin_at(network, hold)]
    solver: Elimination | None = None
    left = farthest = 0.0
    for iteration in range(1, (limit or SLOW) + 1):
        tell(f"iteration {iteration}")
        try:
            step = _step((network, hold, columns), place, solver, arithmetic, like)
        except NoSolution:
            if farthest > WILD:
                break
            raise
        except FloatingPointError:
            left = float("inf")
            break
        place, left, solver = [step.nodes], step.left, step.solver
        if left < CONVERGED and step.first < near(network):
            nodes, factor = step.nodes, step.factor
            return result(network, hold, nodes, columns, factor, iteration, over)
        farthest = max(farthest, left)
        # The next factor is made where this one was.
        del step
        place = [laid_anew(network, place.pop())]
        if _is_lost(iteration, left, limit):
            break
    try_each = None
    if not limit and columns.max() < MOST_UNKNOWNS:
        tell("looking for what does not fit")
        try_each = partial(_attempts, mode)
    system = equations(network, hold, begin_at(network, hold))
    raise unsettled(network, system, iteration, left, try_each)


def _is_lost(iteration: int, left: float, limit: int) -> bool:
    """Return whether what still moves so far will not settle; a trial ends sooner."""
    if limit:
        return iteration > 2 and left > LOST
    return iteration >= LIMIT and left > NEARLY


def _attempts(mode: str, networks: Sequence[Network]) -> list[Adjustment | None]:
    """Return the adjustments of networks with something left out; None for none."""
    from .together import trials  # late: it takes many through the steps made here

    return trials(networks, mode, partial(_attempt, mode))


def _attempt(mode: str, network: Network) -> Adjustment | None:
    """Return the adjustment of a network with something left out; None if none."""
    try:
        return _estimated(network, mode, None, lambda words: None, "", TRIAL)
    except (NoSolution, CommandError):
        return None


def nothing_to_estimate(network: Network) -> NoSolution:
    """Return the words for a network without unknowns."""
    return NoSolution(
        "there is nothing to estimate: no observation reaches an unknown mark",
        network.marks.name,
        mend="check that baselines.csv or positions.csv has rows in use",
    )


def begin_at(network: Network, hold: Datum) -> Nodes:
    """Return where an iteration starts."""
    nodes = nodes_at(network, starting_positions(network))
    nodes = on_held(network, hold, nodes, anew=True)
    refuse_held_twice(network, hold, nodes)
    return replace(nodes, values=starting_values(network, nodes))


def near(network: Network) -> float:
    """Return how far, m, a solution may lie from where it was linearised.

    Vectors and levels are linear over metres; the covariance of a sight, or of a
    vector that is turned, is not.
    """
    return CONVERGED if bends(network) else 1.0


class _Stepped(NamedTuple):
    factor: Factor
    nodes: Nodes
    first: float
    """m or rad; the largest move of the step."""
    left: float
    """m or rad; what the second solution still moved."""
    solver: Elimination


def _step(
    at: tuple[Network, Datum, Ints],
    place: list[Nodes],
    solver: Elimination | None,
    arithmetic: str,
    like: Planned | None,
) -> _Stepped:
    """Solve once, move, and solve again with the same factor for what is left.

    The second solution is both the refinement step and the test of convergence: its
    misclosures are formed anew from the observations at the moved positions.
    """
    network, hold, columns = at
    nodes = place[0]
    system = equations(network, hold, nodes)
    rows = [batch for some in system for batch in whiten(some, columns)]
    bound = azimuth_constraint(network, hold, nodes, columns)
    if solver is None and arithmetic != "dense":
        solver = shared_elimination(like, rows, bound)
    if solver is None:
        solver = elimination(
            network, hold, nodes, columns, system, rows, bound, arithmetic
        )
    del system
    matrix = solver.matrix(rows)
    if isinstance(matrix, np.ndarray):
        _finite(matrix)
    misfit = Misfit(right_side(rows, solver.count), weighted_square_sum(rows))
    # A million marks are two gigabytes of rows: none is kept beside the factor, nor
    # while the next are formed.
    rows = rows if bound else []
    try:
        factor = solver.factor(rows, matrix, bound)
    except dense.Singular as singular:
        raise floating(network, nodes, columns, singular.null) from None
    # The caller's list alone holds them: they are let go as they move.
    del nodes
    sizes = []
    for last in (False, True):
        pull, rows = _finite(misfit.pull), []
        if bound:
            start = bound.particular()
            shift = start + factor.solve(pull - matrix @ start)
        else:
            shift = factor.solve(pull)
        sizes.append(float(np.abs(shift).max()))
        misfit = _down((network, hold, columns), place, misfit, shift, last)
        bound = azimuth_constraint(network, hold, place[0], columns)
    return _Stepped(factor, place[0], sizes[0], sizes[1], solver)


def _finite(values: Floats) -> Floats:
    """Return the values; marks that ran beyond all numbers end the iteration."""
    if not np.isfinite(values).all():
        raise FloatingPointError("the iteration ran away")
    return values


def _down(
    at: tuple[Network, Datum, Ints],
    place: list[Nodes],
    here: Misfit,
    shift: Floats,
    last: bool,
) -> Misfit:
    """Move, by half, a quarter … of a shift where the whole makes the misfit larger.

    Lines of sight and turned vectors bend a long shift; other vectors and levels do
    not. Of the last shift the misfit is formed only where it is looked at. The nodes
    in the list give way to those that moved: of a million marks both are much.
    """
    network, hold, columns = at
    there = here
    for _ in range(HALVINGS):
        plain = np.abs(shift).max() < SMALL or not bends(network)
        nodes = [place.pop() if plain else place[0]]
        moved = on_held(network, hold, moved_by(network, nodes.pop(), columns, shift))
        if plain and last:
            break
        there = misfit_at((network, hold, columns, moved), len(shift))
        if plain or there.square_sum <= here.square_sum:
            break
        shift = shift / 2
    place[:] = [moved]
    return there


def result(
    network: Network,
    hold: Datum,
    nodes: Nodes,
    columns: Ints,
    factor: Factor,
    iterations: int,
    over: str | Sequence[str] | None,
) -> Adjustment:
    """Return the adjustment where an iteration ended."""
    inner = None
    if hold.mode == "free" and hold.held:
        nodes, inner = lay(network, nodes, columns, factor, over)
    system, rows = rows_at(network, hold, nodes, columns)
    return Adjustment(
        network, hold, nodes, columns, system, rows, factor, inner, iterations
    )
