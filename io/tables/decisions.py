"""decisions.csv: every choice, with its reason.

What a decision does to the tables is in ``deciding``.
"""

from dataclasses import dataclass

from ...networks.findings import Finding
from .spelling import nearest
from .table import Table


@dataclass(frozen=True, slots=True)
class Decision:
    """One row of decisions.csv."""

    name: str
    action: str
    """One of the closed list: ``leave-out``, ``hold`` …"""
    about_kind: str
    """``baseline``, ``set-up``, ``known mark height`` …"""
    about: str
    value: str
    reason: str
    who: str
    when_utc: str = ""
    evidence: str = ""
    answers_query: str = ""
    supersedes: str = ""
    position: int = 0
    """Row of the table of decisions, from 0."""
    in_force: bool = True
    """False where a later decision supersedes it."""

    @property
    def text(self) -> str:
        """The decision as a report says it: ``leave-out baseline B17``."""
        words = (self.action, self.about_kind, self.about, self.value)
        return " ".join(word for word in words if word)


_COLUMNS = {
    "name": "decision",
    "action": "action",
    "about_kind": "about_kind",
    "about": "about",
    "value": "value",
    "reason": "reason",
    "who": "who",
    "when_utc": "when",
    "evidence": "evidence",
    "answers_query": "answers_query",
    "supersedes": "supersedes",
}


def read_decisions(table: Table, findings: list[Finding]) -> tuple[Decision, ...]:
    """Return the decisions in the order in which they were written down.

    Parameters
    ----------
    table : Table
        decisions.csv.
    findings : list of Finding
        A decision that supersedes none that stands above it is added here.

    Returns
    -------
    tuple of Decision
        All of them; ``in_force`` says which count.
    """
    superseded = _superseded(table, findings)
    decisions = []
    for i in range(len(table)):
        words = {field: str(table.word(name)[i]) for field, name in _COLUMNS.items()}
        in_force = words["name"] not in superseded
        decisions.append(Decision(**words, position=i, in_force=in_force))
    return tuple(decisions)


def _superseded(table: Table, findings: list[Finding]) -> set[str]:
    names = [str(name) for name in table.word("decision")]
    superseded = set()
    for i, name in enumerate(table.word("supersedes")):
        if name and name in names[:i]:
            superseded.add(str(name))
        elif name:
            findings.append(
                table.finding(
                    "unknown-name",
                    "fault",
                    i,
                    ("supersedes",),
                    against="a decision that stands above it",
                    likely=nearest(str(name), names[:i]),
                    mend="name the decision that it replaces",
                )
            )
    return superseded
