"""Many small networks adjusted at once: each step is array code over all of them.

A small network is nearly all calls: of 20 ms for twelve marks the arithmetic is one.
Side by side they are one network whose equations are formed together; only its normal
matrix falls apart, and is factored network by network.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from ..networks import CommandError, Network, NoSolution
from ..networks.covariances import Floats
from ..networks.side_by_side import alike
from . import dense
from .abreast import Group, Open, laid, laid_at, some_of
from .abreast_step import step_of
from .adjustment import Adjustment
from .datum import Datum, datum
from .elimination import DENSE
from .equations import equations
from .estimate import LIMIT, LOST, TRIAL, estimate, near
from .free import InnerConstraints, lay
from .moves import CONVERGED, laid_anew, off_held, on_held
from .parted import columns_of, nodes_of, rows_of
from .start import starting_positions, starting_values
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
        made: dict[int, Adjustment] = {}
        with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
            for some in _of_a_kind(portion):
                if len(some) > 1:
                    made |= _together(some, mode, over, begin)
        for k, network in enumerate(portion):
            # What did not come out is done by itself, which finds the words for it.
            yield made.pop(k) if k in made else _alone(network, mode, over)


def trials(
    networks: Sequence[Network],
    mode: str,
    alone: Callable[[Network], Adjustment | None],
) -> list[Adjustment | None]:
    """Return the adjustments of those networks that settle within a few steps.

    Parameters
    ----------
    networks : sequence of Network
        A few, each with something left out.
    mode : str
    alone : callable
        Adjusts one that does not lend itself to being taken with others.
    """
    made: dict[int, Adjustment] = {}
    for some in _of_a_kind(networks):
        made |= _together(some, mode, None, None, TRIAL, LOST)
    return [
        made.get(k) if _fit(network) else alone(network)
        for k, network in enumerate(networks)
    ]


def _of_a_kind(networks: Sequence[Network]) -> list[dict[int, Network]]:
    """Return those networks that can be taken together, by their numbers."""
    kinds: dict[tuple[object, ...], dict[int, Network]] = {}
    for k, network in enumerate(networks):
        if _fit(network):
            kinds.setdefault(alike(network), {})[k] = network
    return list(kinds.values())


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


def _together(
    some: dict[int, Network],
    mode: str,
    over: Over,
    start: Floats | None,
    limit: int = LIMIT,
    lost: float = np.inf,
) -> dict[int, Adjustment]:
    """Return the adjustments of those networks that come to a solution.

    In so many steps; what still moves beyond ``lost`` after three of them will not.
    """
    made: dict[int, Adjustment] = {}
    left = _begun(some, mode, start)
    for iteration in range(1, limit + 1):
        if left is None:
            break
        step = step_of(left)
        close = near(left.whole.network)
        settled = (step.left < CONVERGED) & (step.first < close)
        done = some_of(step.after, settled)
        if done is not None:
            made |= _results(done, step.factors_of(settled), iteration, over)
        going = step.left < (lost if iteration > 2 else np.inf)
        left = some_of(step.after, ~settled & going)
        if left is not None:
            nodes = laid_anew(left.whole.network, left.nodes)
            left = replace(left, nodes=nodes)
    return made


def _begun(some: dict[int, Network], mode: str, start: Floats | None) -> Open | None:
    """Return the networks where they start; those without a start are left out."""
    begin: dict[int, tuple[Network, Datum, Floats]] = {}
    for k, network in some.items():
        try:
            refuse_not_finite(network)
            places = starting_positions(network) if start is None else start
            begin[k] = network, datum(network, mode), places
        except (NoSolution, CommandError):
            continue
    if not begin:
        return None
    networks, holds, starts = zip(*begin.values(), strict=True)
    group = Group(tuple(begin), networks, holds)
    return _sound(laid(group, np.concatenate(starts)))


def _sound(start: Open) -> Open | None:
    """Return the networks on what is held; but those held at two places at once."""
    network, whole = start.whole.network, start.whole
    nodes = on_held(network, start.hold, start.nodes, anew=True)
    off = off_held(network, start.hold, nodes)
    nodes = replace(nodes, values=starting_values(network, nodes))
    sound = np.diff(start.first) > 0
    sound[whole.owner[network.known.mark[off > CONVERGED]]] = False
    return some_of(replace(start, nodes=nodes), sound)


def _results(
    done: Open, factors: Sequence[dense.DenseFactor], iteration: int, over: Over
) -> dict[int, Adjustment]:
    """Return the adjustments of networks that have settled."""
    columns = columns_of(done.whole, done.columns, done.first)
    nodes, group = nodes_of(done.whole, done.nodes), done.group
    inner: list[InnerConstraints | None] = [None] * len(nodes)
    unlaid = set()
    for k, hold in enumerate(group.holds):
        if hold.mode == "free" and hold.held:
            at = (nodes[k], columns[k], factors[k])
            try:
                nodes[k], inner[k] = lay(group.networks[k], *at, over)
            except CommandError:
                unlaid.add(k)
    if any(inner):
        done = laid_at(done.group, nodes)
    system = equations(done.whole.network, done.hold, done.nodes)
    rows = rows_of(done.whole, system, done.columns, done.first)
    return {
        number: Adjustment(
            group.networks[k],
            group.holds[k],
            nodes[k],
            columns[k],
            *rows[k],
            factors[k],
            inner[k],
            iteration,
        )
        for k, number in enumerate(group.numbers)
        if k not in unlaid
    }
