"""What an elimination costs, counted before any number is known."""

from dataclasses import dataclass

import numpy as np

from .layout import Layout
from .pattern import Pattern


@dataclass(frozen=True, slots=True)
class Statistics:
    """Counts, without the padding of fronts."""

    flops: float
    """Multiplications and additions of the factor."""
    nonzeros: int
    """Entries of the lower triangle of the factor."""
    fill: float
    """These, as a multiple of the entries of the matrix."""
    largest_front: int
    """Rows of the largest front."""
    fronts: int
    stacks: int


def statistics(layout: Layout, pattern: Pattern) -> Statistics:
    """Return the counts of a layout."""
    own = layout.own().astype(np.float64)
    outer = layout.bordering().astype(np.float64)
    fronts = len(own) - layout.keeps
    s, b = own[:fronts], outer[:fronts]
    nonzeros = int((s * (s + 1) / 2 + s * b).sum())
    return Statistics(
        flops=float((s**3 / 3 + s * s * b + s * b * b).sum()),
        nonzeros=nonzeros,
        fill=nonzeros / max(1, int(pattern.start[-1])),
        largest_front=int((own + outer).max(initial=0.0)),
        fronts=fronts,
        stacks=len(layout.stack_start) - 1,
    )
