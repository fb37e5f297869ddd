"""From a failed test to its cause: which shift of which rows explains the misfit."""

from .field import Labels
from .suspects import Suspects, suspects

__all__ = ["Labels", "Suspects", "suspects"]
