"""What the tests and ellipses are computed with; each default with its source."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Options:
    """Probabilities and choices of a job's statistics.

    Examples
    --------
    >>> Options().outlier_alpha
    0.001
    """

    confidence: float = 0.95
    """Of ellipses and of the variance factor's limits (FGDC-STD-007.1, 1998)."""
    outlier_alpha: float = 0.001
    """Significance of a one-dimensional blunder test (Baarda, 1968)."""
    power: float = 0.80
    """Chance that a blunder of the smallest detectable size is found (Baarda, 1968)."""
    ellipses_from: str = "larger"
    """``larger`` (of stated and estimated), ``stated`` or ``estimated``."""
    tests_from: str = "stated"
    """Variance factor of the tests: ``stated`` (1) or ``estimated`` (s0²)."""
