"""Held marks that can be let go: weighted so firmly that they do not move."""

from dataclasses import replace

import numpy as np

from ...networks import Network
from ..equations.known_marks import conditional

HELD_SD = 3e-6
"""m; a held known mark stands so firmly in a folded network, where it may be let go."""


def loosely_held(network: Network) -> Network:
    """Return the network with held known marks weighted by a very small sd.

    So that a held mark can be let go, or weighed, by an update alone.
    """
    known = network.known
    plan = tuple("weighted" if use == "held" else use for use in known.use_plan)
    height = tuple("weighted" if use == "held" else use for use in known.use_height)
    held = known.in_use("held")
    if not held.any():
        return network
    # What is weighted keeps what it has in common with what is held.
    conditioned = conditional(known.covariances, held, known.in_use("weighted"))
    covariances = []
    for batch in conditioned:
        fixed = held[batch.members].reshape(len(batch.members), -1)
        apart = fixed[:, :, None] | fixed[:, None, :]
        firm = HELD_SD**2 * np.eye(fixed.shape[1])
        covariances.append(replace(batch, matrix=np.where(apart, firm, batch.matrix)))
    changed = replace(
        known, use_plan=plan, use_height=height, covariances=tuple(covariances)
    )
    return replace(network, known=changed)
