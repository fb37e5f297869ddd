"""decisions.csv: every choice, with its reason."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Decision:
    """One row of decisions.csv."""

    name: str
    action: str
    about_kind: str
    about: str
    value: str
    reason: str
    who: str
    when_utc: str = ""
    evidence: str = ""
    answers_query: str = ""
    supersedes: str = ""
    file: str = "decisions.csv"
    row: int = 0
