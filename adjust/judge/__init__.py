"""What the result is worth: variance factor, blunder tests, known marks, checks."""

from .blunders import BlunderTests, blunder_tests
from .checked import checked_marks
from .known_marks import KnownMinusSurvey, known_minus_survey
from .variance_factor import VarianceFactor, variance_factor_test

__all__ = [
    "BlunderTests",
    "KnownMinusSurvey",
    "VarianceFactor",
    "blunder_tests",
    "checked_marks",
    "known_minus_survey",
    "variance_factor_test",
]
