"""Levelled height differences: orthometric heights, end minus start."""

import numpy as np

from ...networks import Levels, Network
from ...networks.covariances import keep, single
from ..nodes import Nodes
from .equations import Equations


def equations(network: Network, nodes: Nodes, levels: Levels) -> Equations:
    """Return the equations of the level differences in use.

    computed = (h_end − N_end) − (h_start − N_start), with h the height of the frame
    and N the undulation, an unknown where it has a parameter.
    """
    heights = network.frame.heights(nodes.xyz)
    padded = np.concatenate([nodes.values, [0.0]])
    start, end = levels.parameter.T
    n_start = np.where(start >= 0, padded[start], levels.start_undulation)
    n_end = np.where(end >= 0, padded[end], levels.end_undulation)
    computed = heights[levels.end] - n_end - heights[levels.start] + n_start
    design = np.zeros((len(levels), 1, 4, 3))
    design[:, 0, 0, 2], design[:, 0, 1, 2] = -1.0, 1.0
    design[:, 0, 2, 0] = np.where(start >= 0, 1.0, 0.0)
    design[:, 0, 3, 0] = np.where(end >= 0, -1.0, 0.0)
    extra = np.where(levels.parameter >= 0, len(nodes.xyz) + levels.parameter, -1)
    node = np.stack([levels.start, levels.end], axis=1)
    return Equations(
        "level difference",
        (levels.rise - computed)[:, None],
        design,
        np.concatenate([node, extra], axis=1),
        np.ones((len(levels), 1), dtype=bool),
        keep(single(levels.sd[:, None, None] ** 2), levels.used, 1),
    )
