"""Which marks have moved between two epochs, by how much, and what would not be seen.

The marks presumed stable are tested together; while they have not kept their shape,
the one that explains most is taken out and the rest tested again. A mark that another
could be mistaken for is said with the other, and where too few are left nobody can
tell which of them moved.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from ...networks import CommandError
from ...networks.covariances import Bools, Floats
from ..adjustment import Adjustment
from ..judge.limits import noncentrality
from .congruency import (
    Congruency,
    Movements,
    Scale,
    carried,
    congruency,
    contribution,
)
from .epochs import movements, scale_of

_MOST = 2000
"""Marks compared at once: every pair of them has a covariance."""

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


@dataclass(frozen=True, slots=True)
class Movement:
    """What became of one mark."""

    station: str
    role: str
    """``stable``, ``moved``, ``undecided`` (one of several), or ``watched``: never
    taken for stable."""
    move: Floats
    """(p,) second minus first in the datum of the stable marks, m: east and north,
    or height."""
    covariance: Floats
    """(p, p) of it, m², scaled as the tests are."""
    limit: Floats
    """(p,) half-width at the confidence of each component alone, m."""
    test: float
    """√(statistic / limit) of this mark alone; NaN where it cannot be judged."""
    least: float
    """The least movement that is found with the power stated, m, in the direction in
    which it hides best; NaN where none would be."""
    verdict: str


@dataclass(frozen=True, slots=True)
class Part:
    """Plan or height of a network at two epochs."""

    part: str
    """``plan`` or ``height``."""
    refused: str
    """Why it cannot be compared, in words; else empty."""
    presumed: tuple[str, ...]
    together: Congruency | None
    """Of all that were presumed stable."""
    after: Congruency | None
    """Of those that are left."""
    steps: tuple[Step, ...]
    marks: tuple[Movement, ...]
    verdict: str
    words: str
    """What came out, in a sentence."""


@dataclass(frozen=True, slots=True)
class Stability:
    """Two epochs of one network compared."""

    scale: Scale
    scale_words: str
    confidence: float
    power: float
    parts: tuple[Part, ...]
    only_first: tuple[str, ...]
    """Marks that the second does not have."""
    only_second: tuple[str, ...]


def stability(
    first: Adjustment, second: Adjustment, presumed: Sequence[str] = ()
) -> Stability:
    """Return which marks have moved between two adjustments of one network.

    Parameters
    ----------
    first, second : Adjustment
        In one frame, by different observations; the datum of each does not matter.
    presumed : sequence of str, optional
        Marks presumed stable; all common ones if left out.

    Returns
    -------
    Stability

    Raises
    ------
    CommandError
        A presumed mark is not in both, or there are too many marks.
    """
    names = [one.network.marks.name for one in (first, second)]
    lost = [name for name in presumed if not all(name in some for some in names)]
    if lost:
        raise CommandError(
            f"stability --stable: {', '.join(lost)} is not a mark of both records"
        )
    count = len(set(names[0]) & set(names[1]))
    if count > _MOST:
        raise CommandError(
            f"stability: {count} marks in common are too many to compare each with "
            f"each; at most {_MOST}: issue the part in question as a job of its own"
        )
    scale, words = scale_of(first, second)
    options = second.network.options
    parts = []
    for part in ("plan", "height"):
        moves, why = movements(first, second, part)
        if len(moves.station):
            found = judge_movements(
                moves, scale, options.confidence, options.power, presumed, part, why
            )
            parts.append(found)
    return Stability(
        scale,
        words,
        options.confidence,
        options.power,
        tuple(parts),
        tuple(name for name in names[0] if name not in names[1]),
        tuple(name for name in names[1] if name not in names[0]),
    )


def judge_movements(
    moves: Movements,
    scale: Scale,
    confidence: float = 0.95,
    power: float = 0.80,
    presumed: Sequence[str] = (),
    part: str = "height",
    refused: str = "",
) -> Part:
    """Return what became of each mark.

    Parameters
    ----------
    moves : Movements
    scale : Scale
    confidence, power : float
    presumed : sequence of str, optional
        All marks if left out.
    part : str
        ``plan`` or ``height``.
    refused : str, optional
        Why it cannot be compared.

    Examples
    --------
    >>> moves = Movements(tuple("ABC"), np.array([[0.0], [0.0], [-0.006]]),
    ...                   1e-6 * np.eye(3).reshape(3, 1, 3, 1), np.ones((3, 1, 1)))
    >>> found = judge_movements(moves, Scale("stated", 1.0, 0))
    >>> [(mark.station, mark.role) for mark in found.marks]
    [('A', 'stable'), ('B', 'stable'), ('C', 'moved')]
    """
    names = np.array(moves.station, dtype=object)
    start = np.isin(names, list(presumed)) if presumed else np.ones(len(names), bool)
    named = tuple(str(name) for name in names[start])
    if refused:
        return Part(part, refused, named, None, None, (), (), "unchecked", refused)
    together = congruency(moves, start, scale, confidence)
    stable, steps, undecided = _search(moves, start, together, scale, confidence)
    after = congruency(moves, stable, scale, confidence)
    seen = carried(moves, stable)
    marks: tuple[Movement, ...] = ()
    if seen is not None:
        judge = _Judge(seen, scale, confidence, power, stable, undecided, start, after)
        marks = tuple(judge.mark(i) for i in range(len(names)))
    verdict, words = _said(together, after, steps, marks, named)
    return Part(part, "", named, together, after, steps, marks, verdict, words)


def _search(
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


@dataclass(frozen=True, slots=True)
class _Judge:
    """What every mark is judged by."""

    seen: Movements
    scale: Scale
    confidence: float
    power: float
    stable: Bools
    undecided: frozenset[int]
    start: Bools
    after: Congruency

    def mark(self, i: int) -> Movement:
        """Return what became of one mark."""
        p = self.seen.size
        move = self.seen.difference[i]
        covariance = self.seen.covariance[i, :, i] * self.scale.variance
        statistic = _quadratic(covariance, move)
        limit = self.scale.limit(self.confidence, p)
        test = float(np.sqrt(statistic / limit))
        role = self._role(i)
        one = self.scale.limit(self.confidence, 1)
        return Movement(
            self.seen.station[i],
            role,
            move,
            covariance,
            np.sqrt(one * np.diagonal(covariance)),
            test,
            self._least(i, covariance),
            self._verdict(role, test),
        )

    def _role(self, i: int) -> str:
        if i in self.undecided:
            return "undecided"
        if self.stable[i]:
            return "stable"
        return "moved" if self.start[i] else "watched"

    def _verdict(self, role: str, test: float) -> str:
        if role == "stable" and self.after.verdict == "meets":
            return "meets"
        if not np.isfinite(test) or role == "stable":
            return "unchecked"
        if role == "moved":
            return "fails"
        if role == "undecided":
            return "query"
        joint = 1 - (1 - self.confidence) / max(1, int((~self.start).sum()))
        p = self.seen.size
        beyond = test**2 * self.scale.limit(self.confidence, p)
        if beyond > self.scale.limit(joint, p):
            return "fails"
        return "query" if test > 1 else "meets"

    def _least(self, i: int, covariance: Floats) -> float:
        """Return the least movement found: by all stable ones together, or alone."""
        alpha = 1 - self.confidence
        if self.stable[i]:
            k = int(self.stable[:i].sum())
            values = np.linalg.eigvalsh(self.after.weight[k, :, k])
            freedom = self.after.degrees_of_freedom
            if freedom < 1 or values[0] < 1e-9 * max(float(values[-1]), 1e-300):
                return float("nan")
            shift = _noncentrality(alpha, self.power, freedom, self.scale)
            return float(np.sqrt(shift / values[0]))
        shift = _noncentrality(alpha, self.power, len(covariance), self.scale)
        return float(np.sqrt(shift * np.linalg.eigvalsh(covariance)[-1]))


def _quadratic(covariance: Floats, move: Floats) -> float:
    """Return dᵀQ⁻¹d; NaN where the mark carries the datum alone and cannot move."""
    if np.linalg.eigvalsh(covariance)[0] <= 1e-12 * 1e-6:
        return float("nan")
    return float(move @ np.linalg.solve(covariance, move))


def _noncentrality(alpha: float, power: float, p: int, scale: Scale) -> float:
    """Return λ0 of the test that the scale calls for."""
    if scale.kind == "none":
        return float("nan")
    if scale.kind == "stated":
        return noncentrality(alpha, power, p)
    freedom = scale.degrees_of_freedom
    limit = float(special.fdtri(p, freedom, 1 - alpha))
    return float(special.ncfdtrinc(p, freedom, 1 - power, limit))


def _said(
    together: Congruency,
    after: Congruency,
    steps: tuple[Step, ...],
    marks: tuple[Movement, ...],
    presumed: tuple[str, ...],
) -> tuple[str, str]:
    """Return verdict and sentence of a part."""
    if together.verdict == "unchecked":
        words = "too few marks in common: whatever moved, their shape stays possible"
        return "unchecked", words
    watched = [mark for mark in marks if mark.role == "watched"]
    over = [mark.station for mark in watched if mark.verdict in ("fails", "query")]
    left = [name for name in presumed if name not in {step.station for step in steps}]
    nobody = f"something moved, and nobody can tell which of {', '.join(left)}"
    if steps:
        words = "moved: " + ", ".join(
            f"{s.station}" + (f" (or {', '.join(s.twins)})" if s.twins else "")
            for s in steps
        )
        return "fails", f"{words}; {nobody}" if after.verdict == "fails" else words
    if after.verdict == "fails":
        return "fails", nobody
    if any(mark.verdict == "fails" for mark in watched):
        return "fails", f"moved: {', '.join(over)}"
    if over:
        return "query", f"perhaps moved: {', '.join(over)}"
    return "meets", "no mark has moved by more than the limits"
