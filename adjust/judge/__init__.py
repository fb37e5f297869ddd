"""What the result is worth: variance factor, blunder tests, known marks, checks."""

from .blunder_table import BlunderTests
from .blunders import blunder_tests
from .checked import checked_marks
from .explaining import alone_explaining
from .known_marks import KnownMinusSurvey, known_minus_survey
from .parameters import ParameterEstimates, parameter_estimates
from .variance_factor import VarianceFactor, variance_factor_test

__all__ = [
    "BlunderTests",
    "KnownMinusSurvey",
    "ParameterEstimates",
    "VarianceFactor",
    "alone_explaining",
    "blunder_tests",
    "checked_marks",
    "known_minus_survey",
    "parameter_estimates",
    "variance_factor_test",
]
