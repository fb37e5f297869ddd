"""Observations of a planned network: seeded normal noise, and planted blunders."""

from .planted import BLUNDERS, Blunder, plant
from .survey import simulate, undisturbed

__all__ = ["BLUNDERS", "Blunder", "plant", "simulate", "undisturbed"]
