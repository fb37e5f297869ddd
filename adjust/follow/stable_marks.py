"""Which marks have kept their shape: the one that explains most is taken out first.

A mark that another could be mistaken for is said with the other, and where too few are
left nobody can tell which of them moved.
"""

from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools
from .congruency import Congruency, Movements, Scale, congruency, contribution

_TWIN = 0.99
"""Level at which a second mark adds something to what the first explains."""


@dataclass(frozen=True, slots=True)
class Step:
    """One mark taken out of the stable ones."""

    station: str
    statistic: float
    """T of the marks that were still taken for stable."""
    limit: float
    degrees_of_freedom: int
    falls_by: float
    """How much of T this mark explains."""
    twins: tuple[str, ...]
    """Marks that explain as much, so that these cannot be told apart."""


def stable_marks(
    moves: Movements, start: Bools, test: Congruency, scale: Scale, confidence: float
) -> tuple[Bools, tuple[Step, ...], frozenset[int]]:
    """Return the stable marks, what was taken out, and those nobody can tell apart."""
    stable, steps = start.copy(), []
    undecided: frozenset[int] = frozenset()
    while test.verdict == "fails":
        rows = np.flatnonzero(stable)
        falls = [contribution(test, (k,)) for k in range(len(rows))]
        best = int(np.argmax([fall for fall, _ in falls]))
        twins = _twins(test, best, scale)
        names = tuple(moves.station[rows[k]] for k in twins)
        left = test.degrees_of_freedom - falls[best][1]
        if left < 1 or len(rows) - 1 <= len(twins):
            # Whichever is taken out, what is left agrees: nobody can tell.
            undecided = frozenset(rows.tolist())
            break
        steps.append(
            Step(
                moves.station[rows[best]],
                test.statistic,
                test.limit,
                test.degrees_of_freedom,
                falls[best][0],
                names,
            )
        )
        if twins:
            undecided |= {int(rows[best]), *(int(rows[k]) for k in twins)}
        stable[rows[best]] = False
        test = congruency(moves, stable, scale, confidence)
    stable = _taken_back(moves, stable, start, undecided, scale, confidence)
    return stable, tuple(steps), undecided


def _twins(test: Congruency, best: int, scale: Scale) -> list[int]:
    """Return the marks besides which the best one explains nothing more."""
    found = []
    for k in range(len(test.pull)):
        if k == best:
            continue
        alone, of_one = contribution(test, (k,))
        both, of_both = contribution(test, (best, k))
        more = of_both - of_one
        if more < 1 or both - alone < scale.limit(_TWIN, more):
            found.append(k)
    return found


def _taken_back(
    moves: Movements,
    stable: Bools,
    start: Bools,
    undecided: frozenset[int],
    scale: Scale,
    confidence: float,
) -> Bools:
    """Return the stable marks with those taken out that agree with the final ones."""
    for i in np.flatnonzero(start & ~stable).tolist():
        if i in undecided:
            continue
        again = stable.copy()
        again[i] = True
        if congruency(moves, again, scale, confidence).verdict == "meets":
            stable = again
    return stable
