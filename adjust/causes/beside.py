"""How all causes stand beside some that are in the model already.

Nothing is adjusted again: what is left of every cause when some are in the model is
algebra.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from ...networks import Options
from ...networks.covariances import Floats, Ints
from ..judge.verdicts import Basis, estimated_basis, stated_basis
from .evaluate import Hypotheses, Joint
from .groups import Nesting, Order, ordered, sums
from .left import Left, left_of


@dataclass(frozen=True)
class View:
    """All causes beside some that are in the model already."""

    joint: Joint | Left
    statistic: Floats
    components: Ints
    basis: Basis
    nested: Nesting | None = None
    """Of the joint, where it is at hand."""

    @cached_property
    def order(self) -> Order:
        """Return the causes from the best supported to the least."""
        return ordered(self.joint, self.basis.test, self.nested)

    @property
    def tried(self) -> int:
        """How many causes could be judged."""
        return int(np.isfinite(self.basis.test).sum()) + self.joint.dropped


@dataclass(frozen=True, slots=True)
class Views:
    """How all causes of one survey stand beside any model; each is made once."""

    joint: Joint
    options: Options
    vtpv: float
    """vᵀPv of the adjustment."""
    freedom: int
    """Its degrees of freedom."""
    nested: Nesting | None = None
    """Of the joint, for a model of no cause, where it is at hand."""
    made: dict[tuple[int, ...], View] = field(default_factory=dict)

    def beside(self, model: Sequence[int]) -> View:
        """Return how all causes stand beside those of a model."""
        key = tuple(sorted(model))
        if key not in self.made:
            self.made[key] = view(
                self.joint, key, self.options, self.vtpv, self.freedom, self.nested
            )
        return self.made[key]


def basis_of(
    statistic: Floats, components: Ints, options: Options, vtpv: float, freedom: int
) -> Basis:
    """Return the tests on the variance factor that the options name."""
    if options.tests_from == "stated":
        return stated_basis(statistic, components, options)
    return estimated_basis(statistic, components, options, vtpv, freedom)


def view(
    joint: Joint,
    model: Sequence[int],
    options: Options,
    vtpv: float,
    freedom: int,
    nested: Nesting | None = None,
) -> View:
    """Return how all causes stand beside those of a model.

    Parameters
    ----------
    joint : Joint
    model : sequence of int
        Causes that are accepted.
    options : Options
    vtpv : float
        vᵀPv of the adjustment.
    freedom : int
        Its degrees of freedom.
    nested : Nesting, optional
        Of the joint, for a model of no cause, where it is at hand.
    """
    left = left_of(joint, np.array(model, dtype=np.int64)) if len(model) else joint
    statistic, components = sums(left.pull**2, left.first), np.diff(left.first)
    explained, taken = joint.statistic(model)
    basis = basis_of(statistic, components, options, vtpv - explained, freedom - taken)
    return View(left, statistic, components, basis, None if len(model) else nested)


def family_of(probability: Floats, tried: int) -> Floats:
    """Return the chance that any of so many tests is as large by chance (Šidák).

    Examples
    --------
    >>> family_of(np.array([0.001, 1.0]), 50).round(4).tolist()
    [0.0488, 1.0]
    """
    with np.errstate(divide="ignore"):
        return np.asarray(-np.expm1(tried * np.log1p(-probability)))


def left_over(
    made: Hypotheses, joint: Joint, model: Sequence[int], misclosure: Floats
) -> float:
    """Return vᵀPv with some causes in the model, from the residuals themselves.

    Not as a difference, which for a blunder of a thousand kilometres is rounding.
    """
    left, _ = made.corrected(joint, model, misclosure)
    return float(left @ left)
