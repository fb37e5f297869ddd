"""Words that all plans of work share: the crew and its hours, what could hide."""

from typing import TYPE_CHECKING

import numpy as np

from ..networks.clock import clock_of
from .rounding import Units

if TYPE_CHECKING:
    from ..adjust.design.crew import Crew


def hidden_words(size: float, units: Units) -> str:
    """Return a largest hidden blunder in words: "any size" where nothing checks it."""
    return units.said(size) if np.isfinite(size) else "any size"


def crew_fact(crew: "Crew") -> tuple[str, str]:
    """Return who goes out and between which hours, as a fact."""
    return (
        "crew",
        f"{crew.receivers} receivers, {crew.teams} teams, {clock_of(crew.start)} to "
        f"{clock_of(crew.last)}",
    )


def assumed_facts(assumed: tuple[str, ...]) -> list[tuple[str, str]]:
    """Return what was taken for granted of a crew, as a fact; none for nothing."""
    return [("taken for granted", ", ".join(assumed))] if assumed else []
