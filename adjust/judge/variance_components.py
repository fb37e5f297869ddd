"""Variance components: what the residuals say of each group's standard deviations.

Restricted maximum likelihood (see ``component_estimate``). Nothing is applied: a
multiplier is a decision.
"""

from dataclasses import dataclass

import numpy as np
from scipy import special

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..dense import DenseFactor
from .component_choice import Pairs, Problem, judged_components
from .component_dense import dense_system
from .component_estimate import Estimated
from .component_sparse import sparse_system
from .component_state import System
from .components import Component, labelled, stacks_of

FLOOR = 6.0
"""Degrees of freedom below which a component cannot be judged: of fewer, s0 says little
(common practice, no source)."""
MOST = 2_000_000
"""Unknowns up to which components are estimated: the derivative of the inverse takes
some 3 GB a million of them."""


@dataclass(frozen=True, slots=True)
class VarianceComponents:
    """K components, a row each: multipliers of stated standard deviations."""

    component: tuple[Component, ...]
    rows: Ints
    """(K,) values observed."""
    redundancy: Floats
    """(K,) trace of QvP over its rows, as stated."""
    degrees_of_freedom: Floats
    """(K,) of the estimate, 2 / var(log f²); at most the redundancy. Where the floor is
    not reached, what there is."""
    multiplier: Floats
    """(K,) f of the sds; NaN where it cannot be judged."""
    lower: Floats
    """(K,) of f at the job's confidence, by chi-square."""
    upper: Floats
    twins: tuple[tuple[int, ...], ...]
    """(K,) components that, estimated in place of one, explain the residuals about as
    well: which of them is to blame cannot be told."""
    verdict: tuple[str, ...]
    """``meets``; ``query`` where 1 lies outside limits that hold for all components at
    once; ``unchecked`` where it cannot be judged."""
    floor: float
    settled: bool
    steps: int

    def __len__(self) -> int:
        return len(self.component)

    @property
    def judged(self) -> Bools:
        """(K,) whether there are degrees of freedom enough."""
        return np.isfinite(self.multiplier)

    @property
    def standing_out(self) -> tuple[int, ...]:
        """Places of the components that differ from what was stated, largest first."""
        out = [k for k, verdict in enumerate(self.verdict) if verdict == "query"]
        return tuple(sorted(out, key=lambda k: -abs(np.log(self.multiplier[k]))))


def variance_components(
    adjustment: Adjustment, *, shifts: Floats | None = None, floor: float = FLOOR
) -> VarianceComponents:
    """Return the multiplier of every group's standard deviations, with its limits.

    Plan and height of vectors, positions, set-ups and weighted known marks apart;
    priors of parameters stay as stated, and so does what cannot be judged.

    Parameters
    ----------
    adjustment : Adjustment
    shifts : ndarray, shape (n, p), optional
        Whitened columns of causes that are taken as true, so that a blunder does not
        pass for a large standard deviation.
    floor : float, optional
        Degrees of freedom below which a component cannot be judged.

    Returns
    -------
    VarianceComponents
        Without a component, and not settled, where there are too many unknowns.
    """
    if int(adjustment.columns.max(initial=-1)) >= MOST:
        none, no = np.zeros(0), np.zeros(0, dtype=np.int64)
        return VarianceComponents(
            (), no, none, none, none, none, none, (), (), floor, False, 0
        )
    component, labels = labelled(adjustment)
    stacks, causes = stacks_of(adjustment, labels, shifts)
    system: System
    if isinstance(adjustment.factor, DenseFactor):
        system = dense_system(adjustment, stacks, causes)
    else:
        system = sparse_system(adjustment, stacks, causes)
    count = len(component)
    processed = np.array([one.kind != "set-up" for one in component], dtype=bool)
    stated = system.state(np.zeros(count))
    made, freedom, twins = judged_components(Problem(system, stated, floor, processed))
    values = [labels[kind].ravel() for kind in labels]
    rows = np.bincount(
        np.concatenate([np.zeros(0, np.int64), *(v[v >= 0] for v in values)]),
        minlength=count,
    )
    return _told(
        adjustment, component, rows, stated.redundancy, made, freedom, floor, twins
    )


def _told(
    adjustment: Adjustment,
    component: tuple[Component, ...],
    rows: Ints,
    redundancy: Floats,
    made: Estimated,
    freedom: Floats,
    floor: float,
    twins: Pairs,
) -> VarianceComponents:
    confidence, kept = adjustment.network.options.confidence, freedom >= floor
    variance = np.where(kept, np.exp(made.log_variance), np.nan)
    lower, upper = _limits(variance, freedom, confidence)
    # As many limits as there are components: all hold at once (Šidák).
    of_all = confidence ** (1 / max(int(kept.sum()), 1))
    low, high = _limits(variance, freedom, of_all)
    out = kept & ((low > 1) | (high < 1))
    verdict = np.where(out, "query", np.where(kept, "meets", "unchecked"))
    return VarianceComponents(
        component,
        rows,
        redundancy,
        freedom,
        np.sqrt(variance),
        lower,
        upper,
        tuple(
            tuple(other for mine, other in twins if mine == k)
            for k in range(len(component))
        ),
        tuple(str(word) for word in verdict),
        floor,
        made.settled,
        made.steps,
    )


def _limits(
    variance: Floats, freedom: Floats, confidence: float
) -> tuple[Floats, Floats]:
    """Return the limits of f: r s²/σ² is chi-square on r degrees of freedom."""
    tail, dof = (1 - confidence) / 2, np.maximum(freedom, 1e-9)
    high = special.chdtri(dof, tail)
    low = special.chdtri(dof, 1 - tail)
    return np.sqrt(variance * dof / high), np.sqrt(variance * dof / low)
