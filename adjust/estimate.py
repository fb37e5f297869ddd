"""The iteration: from a network to its adjustment, or to the words why not."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from ..networks import Network, NoSolution
from ..networks.covariances import Floats, Ints
from . import dense
from .adjustment import Adjustment
from .constraint import azimuth_constraint
from .datum import Datum, datum
from .equations import equations
from .equations.known_marks import known_minus
from .floating import floating
from .free import lay
from .nodes import Nodes, nodes_at
from .normal import normal_matrix, right_side, whiten
from .observed import free_components
from .start import starting_positions, starting_values
from .unknowns import unknown_columns

_CONVERGED = 1e-5
"""m: 0.01 mm."""
_LIMIT = 15

Progress = Callable[[str], None]


def estimate(
    network: Network,
    mode: str = "constrained",
    *,
    over: str | Sequence[str] | None = None,
    progress: Progress | None = None,
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

    Returns
    -------
    Adjustment

    Raises
    ------
    NoSolution
        Something floats, or the iteration does not settle; marks, freedoms and
        mend are named.
    """
    hold = datum(network, mode)
    columns = unknown_columns(network, hold)
    if not (columns >= 0).any():
        raise NoSolution(
            "there is nothing to estimate: no observation reaches an unknown mark",
            network.marks.name,
            mend="check that baselines.csv or positions.csv has rows in use",
        )
    tell = progress or (lambda words: None)
    nodes = nodes_at(network, starting_positions(network))
    nodes = _on_held(network, hold, nodes)
    nodes = replace(nodes, values=starting_values(network, nodes))
    for iteration in range(1, _LIMIT + 1):
        tell(f"iteration {iteration}")
        factor, nodes, first, second = _step(network, hold, columns, nodes)
        if second < _CONVERGED and first < _near(network):
            return _result(network, hold, nodes, columns, factor, iteration, over)
    raise NoSolution(
        f"the iteration does not settle: after {_LIMIT} steps a mark still moves by "
        f"{second:.3f} m",
        mend="give better approximate positions in stations.csv",
    )


def _near(network: Network) -> float:
    """Return how far, m, a solution may lie from where it was linearised.

    Vectors and levels are linear over metres; the covariance of a sight is not.
    """
    return _CONVERGED if network.sights else 1.0


def _step(
    network: Network, hold: Datum, columns: Ints, nodes: Nodes
) -> tuple[dense.DenseFactor, Nodes, float, float]:
    """Solve once, move, and solve again with the same factor for what is left.

    The second solution is both the refinement step and the test of convergence: its
    misclosures are formed anew from the observations at the moved positions.
    """
    count = int(columns.max()) + 1
    system = equations(network, hold, nodes)
    rows = [batch for some in system for batch in whiten(some, columns)]
    matrix = normal_matrix(rows, count)
    bound = azimuth_constraint(network, hold, nodes, columns)
    try:
        factor = dense.factor(matrix, bound.basis() if bound else None)
    except dense.Singular as singular:
        raise floating(network, nodes, columns, singular.null) from None
    sizes = []
    for _ in range(2):
        start = bound.particular() if bound else np.zeros(count)
        shift = start + factor.solve(right_side(rows, count) - matrix @ start)
        sizes.append(float(np.abs(shift).max()))
        nodes = _on_held(network, hold, _moved(network, nodes, columns, shift))
        system = equations(network, hold, nodes)
        rows = [batch for some in system for batch in whiten(some, columns)]
        bound = azimuth_constraint(network, hold, nodes, columns)
    return factor, nodes, sizes[0], sizes[1]


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
    factor: dense.DenseFactor,
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
