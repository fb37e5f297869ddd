"""The control of one issue, as shots see it: where marks are, what they are worth."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from ...networks.covariances import Floats, Ints
from ...networks.map_scale import turn_and_scale, turned
from ...networks.observations import Names
from ..adjustment import Adjustment
from ..precision.heights import orthometric_covariance, orthometric_heights
from .budget import placed


@dataclass(frozen=True, slots=True)
class ControlIssue:
    """The marks of one issue, as arrays: from a record, or from anywhere else."""

    number: int
    name: Names
    xyz: Floats
    """(m, 3) cartesian, m; NaN where a mark has no place."""
    height: Floats
    """(m,) above the geoid, or what heights of shots are counted in, m."""
    covariance: Floats
    """(m, 3, 3) of grid east, grid north, height, stated, m²."""
    joint_name: Names = ()
    """The t marks whose covariances with each other are known here."""
    joint: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    """(3t, 3t) of them: geodetic east, north at each mark, and height; stated, m²."""

    def together(self, names: Sequence[str]) -> Floats:
        """Return (3k, 3k) covariance of marks with each other, m².

        Parameters
        ----------
        names : sequence of str
            Of ``joint_name``.
        """
        at = {name: i for i, name in enumerate(self.joint_name)}
        first = np.array([at[name] for name in names], dtype=np.int64)
        slots = (3 * first[:, None] + np.arange(3)).ravel()
        return np.asarray(self.joint[np.ix_(slots, slots)])


def control_issue(
    number: int,
    adjustment: Adjustment,
    *,
    above_geoid: bool,
    jointly: Iterable[str] = (),
) -> ControlIssue:
    """Return the marks of an adjusted issue.

    Parameters
    ----------
    number : int
    adjustment : Adjustment
    above_geoid : bool
        Whether heights are wanted above the geoid.
    jointly : iterable of str
        Marks whose covariances with each other are wanted; those without a place in
        this issue are left out.
    """
    network = adjustment.network
    marks = np.arange(len(network.marks))
    there = placed(adjustment, marks)
    xyz = np.where(there[:, None], adjustment.nodes.xyz[: len(marks)], np.nan)
    own = np.full((len(marks), 3, 3), np.nan)
    blocks = adjustment.covariance(marks[there], marks[there])
    own[there] = turned(blocks, turn_and_scale(network.frame, xyz[there])[0])
    height = np.full(len(marks), np.nan)
    height[there] = network.frame.heights(xyz[there])
    heights = orthometric_heights(adjustment) if above_geoid else None
    if heights is not None:
        height = heights.height
        own[:, 2, :2] = own[:, :2, 2] = 0.0
        own[:, 2, 2] = heights.sd**2
    wanted = set(jointly)
    some = np.array(
        [m for m in marks[there].tolist() if network.marks.name[m] in wanted],
        dtype=np.int64,
    )
    return ControlIssue(
        number,
        network.marks.name,
        xyz,
        height,
        own,
        tuple(network.marks.name[m] for m in some.tolist()),
        _jointly(adjustment, some, above=heights is not None),
    )


def _jointly(adjustment: Adjustment, some: Ints, *, above: bool) -> Floats:
    """Return (3t, 3t) covariance of marks with each other."""
    if above:
        return orthometric_covariance(adjustment, some)
    columns = adjustment.columns[some].ravel()
    return adjustment.factor.blocks(columns, columns)
