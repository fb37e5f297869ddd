"""What a solution hangs on: which known coordinates are held or weighted."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from ..networks import CommandError, Network
from ..networks.covariances import Bools
from .observed import (
    dimension_mask,
    free_scale,
    free_turn,
    observed_components,
    placed_by_positions,
    shift_to_find,
)

MODES = ("minimal", "constrained", "free")
_NAMED = 16
"""Marks up to which all are named in words."""


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
    azimuth: tuple[int, int] | None = None
    """Known rows between whose marks the azimuth is held exactly; of a minimal
    solution of sights that no azimuth or vector turns."""

    def held_marks(self, network: Network) -> Bools:
        """Return (m, 3): which components of each mark are held."""
        held = np.zeros((len(network.marks), 3), dtype=bool)
        np.logical_or.at(held, network.known.mark, self.held_rows)
        return held


def datum(network: Network, mode: str) -> Datum:
    """Return the datum of a mode.

    * minimal: the first known mark that serves (or the one that job.toml names) is
      held, no known mark is weighted; where nothing observed turns the plan, also an
      azimuth to a second, or its plan where nothing gives a size either. Where
      positions give the datum, none is held.
    * constrained: as control.csv and the decisions say.
    * free: as minimal; ``free`` then lays the network on its marks.
    """
    if mode not in MODES:
        raise CommandError(f"adjust: no mode {mode!r}; there are {', '.join(MODES)}")
    return _constrained(network) if mode == "constrained" else _minimal(network, mode)


def _constrained(network: Network) -> Datum:
    known, seen = network.known, dimension_mask(network)
    held = known.in_use("held") & seen
    weighted = known.in_use("weighted") & seen & _reached(network)
    names = _names(network, held)
    parts = [f"held: {_listed(names)}"] if names else []
    soft = [name for name in _names(network, weighted) if name not in names]
    if soft:
        parts.append(f"weighted: {_listed(soft)}")
    text = "; ".join(parts) or _without_known(network)
    return Datum("constrained", text, held, weighted, names)


def _listed(names: Sequence[str]) -> str:
    """Return names in words, of very many the first ones and how many more.

    Examples
    --------
    >>> _listed(["A", "B"]), _listed([f"M{i}" for i in range(2000)])
    ('A, B', 'M0, M1, M2, M3, M4, M5, M6, M7 and 1,992 more')
    """
    if len(names) <= _NAMED:
        return ", ".join(names)
    return f"{', '.join(names[: _NAMED // 2])} and {len(names) - _NAMED // 2:,} more"


def _minimal(network: Network, mode: str) -> Datum:
    held = np.zeros((len(network.known), 3), dtype=bool)
    azimuth, words = None, ""
    if not placed_by_positions(network):
        plan = _first_serving(network, slice(0, 2), network.minimal_station)
        height = _first_serving(network, slice(2, 3), network.minimal_station)
        if plan is not None:
            held[plan, :2] = True
        if height is not None:
            held[height, 2] = True
        held &= dimension_mask(network)
        azimuth = _azimuth(network, plan)
        if azimuth is not None and free_scale(network):
            held[azimuth[1], :2] = True
            azimuth = None
        words = _held_words(network, held, azimuth)
    nothing = np.zeros_like(held)
    text = f"{words} held, all else free" if words else _without_known(network)
    return Datum(mode, text, held, nothing, _names(network, held), azimuth)


def _azimuth(network: Network, plan: int | None) -> tuple[int, int] | None:
    """Return the known rows that give the azimuth, where one must be held."""
    if plan is None or not free_turn(network):
        return None
    mark = int(network.known.mark[plan])
    to = network.minimal_azimuth_to
    second = _first_serving(network, slice(0, 2), to, without=(mark,))
    return None if second is None else (plan, second)


def _first_serving(
    network: Network, component: slice, named: str, without: Collection[int] = ()
) -> int | None:
    """Return the known row to hold: the named mark's, else held before weighted."""
    known = network.known
    serves = known.components[:, component].all(axis=1) & known.used
    serves &= _reached(network)[:, component].all(axis=1)
    serves &= ~np.isin(known.mark, list(without))
    uses = known.use_plan if component.start == 0 else known.use_height
    rank = {"held": 0, "weighted": 1}
    above = np.zeros(len(known), dtype=bool)
    if component.start == 2 and shift_to_find(network):
        # The height above an unknown geoid is the worse one to hang a network on.
        above |= known.orthometric if known.orthometric is not None else False
    order = sorted(
        np.flatnonzero(serves).tolist(),
        key=lambda i: (
            network.marks.name[known.mark[i]] != named,
            above[i],
            rank.get(uses[i], 2),
            i,
        ),
    )
    return order[0] if order else None


def _reached(network: Network) -> Bools:
    """Return (n, 3): components of known rows whose marks observations reach."""
    return observed_components(network)[: len(network.marks)][network.known.mark]


def _held_words(network: Network, held: Bools, azimuth: tuple[int, int] | None) -> str:
    plan = _names(network, held & [True, True, False])
    height = _names(network, held & [False, False, True])
    words = []
    if plan == height:
        words = [", ".join(plan)] if plan else []
    else:
        words += [f"{', '.join(plan)} in plan"] if plan else []
        words += [f"{', '.join(height)} in height"] if height else []
    if azimuth is not None:
        marks = [network.marks.name[network.known.mark[row]] for row in azimuth]
        words.append(f"azimuth {marks[0]} – {marks[1]}")
    return " and ".join(words)


def _names(network: Network, components: Bools) -> tuple[str, ...]:
    rows = np.flatnonzero(components.any(axis=1))
    names = [network.marks.name[network.known.mark[i]] for i in rows]
    return tuple(dict.fromkeys(names))


def _without_known(network: Network) -> str:
    if placed_by_positions(network):
        return "no known mark held; the positions give the datum"
    return "no known mark held or weighted"
