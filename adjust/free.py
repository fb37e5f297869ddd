"""Inner constraints: a network laid on its own marks, by S-transformation.

Observations that only see differences leave shifts free, directions also a turn,
angles alone a scale. Any minimal solution is
turned into the one that favours no mark: x − G(GᵀBG)⁻¹GᵀBx, with G the shifts and
B the marks it is laid on (Baarda 1973, from memory; any text on free networks).
Residuals and tests are those of the minimal solution.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..networks import CommandError, Network
from ..networks.covariances import Bools, Floats, Ints
from .elimination import Factor
from .equations.known_marks import known_minus
from .moves import bends
from .nodes import Nodes, nodes_at
from .observed import free_scale, free_turn, observed_components, shift_to_find

_STEPS = 20
_NEAR = 1.0
"""m; carried less than this, axes stay those for which the matrix was factored."""
_LAID = 5e-9
"""m: nearer than this a network lies where it is to be laid."""


@dataclass(frozen=True, slots=True)
class InnerConstraints:
    """What turns covariances of a minimal solution into those of the free one."""

    shifts: Floats
    """(N, 3, d) effect G of each freedom on east, north, up of each node."""
    coupling: Floats
    """(N, 3, d) Q B G (GᵀBG)⁻¹ of the minimal solution."""
    own: Floats
    """(d, d) covariance of the freedoms themselves."""
    over: tuple[str, ...]
    """Names of the marks it is laid on."""
    on_known: bool
    """Whether it is laid against known coordinates; else it stands where the minimal
    solution happened to stand, and is not to be compared with them."""

    def transform(self, blocks: Floats, first: Ints, second: Ints) -> Floats:
        """Return S Q Sᵀ of blocks (k, 3, 3) of the minimal solution."""
        g_first, g_second = self.shifts[first], self.shifts[second]
        cross = g_first @ np.swapaxes(self.coupling[second], 1, 2)
        other = self.coupling[first] @ np.swapaxes(g_second, 1, 2)
        return blocks - cross - other + g_first @ self.own @ np.swapaxes(g_second, 1, 2)


def lay(
    network: Network,
    nodes: Nodes,
    columns: Ints,
    factor: Factor,
    over: str | Sequence[str] | None,
) -> tuple[Nodes, InnerConstraints]:
    """Return the nodes shifted onto the chosen marks, and the constraints.

    Against known coordinates where every chosen mark has them, else against the
    minimal solution itself.

    Parameters
    ----------
    over : "known", "all", or names of marks; default the known marks, else all.
    """
    count = len(network.marks)
    for _ in range(_STEPS):
        chosen, reference, on_known = _chosen(network, nodes, over)
        shifts = freedoms(network, nodes)
        weighted = shifts[:count] * chosen[:, :, None]
        normal = np.einsum("mid,mie->de", weighted, weighted)
        difference = np.where(chosen, reference, 0.0)
        move = np.linalg.solve(normal, np.einsum("mid,mi->d", weighted, difference))
        if np.abs(shifts[: len(nodes.xyz)] @ move).max(initial=0.0) < _LAID:
            break
        nodes = _carried(network, nodes, move)
    spread = np.zeros((int(columns.max(initial=-1)) + 2, shifts.shape[2]))
    np.add.at(spread, columns[:count], weighted)
    columned = np.linalg.solve(normal, spread[:-1].T).T
    solved = np.concatenate([factor.solve(columned), np.zeros((1, columned.shape[1]))])
    names = tuple(network.marks.name[m] for m in np.flatnonzero(chosen.any(axis=1)))
    own = columned.T @ solved[:-1]
    return nodes, InnerConstraints(shifts, solved[columns], own, names, on_known)


def _carried(network: Network, nodes: Nodes, move: Floats) -> Nodes:
    """Return the nodes carried as a whole by shift, turn and scale.

    Exactly, not to first order: a large turn must not make the network grow, or its
    residuals would no longer be those of the minimal solution.
    """
    marks = len(network.marks)
    observed = observed_components(network)
    middle, ways = _middle(network, nodes, observed)
    some = np.flatnonzero(observed[:marks].any(axis=0))
    shift = move[: len(some)] @ ways[some]
    turns, sizes = free_turn(network), free_scale(network)
    angle = move[len(some)] if turns else 0.0
    cross = np.cross(ways[2], np.eye(3)).T
    turn = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * (cross @ cross)
    arm = nodes.xyz - middle
    carried = (1 + (move[-1] if sizes else 0.0)) * arm @ turn.T + shift - arm
    local = np.einsum("nij,nj->ni", nodes.axes, carried) * observed
    taken = freedoms(network, nodes)[len(nodes.xyz) :, 0] @ move
    xyz = nodes.xyz + np.einsum("nij,ni->nj", nodes.axes, local)
    values = nodes.values + taken
    if not bends(network) and np.abs(carried).max(initial=0.0) < _NEAR:
        return replace(nodes, xyz=xyz, values=values)
    return nodes_at(network, xyz[:marks], xyz[marks:], values)


def _middle(network: Network, nodes: Nodes, observed: Bools) -> tuple[Floats, Floats]:
    """Return the middle of the observed marks, and the axes there."""
    marks = len(network.marks)
    middle = nodes.xyz[:marks][observed[:marks].any(axis=1)].mean(axis=0)
    return middle, network.frame.axes(middle[None])[0]


def freedoms(network: Network, nodes: Nodes) -> Floats:
    """Return G, (N + q, 3, d): shifts, turn and scale that the observations allow.

    On a curved earth a turn of a network of sights is a freedom to first order only:
    the verticals feel it by its size over the earth's radius.
    """
    marks, places = len(network.marks), len(nodes.xyz)
    observed = observed_components(network)
    middle, ways = _middle(network, nodes, observed)
    arm = nodes.xyz - middle
    some = np.asarray(observed[:marks].any(axis=0))
    moves = [np.broadcast_to(ways[k], arm.shape) for k in np.flatnonzero(some)]
    turns, sizes = free_turn(network), free_scale(network)
    if turns:
        moves.append(np.cross(ways[2], arm))
    if sizes:
        moves.append(arm)
    shifts = np.zeros((places + len(network.parameters), 3, len(moves)))
    local = np.stack([np.einsum("nij,nj->ni", nodes.axes, m) for m in moves], axis=2)
    shifts[:places] = local * observed[:, :, None]
    _taken_by_parameters(network, shifts[places:, 0], some, turns, sizes)
    return shifts


def _taken_by_parameters(
    network: Network, taken: Floats, some: Bools, turns: bool, sizes: bool
) -> None:
    """Say, in place, what the freedoms (columns) do to each parameter, (q, d).

    A turn against the clock takes as much off every orientation and every turn of
    vectors, a larger network off every scale, a shift off the shift of positions.
    """
    kinds = np.array(network.parameters.kind, dtype=object)
    last = taken.shape[1] - 1
    if turns:
        turned = np.isin(kinds, ["orientation", "vector turn"])
        taken[turned, last - sizes] = -1.0
    if sizes:
        taken[np.isin(kinds, ["vector scale", "distance scale"]), last] = -1.0
    parameter = network.positions.parameter
    if parameter is not None:
        for column, k in enumerate(np.flatnonzero(some).tolist()):
            taken[parameter[parameter[:, k] >= 0, k], column] = -1.0


def known_components(network: Network) -> Bools:
    """Return (n, 3): components of the known rows that a network can be laid on."""
    rows = network.known.components & network.known.used[:, None]
    if network.known.orthometric is not None and shift_to_find(network):
        # Nothing says yet how high the geoid is.
        rows[:, 2] &= ~network.known.orthometric
    return rows


def _chosen(
    network: Network, nodes: Nodes, over: str | Sequence[str] | None
) -> tuple[Bools, Floats, bool]:
    """Return the components laid on, known minus present there, and whether known.

    The second is 0 where the marks laid on are not all known: then the network stays
    where it is.
    """
    count = len(network.marks)
    known = np.zeros((count, 3), dtype=bool)
    rows = known_components(network)
    np.logical_or.at(known, network.known.mark, rows)
    difference = np.zeros((count, 3))
    for row, values in enumerate(known_minus(network, nodes)):
        use = rows[row]
        difference[network.known.mark[row], use] = values[use]
    present = observed_components(network)[:count]
    if over is None:
        over = "known" if (known & present).any() else "all"
        if shift_to_find(network) and not _covers(known & present, present):
            over = "all"
    if over == "known":
        chosen = known & present
    elif over == "all":
        chosen = present
    else:
        chosen = present & _listed(network, over)[:, None]
    if not _covers(chosen, present):
        raise CommandError(
            "adjust free: the chosen marks do not cover east, north and height; "
            "use --over all, or name marks that the observations reach"
        )
    against_known = bool((known | ~chosen).all())
    if not against_known:
        difference = np.zeros((count, 3))
    return chosen, difference, against_known


def _covers(chosen: Bools, present: Bools) -> bool:
    """Return whether chosen components (m, 3) lie in every way that is observed."""
    return bool((chosen.any(axis=0) | ~present.any(axis=0)).all())


def _listed(network: Network, over: str | Sequence[str]) -> Bools:
    names = [over] if isinstance(over, str) else list(over)
    unknown = [name for name in names if name not in network.marks.name]
    if unknown:
        raise CommandError(f"adjust free --over: no mark {', '.join(unknown)}")
    return np.isin(np.array(network.marks.name), names)
