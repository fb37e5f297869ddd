"""What is said when a command cannot answer, and the code it ends with."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from brasscap.networks import BrasscapError, Finding, InputError, NoSolution
from brasscap.reports.document import Document, Facts, Found, Paragraph, Section
from brasscap.reports.objects import findings_objects


class Failure(NamedTuple):
    """A command that could not answer."""

    document: Document
    """For stderr."""
    facts: dict[str, Any]
    """What ``--json`` says, beside the command's other keys, which are empty."""


PER_FILE = 50
"""Findings printed a file; the object has all of them."""


def failure_of(error: BrasscapError) -> Failure:
    """Return what to say about an error that a user can mend.

    Examples
    --------
    >>> from brasscap.networks import CannotWrite
    >>> failure_of(CannotWrite("page.html cannot be written")).document.title
    'brasscap: page.html cannot be written'
    """
    facts: dict[str, Any] = {"error": str(error), "exit_code": error.exit_code}
    if isinstance(error, InputError):
        facts |= {"verdict": "fault"}
        facts["findings"] = findings_objects(error.findings)
        return Failure(_faults(error.findings), facts)
    if isinstance(error, NoSolution):
        facts |= {"verdict": "unchecked", "floating_marks": list(error.marks)}
        facts |= {"freedoms": list(error.freedoms), "mend": error.mend}
        return Failure(_floating(error), facts)
    return Failure(Document(f"brasscap: {error}", ()), facts)


def findings_section(findings: Sequence[Finding]) -> Section:
    """Return findings as a section, faults first, the first fifty a file."""
    order = {"fault": 0, "query": 1, "note": 2}
    ranked = sorted(findings, key=lambda f: (order[f.verdict], bool(f.answered_by)))
    shown: list[Finding] = []
    left_out: dict[str, int] = {}
    for finding in ranked:
        if sum(f.file == finding.file for f in shown) < PER_FILE:
            shown.append(finding)
        else:
            left_out[finding.file] = left_out.get(finding.file, 0) + 1
    more = [
        Paragraph(f"{file}: {count} more; --json has all of them")
        for file, count in left_out.items()
    ]
    return Section("", (*(Found(f) for f in shown), *more))


def counted(count: int, noun: str, plural: str = "") -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> counted(1, "fault"), counted(2, "query", "queries")
    ('1 fault', '2 queries')
    """
    return f"{count} {noun if count == 1 else plural or noun + 's'}"


def _faults(findings: Sequence[Finding]) -> Document:
    faults = [f for f in findings if f.verdict == "fault"]
    if not faults:
        title = "the input cannot be used: nothing was computed or written"
        return Document(title, (findings_section(findings),))
    count = counted(len(faults), "fault")
    queries = sum(f.verdict == "query" and f.is_open for f in findings)
    lines = [Paragraph(f"what one means: brasscap help {faults[0].slug}", "next")]
    if queries:
        said = counted(queries, "open query", "open queries")
        lines.append(Paragraph(f"next: brasscap check, which has {said} too", "next"))
    return Document(
        f"{count} in the input: nothing was computed or written",
        (findings_section(faults), Section("", tuple(lines))),
    )


def _floating(error: NoSolution) -> Document:
    pairs = []
    if error.marks:
        pairs.append(("marks", ", ".join(error.marks)))
    if error.freedoms:
        pairs.append(("free to", ", ".join(error.freedoms)))
    if error.mend:
        pairs.append(("mend", error.mend))
    parts = (Facts(tuple(pairs)),) if pairs else ()
    return Document(f"no solution: {error.problem}", (Section("", parts),))
