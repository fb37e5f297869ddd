"""The frozen result of an estimate; everything else is a function that takes it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..networks import Network
from ..networks.covariances import Bools, Floats, Ints
from .datum import Datum
from .elimination import Factor
from .equations import Equations
from .free import InnerConstraints
from .nodes import Nodes
from .normal import Whitened

if TYPE_CHECKING:
    from .judge.edge_tests import EdgeTests


@dataclass(frozen=True, slots=True)
class Adjustment:
    """One solution of a network: what cannot be derived, and where it came from.

    Covariances are *stated* (variance factor 1) unless a name says estimated.
    """

    network: Network
    datum: Datum
    nodes: Nodes
    """Adjusted positions of marks, then set-ups."""
    columns: Ints
    """(N, 3) column of each component; −1 where it is held or not estimated."""
    equations: Sequence[Equations]
    """At the solution: misclosures are minus the residuals. Of a large network, as
    ``whitened``, made when they are looked at."""
    whitened: Sequence[Whitened]
    factor: Factor
    inner: InnerConstraints | None
    """Of a free solution."""
    iterations: int

    @property
    def vtpv(self) -> float:
        """The weighted square sum of the residuals, vᵀPv."""
        return float(sum(np.sum(batch.misclosure**2) for batch in self.whitened))

    @property
    def degrees_of_freedom(self) -> int:
        """Rows minus unknowns; set-ups add as many of the one as of the other."""
        rows = sum(int(e.active[e.used].sum()) for e in self.equations)
        bound = 1 if self.datum.azimuth is not None else 0
        return rows - (int(self.columns.max(initial=-1)) + 1 - bound)

    @property
    def s0_sq(self) -> float:
        """Estimated variance factor; NaN without degrees of freedom."""
        freedom = self.degrees_of_freedom
        return self.vtpv / freedom if freedom > 0 else float("nan")

    @property
    def observations_count(self) -> int:
        """Observed components; set-ups and priors of parameters are not counted."""
        of_marks = ("set-up", "parameter")
        counted = (some for some in self.equations if some.kind not in of_marks)
        return sum(int(some.active[some.used].sum()) for some in counted)

    @property
    def unknowns_count(self) -> int:
        """Unknowns; neither set-ups nor parameters with a prior are counted."""
        marks = self.columns[: len(self.network.marks)] >= 0
        free = self.columns[len(self.nodes.xyz) :, 0] >= 0
        without_prior = free & ~np.isfinite(self.network.parameters.sd)
        return int(marks.sum() + without_prior.sum())

    @property
    def reciprocal_condition(self) -> float:
        """Of the normal matrix scaled to unit diagonal."""
        return self.factor.reciprocal_condition

    def tests_left(self, kind: str) -> "EdgeTests | None":
        """Return the tests of a kind that workers left; None where there are none."""
        return None

    @property
    def estimated(self) -> Bools:
        """(m, 3) whether a mark's east, north, up is held or an unknown."""
        marks = len(self.network.marks)
        held = self.datum.held_marks(self.network)
        return np.asarray((self.columns[:marks] >= 0) | held)

    @property
    def residuals(self) -> Mapping[str, Floats]:
        """Kind to (n, 3) adjusted minus observed, m; NaN where not in use.

        Rows as observed: X, Y, Z for a baseline, in its group's own axes where that
        has a turn; east, north, up for the others.
        """
        made = {}
        for some in self.equations:
            use = some.active & some.used[:, None]
            made[some.kind] = np.where(use, -some.misclosure, np.nan)
        return made

    def covariance(self, first: Ints, second: Ints) -> Floats:
        """Return the stated covariance blocks between nodes, (k, 3, 3), m².

        Parameters
        ----------
        first, second : ndarray of int, shape (k,)
            Node numbers; rows are east, north, up of the first, columns of the second.
        """
        blocks = self.factor.blocks(self.columns[first], self.columns[second])
        if self.inner is not None:
            blocks = self.inner.transform(blocks, first, second)
        return blocks
