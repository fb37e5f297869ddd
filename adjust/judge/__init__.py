"""What the result is worth: variance factor, blunder tests, known marks, checks."""

from .blunders import BlunderTests, blunder_tests
from .checked import checked_marks
from .known_marks import KnownMinusSurvey, known_minus_survey
from .parameters import ParameterEstimates, parameter_estimates
from .variance_factor import VarianceFactor, variance_factor_test

__all__ = [
    "BlunderTests",
    "KnownMinusSurvey",
    "ParameterEstimates",
    "VarianceFactor",
    "blunder_tests",
    "checked_marks",
    "known_minus_survey",
    "parameter_estimates",
    "variance_factor_test",
]
