"""From a failed test to its cause: which shift of which rows explains the misfit."""

from .field import Labels
from .result import Suspects
from .suspects import suspects

__all__ = ["Labels", "Suspects", "suspects"]
