"""A network: what was measured and what is known, and nothing estimated."""

from dataclasses import dataclass, field, replace

import numpy as np

from .covariances import Ints
from .frames import Frame
from .observations import (
    KnownMarks,
    Levels,
    Marks,
    Names,
    Parameters,
    Positions,
    SetUps,
    Sights,
    Vectors,
)
from .options import Options
from .part import Part
from .undulations import Undulations

_NONE = (np.zeros(0), np.zeros(0))


@dataclass(frozen=True, slots=True)
class Network:
    """A survey as a graph: marks and set-ups joined by observations.

    Immutable; a decision makes another network.
    """

    frame: Frame
    marks: Marks
    set_ups: SetUps
    vectors: Vectors
    positions: Positions
    known: KnownMarks
    sessions: Names = ()
    groups: Names = ()
    options: Options = field(default_factory=Options)
    minimal_station: str = ""
    """The mark to hold for the minimal solution; empty = the first that serves."""
    dimension: str = ""
    """``space``, ``plan`` or ``height``; empty = whatever the observations reach."""
    minimal_azimuth_to: str = ""
    """The mark whose azimuth from the held one a minimal solution holds, where no
    observation says which way the plan lies; empty = the first that serves."""
    sights: tuple[Sights, ...] = ()
    """One set of columns a kind; empty ones are left out."""
    levels: Levels | None = None
    parameters: Parameters = field(default_factory=lambda: Parameters((), (), *_NONE))
    undulations: Undulations | None = None
    """None in a local job, and where nothing is said of the geoid."""
    part: Part | None = None
    """Of a part of a larger network: what it is told of the whole."""

    def node_name(self, node: int) -> str:
        """Return the name of a mark or set-up by its node number."""
        count = len(self.marks)
        if node < count:
            return self.marks.name[node]
        return self.set_ups.name[node - count]

    def mark_of(self, nodes: Ints) -> Ints:
        """Return the marks over which nodes stand; a mark stands for itself.

        Parameters
        ----------
        nodes : ndarray of int, any shape

        Returns
        -------
        ndarray of int, the same shape
        """
        count = len(self.marks)
        of_node = np.concatenate([np.arange(count), self.set_ups.mark])
        return of_node[nodes]

    def turns_to_find(self) -> Ints:
        """Return (n,) the parameter that turns each vector by an unknown angle.

        −1 where the vector is in the axes of the frame, or as good as.
        """
        vectors = self.vectors
        if vectors.parameter is None:
            return np.full(len(vectors), -1)
        number = vectors.parameter[:, 1]
        unknown = np.isnan(np.append(self.parameters.start, 0.0)[number])
        return np.where(unknown, number, -1)

    def with_options(self, options: Options) -> "Network":
        """Return the network to be judged by other options."""
        return replace(self, options=options)
