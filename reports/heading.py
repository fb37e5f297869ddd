"""What a report says about the job itself, filled in by the command."""

from dataclasses import dataclass

from ..networks import Finding
from .rounding import Units


@dataclass(frozen=True, slots=True)
class DecisionLine:
    """A row of the register of decisions, as booked."""

    name: str
    action: str
    about: str
    """Kind and name: "baseline B11"."""
    reason: str
    who: str = ""
    when: str = ""
    value: str = ""
    evidence: str = ""
    answers: str = ""
    """Query that it answers."""
    superseded_by: str = ""
    """The later decision that replaces it; empty while it is in force."""


@dataclass(frozen=True, slots=True)
class Heading:
    """The job's own words, and what a stranger needs to rebuild the result.

    Examples
    --------
    >>> Heading(title="Mill Lane").unit
    'm'
    """

    title: str = ""
    surveyor: str = ""
    """The surveyor in charge."""
    licence: str = ""
    unit: str = "m"
    """Of printed lengths: ``m``, ``ift`` or ``sft``."""
    angle: str = "dms"
    """Of printed angles: ``dms``, ``deg`` or ``gon``."""
    dated: str = ""
    """Only if asked for: the same input gives the same bytes."""
    input_hash: str = ""
    versions: tuple[tuple[str, str], ...] = ()
    """Program and version, this one first."""
    decisions: tuple[DecisionLine, ...] = ()
    findings: tuple[Finding, ...] = ()
    criteria_set: str = ""
    """When the criteria were first set, and their hash."""
    file_hashes: tuple[tuple[str, str], ...] = ()
    full_tables: tuple[tuple[str, int, str], ...] = ()
    """Of a large job: file of each full table, its rows, and its SHA-256."""

    @property
    def in_charge(self) -> str:
        """The surveyor in charge, with the licence."""
        licence = f", licence {self.licence}" if self.licence else ""
        return f"{self.surveyor}{licence}" if self.surveyor else "not stated"

    @property
    def units(self) -> Units:
        """The units in which figures are printed."""
        return Units(self.unit, self.angle)
