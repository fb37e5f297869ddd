"""What can be bought by observing more, and what of it matters most."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats

ORDER = (
    "specification failures removed",
    "unchecked removed",
    "suspects parted",
    "smallest detectable blunder",
    "worst pair",
)
"""What is bought, what matters most first; the user may reorder it."""


NAMES = (*ORDER, "unseen movement")
"""Everything that can count."""


STEP = 10.0
"""How much more each is worth than the next: counts of one do not make up for one of
the other unless ten of them do."""


@dataclass(frozen=True, slots=True)
class Scores:
    """What each of k candidates would buy beside what is there.

    Counts, and logarithms of ratios before to after (0.1 is a tenth smaller).
    """

    failures: Floats
    """(k,) lines of the specification that would meet it."""
    unchecked: Floats
    """(k,) blunders that would be checked."""
    parted: Floats
    """(k,) groups of suspects that it would tell apart."""
    detectable: Floats
    """(k,) mean logarithm by which the smallest detectable blunders shrink."""
    pair: Floats
    """(k,) logarithm by which the worst pair's share of its limit shrinks."""
    exposed: Floats
    """(k,) mean logarithm by which the smallest detectable blunders shrink, each
    weighed by how far it would move marks unseen."""

    def of(self, some: Sequence[int]) -> "Scores":
        """Return the scores of some candidates."""
        return Scores(
            self.failures[some],
            self.unchecked[some],
            self.parted[some],
            self.detectable[some],
            self.pair[some],
            self.exposed[some],
        )

    def worth(self, order: Sequence[str] = ORDER) -> Floats:
        """Return one figure a candidate: each thing weighs ten times the next.

        Parameters
        ----------
        order : sequence of str
            Some of ``NAMES``, the most important first; what is not named is not
            counted.

        Examples
        --------
        >>> one = np.array([1.0, 0.0])
        >>> Scores(one, 2 * one, 0 * one, one, one, one).worth().tolist()
        [1201.1, 0.0]
        """
        parts = dict(
            zip(
                NAMES,
                (
                    self.failures,
                    self.unchecked,
                    self.parted,
                    self.detectable,
                    self.pair,
                    self.exposed,
                ),
                strict=True,
            )
        )
        weights = STEP ** np.arange(len(ORDER) - 2, -2, -1.0)
        total = sum(
            weight * parts[name] for name, weight in zip(order, weights, strict=False)
        )
        return np.asarray(total, dtype=np.float64)
