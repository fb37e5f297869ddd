"""Which marks have moved between two epochs, by how much, and what would not be seen.

The marks presumed stable are tested together, those that have not kept their shape
taken out (`stable_marks.py`), and each mark judged by those that are left
(`moved_marks.py`).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...networks import CommandError
from ..adjustment import Adjustment
from .congruency import (
    Congruency,
    Movements,
    Scale,
    carried,
    congruency,
)
from .epochs import movements, scale_of
from .moved_marks import Judge, Movement
from .stable_marks import Step, stable_marks

_MOST = 2000
"""Marks compared at once: every pair of them has a covariance."""


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
    stable, steps, undecided = stable_marks(moves, start, together, scale, confidence)
    after = congruency(moves, stable, scale, confidence)
    seen = carried(moves, stable)
    marks: tuple[Movement, ...] = ()
    if seen is not None:
        judge = Judge(seen, scale, confidence, power, stable, undecided, start, after)
        marks = tuple(judge.mark(i) for i in range(len(names)))
    verdict, words = _said(together, after, steps, marks, named)
    return Part(part, "", named, together, after, steps, marks, verdict, words)


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
