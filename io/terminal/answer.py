"""What a command gives back: a document for a person, an object for a program."""

from collections.abc import Iterable
from typing import Any, NamedTuple

from brasscap.reports.document import Document, Table, VerdictLine, Vial


class Answer(NamedTuple):
    """The answer of one command."""

    document: Document
    """For stdout: verdict, evidence, numbers, next step."""
    data: dict[str, Any]
    """The object that ``--json`` prints."""
    exit_code: int = 0
    notes: tuple[str, ...] = ()
    """For stderr."""


def verdicts_of(document: Document) -> set[str]:
    """Return the verdicts that a document shows, each beside its vial."""
    found = set()
    for section in document.sections:
        for part in section.parts:
            if isinstance(part, VerdictLine):
                found.add(part.vial.verdict)
            if isinstance(part, Table):
                cells = [cell for row in part.rows for cell in row.cells]
                found |= {cell.verdict for cell in cells if isinstance(cell, Vial)}
    return found


def code_of(verdicts: Iterable[str], open_queries: int, strict: bool) -> int:
    """Return the exit code: the worst of what is shown.

    Parameters
    ----------
    verdicts : iterable of str
        ``meets``, ``query``, ``unchecked``, ``fails``, ``fault``.
    open_queries : int
        Queries about the input that no decision answers.
    strict : bool
        Whether a query counts as fails.

    Examples
    --------
    >>> code_of(["meets", "query"], 1, strict=False)
    0
    >>> code_of(["meets", "query"], 1, strict=True)
    1
    """
    shown = set(verdicts)
    if "fault" in shown:
        return 3
    if "fails" in shown or (strict and (open_queries or "query" in shown)):
        return 1
    return 0
