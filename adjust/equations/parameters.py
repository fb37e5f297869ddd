"""Parameters with a prior: refraction as it is thought to be, a modelled undulation."""

import numpy as np

from ...networks import Network
from ...networks.covariances import Bools, keep, single
from ..nodes import Nodes
from .equations import Equations

# What the prior of a parameter is called among the observations.
KIND = {"undulation": "undulation"}


def equations(network: Network, nodes: Nodes, used: Bools) -> Equations:
    """Return the priors of the parameters in use, one row each."""
    parameters = network.parameters
    count = len(parameters)
    known = used & np.isfinite(parameters.sd) & (parameters.sd > 0)
    misclosure = np.where(known, parameters.start - nodes.values, 0.0)
    design = np.zeros((count, 1, 1, 3))
    design[:, 0, 0, 0] = 1.0
    sd = np.where(known, parameters.sd, 1.0)
    return Equations(
        "parameter",
        misclosure[:, None],
        design,
        (len(nodes.xyz) + np.arange(count))[:, None],
        np.ones((count, 1), dtype=bool),
        keep(single(sd[:, None, None] ** 2), known, 1),
    )
