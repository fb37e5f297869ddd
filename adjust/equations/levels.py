"""Levelled height differences: orthometric heights, end minus start."""

import numpy as np

from ...networks import Levels, Network
from ...networks.covariances import keep, single
from ..nodes import Nodes, last_first
from .equations import Equations
from .undulations import by_parameter, by_place, common_part


def equations(network: Network, nodes: Nodes, levels: Levels) -> Equations:
    """Return the equations of the level differences in use.

    computed = (h_end − N_end) − (h_start − N_start), with h the height of the frame
    and N the undulation, an unknown where it has a parameter, and with the tilt that
    the undulations of the job have in common; their shift drops out.
    """
    ends = np.stack([levels.start, levels.end])
    heights = network.frame.heights(nodes.xyz[: ends.max(initial=-1) + 1])
    padded = np.append(nodes.values, 0.0)
    number = levels.parameter.T
    fixed = np.stack([levels.start_undulation, levels.end_undulation])
    above = heights[ends] - np.where(number >= 0, padded[number], fixed)
    above -= np.stack([common_part(network, nodes, end) for end in ends])
    slots = [ends[0], ends[1]]
    design = np.zeros((6, 3, len(levels)))
    design[0, 2], design[1, 2] = -1.0, 1.0
    for own, sign in zip(number, (1.0, -1.0), strict=True):
        if (own >= 0).any():
            design[len(slots), 0] = np.where(own >= 0, sign, 0.0)
            slots.append(np.where(own >= 0, len(nodes.xyz) + own, -1))
    if network.undulations is not None and network.undulations.common[1] >= 0:
        design[0] += by_place(network, nodes, ends[0]).T
        design[1] -= by_place(network, nodes, ends[1]).T
        first, numbers = by_parameter(network, nodes, ends[0])
        second, _ = by_parameter(network, nodes, ends[1])
        for k in range(1, len(numbers)):
            design[len(slots), 0] = first[:, k] - second[:, k]
            slots.append(np.full(len(levels), numbers[k]))
    return Equations(
        "level difference",
        (levels.rise - (above[1] - above[0]))[:, None],
        last_first(design[: len(slots)])[:, None],
        last_first(np.stack(slots)),
        np.ones((len(levels), 1), dtype=bool),
        keep(single(levels.sd[:, None, None] ** 2), levels.used, 1),
    )
