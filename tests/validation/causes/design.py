"""An adjusted plan with all its causes, ready for very many surveys of it.

A survey is one draw of whitened noise through the same functions as the command: what
depends on the design alone is made once.
"""

from collections import defaultdict

import numpy as np

from brasscap.adjust import estimate
from brasscap.adjust.causes.beside import Views
from brasscap.adjust.causes.groups import nesting
from brasscap.adjust.causes.screening import causes_made
from brasscap.adjust.causes.standing import without_idle
from brasscap.networks.simulate import simulate

NATURAL = ("unit", "set-ups exchanged")
"""Kinds that have a size of their own: surveyed in ``natural.py``."""


class Design:
    """A plan, adjusted once.

    Attributes
    ----------
    made : Hypotheses
        Its causes but those that have a size of their own.
    every : Hypotheses
        All of them.
    kinds : dict of str to list of int
        Numbers of the causes of each kind that are checked.
    """

    def __init__(self, network, labels, seed):
        self.network, self.labels = network, labels
        self.adjustment = estimate(simulate(network, seed=seed))
        made = causes_made(self.adjustment, labels)
        self.every = made
        self.dropped = made.dropped
        self.made = without_idle(self.adjustment, made, made.rows.misclosure)
        self.options = network.options
        self.freedom = self.adjustment.degrees_of_freedom
        rows = self.made.rows
        unknowns = np.arange(rows.design.shape[1])
        design = rows.design.toarray()
        self.design = design
        self.gain = self.adjustment.factor.blocks(unknowns, unknowns) @ design.T
        # A row that is not active has nothing in it, nor any noise.
        self.active = np.diff(rows.base.tocsr().indptr) > 0
        self.nested = nesting(self.made.joint(rows.misclosure))
        self.kinds = defaultdict(list)
        widths = np.diff(self.made.first)
        for i, cause in enumerate(self.made.causes):
            sound = widths[i] and not self.made.unchecked[i]
            if sound and cause.kind not in NATURAL:
                self.kinds[kind_of(cause)].append(i)

    def left(self, rows):
        """Return whitened rows less what an adjustment takes of them."""
        return rows - self.design @ (self.gain @ rows)

    def noise(self, random, count):
        """Return (n, count) residuals of clean surveys, signed as misclosures."""
        drawn = random.standard_normal((len(self.active), count))
        return self.left(drawn * self.active[:, None])

    def views(self, misclosure):
        """Return how all causes of one survey stand beside any model."""
        joint = self.made.joint(misclosure)
        vtpv = float(misclosure @ misclosure)
        return Views(joint, self.options, vtpv, self.freedom, self.nested)

    def view(self, misclosure):
        """Return all causes of one survey and how they stand, none in the model."""
        views = self.views(misclosure)
        return views.joint, views.beside(())

    def mine(self, cause):
        """Return a cause with all that are the very same shift."""
        return {cause, *np.flatnonzero(self.nested.same[cause]).tolist()}


def kind_of(cause):
    """Return the kind under which a cause is counted."""
    if cause.kind != "observation":
        return cause.kind
    if not cause.measure:
        return "pointing"
    if cause.measure == "enu":
        return cause.words.split(" ")[0]
    return "levelled reading" if cause.words.startswith("level") else "reading"
