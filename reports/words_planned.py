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
        f"{crew_words(crew)}, {clock_of(crew.start)} to {clock_of(crew.last)}",
    )


def crew_words(crew: "Crew") -> str:
    """Return receivers and teams, and whether anybody works alone.

    Examples
    --------
    >>> from brasscap.adjust.design.crew import Crew
    >>> crew_words(Crew(2, 2, 480, 720, people=2))
    '2 receivers, 2 teams of one person each, who works alone'
    >>> crew_words(Crew(1, 1, 480, 720, people=2))
    '1 receiver, 1 team of 2 people'
    """
    receivers = f"{crew.receivers} receiver{'s' if crew.receivers > 1 else ''}"
    teams = f"{crew.teams} team{'s' if crew.teams > 1 else ''}"
    if not crew.people:
        return f"{receivers}, {teams}"
    if crew.people == crew.teams == 1:
        return f"{receivers}, one person, who works alone"
    if crew.people == crew.teams:
        return f"{receivers}, {teams} of one person each, who works alone"
    if crew.teams == 1:
        return f"{receivers}, {teams} of {crew.people} people"
    alone = (
        "; in one of them somebody works alone" if crew.people < 2 * crew.teams else ""
    )
    return f"{receivers}, {crew.people} people in {teams}{alone}"


def lone_words(crew: "Crew") -> str:
    """Return what to see to where somebody works alone; empty where nobody does."""
    if not 0 < crew.people < 2 * crew.teams:
        return ""
    return (
        "Somebody works alone at each mark of this plan, unless you ride together "
        "([crew] vehicles = 1 plans for that): agree who calls whom, and when, before "
        "leaving; a lone person lifts no cover, stands on no road and no track."
    )


def assumed_facts(assumed: tuple[str, ...]) -> list[tuple[str, str]]:
    """Return what was taken for granted of a crew, as a fact; none for nothing."""
    return [("taken for granted", ", ".join(assumed))] if assumed else []
