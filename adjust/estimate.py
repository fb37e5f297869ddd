"""The iteration: from a network to its adjustment, or to the words why not."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ..networks import Network, NoSolution
from ..networks.covariances import Floats, Ints
from . import dense
from .adjustment import Adjustment
from .constraint import azimuth_constraint
from .datum import Datum, datum
from .elimination import Elimination, Factor, elimination
from .equations import equations
from .equations.known_marks import known_minus
from .floating import floating
from .free import lay
from .nodes import Nodes, nodes_at
from .normal import (
    Whitened,
    right_side,
    weighted_square_sum,
    whiten,
)
from .observed import free_components
from .start import starting_positions, starting_values
from .unknowns import unknown_columns
from .unsettled import refuse_not_finite, unsettled

_CONVERGED = 1e-5
"""m: 0.01 mm."""
_LIMIT = 30
_WILD = 1.0
"""m; marks that still move so far and then float have run away."""
_HALVINGS = 12
_SMALL = 0.01
"""m or rad; a shift that is taken as it is: rounding may hide what it gains."""

Progress = Callable[[str], None]


def estimate(
    network: Network,
    mode: str = "constrained",
    *,
    over: str | Sequence[str] | None = None,
    progress: Progress | None = None,
    arithmetic: str = "",
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
        return _estimated(network, mode, over, tell, arithmetic)


def _estimated(
    network: Network,
    mode: str,
    over: str | Sequence[str] | None,
    tell: Progress,
    arithmetic: str,
) -> Adjustment:
    hold = datum(network, mode)
    columns = unknown_columns(network, hold)
    if not (columns >= 0).any():
        raise NoSolution(
            "there is nothing to estimate: no observation reaches an unknown mark",
            network.marks.name,
            mend="check that baselines.csv or positions.csv has rows in use",
        )
    nodes = begin = _begin(network, hold)
    solver: Elimination | None = None
    left = 0.0
    for iteration in range(1, _LIMIT + 1):
        tell(f"iteration {iteration}")
        try:
            step = _step(network, hold, columns, nodes, solver, arithmetic)
        except NoSolution:
            if left > _WILD:
                break
            raise
        except FloatingPointError:
            left = float("inf")
            break
        nodes, left, solver = step.nodes, step.left, step.solver
        if left < _CONVERGED and step.first < _near(network):
            return _result(network, hold, nodes, columns, step.factor, iteration, over)
    raise unsettled(network, equations(network, hold, begin), iteration, left)


def _begin(network: Network, hold: Datum) -> Nodes:
    nodes = nodes_at(network, starting_positions(network))
    nodes = _on_held(network, hold, nodes)
    _refuse_held_twice(network, hold, nodes)
    return replace(nodes, values=starting_values(network, nodes))


def _near(network: Network) -> float:
    """Return how far, m, a solution may lie from where it was linearised.

    Vectors and levels are linear over metres; the covariance of a sight, or of a
    vector that is turned, is not.
    """
    return _CONVERGED if _bends(network) else 1.0


def _bends(network: Network) -> bool:
    """Return whether partials change as the unknowns do."""
    return bool(network.sights) or network.vectors.parameter is not None


class _Stepped(NamedTuple):
    factor: Factor
    nodes: Nodes
    first: float
    """m or rad; the largest move of the step."""
    left: float
    """m or rad; what the second solution still moved."""
    solver: Elimination


def _step(
    network: Network,
    hold: Datum,
    columns: Ints,
    nodes: Nodes,
    solver: Elimination | None,
    arithmetic: str,
) -> _Stepped:
    """Solve once, move, and solve again with the same factor for what is left.

    The second solution is both the refinement step and the test of convergence: its
    misclosures are formed anew from the observations at the moved positions.
    """
    system = equations(network, hold, nodes)
    rows = [batch for some in system for batch in whiten(some, columns)]
    bound = azimuth_constraint(network, hold, nodes, columns)
    if solver is None:
        at = (network, hold, nodes, columns)
        solver = elimination(*at, system, rows, bound, arithmetic)
    matrix = solver.matrix(rows)
    if isinstance(matrix, np.ndarray):
        _finite(matrix)
    try:
        factor = solver.factor(rows, matrix, bound)
    except dense.Singular as singular:
        raise floating(network, nodes, columns, singular.null) from None
    sizes = []
    for _ in range(2):
        pull = _finite(right_side(rows, solver.count))
        if bound:
            start = bound.particular()
            shift = start + factor.solve(pull - matrix @ start)
        else:
            shift = factor.solve(pull)
        sizes.append(float(np.abs(shift).max()))
        nodes, rows = _down(network, hold, columns, nodes, rows, shift)
        bound = azimuth_constraint(network, hold, nodes, columns)
    return _Stepped(factor, nodes, sizes[0], sizes[1], solver)


def _finite(values: Floats) -> Floats:
    """Return the values; marks that ran beyond all numbers end the iteration."""
    if not np.isfinite(values).all():
        raise FloatingPointError("the iteration ran away")
    return values


def _down(
    network: Network,
    hold: Datum,
    columns: Ints,
    nodes: Nodes,
    rows: list[Whitened],
    shift: Floats,
) -> tuple[Nodes, list[Whitened]]:
    """Move, by half, a quarter … of a shift where the whole makes the misfit larger.

    Lines of sight and turned vectors bend a long shift; other vectors and levels do
    not.
    """
    before = weighted_square_sum(rows)
    for _ in range(_HALVINGS):
        moved = _on_held(network, hold, _moved(network, nodes, columns, shift))
        system = equations(network, hold, moved)
        there = [batch for some in system for batch in whiten(some, columns)]
        small = np.abs(shift).max() < _SMALL
        if small or not _bends(network) or weighted_square_sum(there) <= before:
            break
        shift = shift / 2
    return moved, there


def _moved(network: Network, nodes: Nodes, columns: Ints, shift: Floats) -> Nodes:
    padded = np.concatenate([shift, [0.0]])
    return _nodes_after(network, *nodes.moved(padded[columns]))


def _nodes_after(network: Network, xyz: Floats, values: Floats) -> Nodes:
    """Return the nodes with the axes laid anew where the marks now are."""
    marks = len(network.marks)
    return nodes_at(network, xyz[:marks], xyz[marks:], values)


def _on_held(network: Network, hold: Datum, nodes: Nodes) -> Nodes:
    """Return the nodes with held components exactly at their known values.

    Set-ups that are exact there move along with their marks.
    """
    rows = hold.held_rows
    if not rows.any():
        return nodes
    shift = np.zeros((len(nodes.xyz) + len(nodes.values), 3))
    for _ in range(2):
        # A height laid after the plan moved: twice, since the two touch.
        shift[:] = 0
        difference = known_minus(network, nodes)
        known = network.known.mark
        for row in np.flatnonzero(rows.any(axis=1)):
            shift[known[row], rows[row]] = difference[row, rows[row]]
        moved = nodes.moved(_with_set_ups(network, shift))
        nodes = _nodes_after(network, *moved)
    return nodes


def _refuse_held_twice(network: Network, hold: Datum, nodes: Nodes) -> None:
    """Refuse a mark that two rows of control.csv hold at different places."""
    rows = hold.held_rows
    off = np.where(rows, np.abs(known_minus(network, nodes)), 0.0)
    apart = np.flatnonzero(off.max(axis=1, initial=0.0) > _CONVERGED)
    if len(apart):
        names = [network.marks.name[mark] for mark in network.known.mark[apart]]
        raise NoSolution(
            f"{', '.join(names)}: held at two places, {1000 * off.max():.1f} mm apart",
            names,
            mend="hold one of its rows in control.csv, set the other to check-only",
        )


def _with_set_ups(network: Network, shift: Floats) -> Floats:
    count = len(network.marks)
    along = shift[:count][network.set_ups.mark]
    places = count + len(network.set_ups)
    shift[count:places] = np.where(free_components(network), 0.0, along)
    return shift


def _result(
    network: Network,
    hold: Datum,
    nodes: Nodes,
    columns: Ints,
    factor: Factor,
    iterations: int,
    over: str | Sequence[str] | None,
) -> Adjustment:
    inner = None
    if hold.mode == "free" and hold.held:
        nodes, inner = lay(network, nodes, columns, factor, over)
    system = equations(network, hold, nodes)
    rows = tuple(batch for some in system for batch in whiten(some, columns))
    return Adjustment(
        network, hold, nodes, columns, system, rows, factor, inner, iterations
    )
