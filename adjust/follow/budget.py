"""What a shot is worth: its base, its vector, the pole over the point, the lean.

Every part is a covariance in grid east, grid north and up. What all shots of a base
have in common stands apart: it is in a shot's own uncertainty, but not in that of one
shot against another of the same base.
"""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ...networks.shots import Bases, Shots, TopoOptions
from ..adjustment import Adjustment
from ..precision.ellipses import circle_exact, ellipse
from .tilt import tilted_tip


@dataclass(frozen=True, slots=True)
class Budget:
    """One row a shot, m²; NaN where a part is not stated, which is never taken as 0."""

    base: Floats
    """(n, 3, 3) of the base or instrument set-up, from the adjustment; NaN where the
    shot hangs on nothing that is known."""
    vector: Floats
    """(n, 3, 3) of the vector or position, with what was learnt of its sky."""
    pole: Floats
    """(n, 3, 3) of the pole: support, vial, bend, and the lean where there is one."""

    @property
    def own(self) -> Floats:
        """(n, 3, 3) without the base: of the shot against others of its base."""
        return self.vector + self.pole

    @property
    def total(self) -> Floats:
        """(n, 3, 3) of the shot itself, as the control network stands."""
        return self.base + self.vector + self.pole

    @property
    def sd_plan(self) -> Floats:
        """(n,) √((σE² + σN²) / 2), per axis, m."""
        return np.sqrt((self.total[:, 0, 0] + self.total[:, 1, 1]) / 2)

    @property
    def sd_height(self) -> Floats:
        """(n,) m."""
        return np.sqrt(self.total[:, 2, 2])

    def circle(self, confidence: float) -> Floats:
        """Return (n,) radius of the circle that holds a probability, m."""
        major, minor, _ = ellipse(self.total[:, :2, :2])
        # The circle depends on the axes' ratio alone: interpolated from exact ones,
        # within 2e-6 of the radius, in a hundredth of the time.
        ratio = np.linspace(0.0, 1.0, 201)
        table = circle_exact(np.ones_like(ratio), ratio, confidence)
        shape = np.divide(minor, major, out=np.ones_like(major), where=major > 0)
        return np.asarray(major * np.interp(shape, ratio, table))


def base_extra(bases: Bases) -> Floats:
    """Return (b, 3, 3) centring and height of set-ups that are no nodes, m²."""
    made = np.zeros((len(bases), 3, 3))
    sds = np.stack([bases.sd_centring, bases.sd_centring, bases.sd_height], axis=1)
    made[:, [0, 1, 2], [0, 1, 2]] = sds**2
    return made


def placed(adjustment: Adjustment, nodes: Ints) -> Bools:
    """Return whether nodes have a place in the solution, in plan and height."""
    marks = adjustment.network.mark_of(nodes)
    return np.asarray(adjustment.estimated[marks].all(axis=1))


def pole_covariance(shots: Shots, options: TopoOptions) -> Floats:
    """Return (n, 3, 3) of the pole over the point, m².

    Plumbed: the support's own sd, vial error times the length, and the bend. Leaned:
    the ellipse of ``tilted_tip`` in place of vial and bend, about the azimuth of the
    lean; without an azimuth the larger half-axis in every direction.
    """
    made = np.zeros((len(shots), 3, 3))
    hold = np.nan_to_num(shots.sd_hold)
    plumb = shots.tilt == 0
    length = np.nan_to_num(shots.length)
    vial = np.where(plumb, (options.sd_vial * length) ** 2 + options.sd_sag**2, 0.0)
    plan = hold[:, 0] ** 2 * plumb + vial
    made[:, 0, 0], made[:, 1, 1] = plan, plan
    made[:, 2, 2] = hold[:, 1] ** 2
    leaned = np.flatnonzero(~plumb)
    if len(leaned):
        made[leaned] += tilted_tip(
            shots.length[leaned],
            shots.tilt[leaned],
            shots.azimuth[leaned],
            shots.sd_tilt[leaned],
            shots.sd_azimuth[leaned],
            options.sd_length,
        )
    return made
