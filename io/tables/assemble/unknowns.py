"""Unknowns that belong to no place: orientations, refraction, undulations."""

import numpy as np

from ....networks.covariances import Ints
from ....networks.observations import Parameters


class Unknowns:
    """The parameters of a network, numbered as they are first asked for."""

    def __init__(self) -> None:
        self._number: dict[tuple[str, str], int] = {}
        self._start: list[float] = []
        self._sd: list[float] = []

    def number(
        self, kind: str, name: str, start: float = np.nan, sd: float = np.nan
    ) -> int:
        """Return the number of a parameter; ``start`` and ``sd`` are its prior's.

        Examples
        --------
        >>> unknowns = Unknowns()
        >>> [unknowns.number("orientation", name) for name in ("T1", "T2", "T1")]
        [0, 1, 0]
        """
        if (kind, name) not in self._number:
            self._number[kind, name] = len(self._start)
            self._start.append(start)
            self._sd.append(sd)
        return self._number[kind, name]

    def parameters(self) -> Parameters:
        """Return the columns of all parameters."""
        return Parameters(
            tuple(name for _, name in self._number),
            tuple(kind for kind, _ in self._number),
            np.array(self._start, dtype=np.float64),
            np.array(self._sd, dtype=np.float64),
        )


def pairs(first: Ints, second: Ints | None = None) -> Ints:
    """Return (n, 2) parameter numbers; −1 for none."""
    other = np.full_like(first, -1) if second is None else second
    return np.stack([first, other], axis=1)
