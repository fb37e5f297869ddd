"""What the tables say of a mark beside its coordinates, and what to mind there."""

import re
from dataclasses import dataclass

from .glossary import FIELD_CAUTIONS


@dataclass(frozen=True, slots=True)
class MarkNotes:
    """A row of stations.csv and what belongs to it, as booked."""

    stamping: str = ""
    kind: str = ""
    """Brass cap, rod, pipe …"""
    ties: str = ""
    """Measured to lasting things near it."""
    access: str = ""
    sky: str = ""
    files: tuple[tuple[str, str], ...] = ()
    """Photographs and evidence: name, and SHA-256, or why there is none."""
    observed: str = ""
    """First and last day of observation, UTC: "2026-03-10 to 2026-03-12"."""


_HAZARDS = (
    r"overhead|power ?line|pylon|high voltage|live wire",
    r"roads?|streets?|traffic|lorr|truck|vehicle|fork.?lift|tram|trains?|rail|crane",
    r"excavat|trench|pits?|quarry|water|river|swell|life jacket|tide|weir|sluice|"
    r"edge|cliff|bank",
    r"alone|remote|lightning|thunder|laser",
)
"""Words of a note, a row for each of the cautions of the field."""


def cautions_of(note: str) -> tuple[str, ...]:
    """Return the cautions that a note calls for.

    Parameters
    ----------
    note : str
        Description, access and sky, as booked.

    Examples
    --------
    >>> [caution[:14] for caution in cautions_of("tide; overhead line 40 m north")]
    ['Overhead lines', 'Excavations an']
    >>> cautions_of("key at the loft")
    ()
    """
    said = note.lower()
    return tuple(
        caution
        for words, caution in zip(_HAZARDS, FIELD_CAUTIONS, strict=True)
        if re.search(rf"\b(?:{words})", said)
    )
