"""What a solution hangs on: which known coordinates are held or weighted."""

from dataclasses import dataclass

import numpy as np

from ..networks import CommandError, Network
from ..networks.covariances import Bools

MODES = ("minimal", "constrained", "free")


@dataclass(frozen=True, slots=True)
class Datum:
    """The part that known marks play in one solution."""

    mode: str
    """``minimal``, ``constrained`` or ``free``."""
    text: str
    """In words: "BRIDGE 1 held, all else free"."""
    held_rows: Bools
    """(n, 3) components east, north, up of each known row that are held."""
    weighted: Bools
    """(n, 3) components that are weighted observations."""
    held: tuple[str, ...]
    """Names of the marks that are held in plan or height."""

    def held_marks(self, network: Network) -> Bools:
        """Return (m, 3): which components of each mark are held."""
        held = np.zeros((len(network.marks), 3), dtype=bool)
        np.logical_or.at(held, network.known.mark, self.held_rows)
        return held


def datum(network: Network, mode: str) -> Datum:
    """Return the datum of a mode.

    * minimal: the first known mark that serves (or the one that job.toml names) is
      held, no known mark is weighted. Where positions give the datum, none is held.
    * constrained: as control.csv and the decisions say.
    * free: nothing is held yet; ``free`` lays the network on its marks afterwards.
    """
    if mode not in MODES:
        raise CommandError(f"adjust: no mode {mode!r}; there are {', '.join(MODES)}")
    if mode == "constrained":
        return _constrained(network)
    return _minimal(network, mode)


def _constrained(network: Network) -> Datum:
    known = network.known
    held, weighted = known.in_use("held"), known.in_use("weighted")
    names = _names(network, held)
    parts = []
    if names:
        parts.append(f"held: {', '.join(names)}")
    soft = [name for name in _names(network, weighted) if name not in names]
    if soft:
        parts.append(f"weighted: {', '.join(soft)}")
    text = "; ".join(parts) or _without_known(network)
    return Datum("constrained", text, held, weighted, names)


def _minimal(network: Network, mode: str) -> Datum:
    known = network.known
    held = np.zeros((len(known), 3), dtype=bool)
    if not network.positions.used.any():
        for component in (slice(0, 2), slice(2, 3)):
            row = _first_serving(network, component)
            if row is not None:
                held[row, component] = True
    names = _names(network, held)
    text = f"{_held_words(network, held)} held, all else free" if names else ""
    nothing = np.zeros_like(held)
    return Datum(mode, text or _without_known(network), held, nothing, names)


def _first_serving(network: Network, component: slice) -> int | None:
    """Return the known row to hold: the named mark's, else held before weighted."""
    known = network.known
    serves = known.components[:, component].all(axis=1) & known.used
    observed = np.zeros(len(network.marks), dtype=bool)
    vectors = network.vectors
    ends = np.concatenate([vectors.start[vectors.used], vectors.end[vectors.used]])
    observed[network.mark_of(ends)] = True
    serves &= observed[known.mark] | ~observed.any()
    uses = known.use_plan if component.start == 0 else known.use_height
    rank = {"held": 0, "weighted": 1}
    named = network.minimal_station
    order = sorted(
        np.flatnonzero(serves),
        key=lambda i: (
            network.marks.name[known.mark[i]] != named,
            rank.get(uses[i], 2),
            i,
        ),
    )
    return int(order[0]) if order else None


def _held_words(network: Network, held: Bools) -> str:
    plan = _names(network, held & [True, True, False])
    height = _names(network, held & [False, False, True])
    if plan == height:
        return ", ".join(plan)
    words = []
    if plan:
        words.append(f"{', '.join(plan)} in plan")
    if height:
        words.append(f"{', '.join(height)} in height")
    return " and ".join(words)


def _names(network: Network, components: Bools) -> tuple[str, ...]:
    rows = np.flatnonzero(components.any(axis=1))
    names = [network.marks.name[network.known.mark[i]] for i in rows]
    return tuple(dict.fromkeys(names))


def _without_known(network: Network) -> str:
    if network.positions.used.any():
        return "no known mark held; the positions give the datum"
    return "no known mark held or weighted"
