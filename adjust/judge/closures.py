"""All that must close before adjusting: sessions, repeats, loops, double runs."""

from dataclasses import dataclass, replace

import numpy as np

from ...networks import LocalFrame, Network, NoSolution
from ...networks.covariances import Floats
from ...networks.level_loops import level_loops
from ...networks.loops import Loop, find_loops, same_session_loops
from ...networks.preparation import Reciprocal, Spread, reciprocals, spreads
from ...networks.sessions import Session, find_sessions
from ...networks.traverses import Traverse, find_traverses
from ..start import starting_positions
from .loop_tests import Hint, LoopTests, hints, loop_tests, spread_verdict


@dataclass(frozen=True, slots=True)
class Closures:
    """What closes and what does not, before anything is adjusted."""

    network: Network
    sessions: tuple[Session, ...]
    loops: tuple[Loop, ...]
    tests: LoopTests
    """A row a loop."""
    hints: tuple[Hint, ...]
    traverses: tuple[Traverse, ...] = ()
    """Shown and not judged: adjusting tests each sight with its centring."""
    spreads: tuple[Spread, ...] = ()
    reciprocals: tuple[Reciprocal, ...] = ()
    too_many: int = 0
    """Vectors in use where there are too many to seek loops in; else 0."""

    @property
    def spread_verdicts(self) -> tuple[str, ...]:
        """Whether each spread of readings is within what is stated."""
        options = self.network.options
        return tuple(spread_verdict(spread, options)[1] for spread in self.spreads)

    @property
    def verdict(self) -> str:
        """A query if one is over its limit; unchecked if nothing can be judged."""
        for verdict in ("query", "meets"):
            if verdict in (*self.tests.verdict, *self.spread_verdicts):
                return verdict
        return "unchecked"


MOST_VECTORS = 5000
"""Vectors up to which repeats and loops are sought. The vectors of a larger network are
tested by adjusting it, each against all others; nobody reads so many loops."""


def closures(
    network: Network,
    times: Floats | None = None,
    lengths: Floats | None = None,
    *,
    same_session: bool = False,
) -> Closures:
    """Return sessions, loops and their tests.

    Parameters
    ----------
    network : Network
    times : ndarray, shape (n, 2), optional
        Start and stop of each vector, s; see ``find_sessions``.
    lengths : ndarray, optional
        Length of each levelled run, m.
    same_session : bool, optional
        Whether to add the loops inside single sessions, which are not judged.

    Returns
    -------
    Closures

    Raises
    ------
    NoSolution
        A geodetic job in which nothing has a position: there is no up.
    """
    sessions: tuple[Session, ...] = ()
    loops: tuple[Loop, ...] = ()
    too_many = too_many_vectors(network)
    few = network.vectors.used.any() and not too_many
    xyz = _positions(network) if few else np.zeros((0, 3))
    for part in [] if too_many else _alike_turned(network):
        here = tuple(find_sessions(part, times))
        sessions += here
        loops += find_loops(part, here, xyz)
        if same_session:
            loops += same_session_loops(part, here, xyz)
    loops += level_loops(network, lengths)
    tests = loop_tests(loops, network.options)
    return Closures(
        network,
        sessions,
        loops,
        tests,
        hints(network, loops, tests),
        find_traverses(network),
        spreads(network),
        _reciprocals(network),
        too_many,
    )


def too_many_vectors(network: Network) -> int:
    """Return the number of vectors in use if loops are not sought in them, else 0."""
    many = int(network.vectors.used.sum())
    return many if many > MOST_VECTORS else 0


def _alike_turned(network: Network) -> list[Network]:
    """Return the network once for each turn that its vectors in use share.

    Loops over vectors that are turned against each other by an unknown angle would
    not close. Misclosures of a turned group are in its own east and north.
    """
    vectors, turns = network.vectors, network.turns_to_find()
    return [
        replace(network, vectors=replace(vectors, used=vectors.used & (turns == turn)))
        for turn in sorted(set(turns[vectors.used].tolist()))
    ]


def _reciprocals(network: Network) -> tuple[Reciprocal, ...]:
    if not any(sights.kind == "zenith angle" for sights in network.sights):
        return ()
    try:
        return reciprocals(network, starting_positions(network))
    except NoSolution:
        # Where the marks are not known well enough, nor are the lengths.
        return ()


def _positions(network: Network) -> Floats:
    # Vectors need no more than an up; what sights could not place does not matter.
    by_vectors = replace(network, sights=(), levels=None)
    try:
        return starting_positions(by_vectors)
    except NoSolution:
        if not isinstance(network.frame, LocalFrame):
            raise
        # On a flat site up is up everywhere.
        return np.zeros((len(network.marks), 3))
