"""What `check` says of the input, and what the bare command says of a job."""

import re
from collections.abc import Sequence

from ..networks import Finding
from ..networks.findings import with_reason
from .document import Document, Found, Paragraph, Part, Section, VerdictLine, Vial
from .heading import Heading

_SHOWN_A_FILE = 50


def check_document(
    findings: Sequence[Finding], sizes: Sequence[tuple[str, int]], heading: Heading
) -> Document:
    """Return the findings of a job's input, all of them, in the order of the files.

    Parameters
    ----------
    findings : sequence of Finding
    sizes : sequence of (str, int)
        Each table and its rows.
    heading : Heading
    """
    faults, queries = _count(findings, "fault"), _open(findings)
    parts: list[Part] = []
    shown: dict[str, int] = {}
    for finding in findings:
        shown[finding.file] = shown.get(finding.file, 0) + 1
        if shown[finding.file] <= _SHOWN_A_FILE:
            parts.append(Found(finding))
    for file, count in shown.items():
        if count > _SHOWN_A_FILE:
            more = count - _SHOWN_A_FILE
            parts.append(Paragraph(f"and {more} more in {file}; mend these first"))
    summary = (
        input_line(findings),
        Paragraph("read: " + ", ".join(f"{n} {name}" for name, n in sizes), "soft"),
    )
    step = check_next(faults, queries)
    said = "to accept one: brasscap decide accept query NAME --reason …"
    accept = (Paragraph(said, "step"),) if queries else ()
    return Document(
        f"Input of {heading.title}" if heading.title else "Input",
        (
            Section("", summary),
            Section("", tuple(parts)),
            Section("", (*accept, Paragraph(f"next: {step}", "next"))),
        ),
    )


def input_line(findings: Sequence[Finding]) -> VerdictLine:
    """Return the verdict on the input: faults fail, open queries are queries."""
    faults, queries = _count(findings, "fault"), _open(findings)
    answered = sum(f.verdict == "query" and not f.is_open for f in findings)
    verdict = "fails" if faults else "query" if queries else "meets"
    words = [f"{faults} {_plural(faults, 'fault')}"]
    words.append(f"{len(queries)} open {_plural(len(queries), 'query')}")
    if answered:
        words.append(f"{answered} answered")
    return VerdictLine("input", Vial(verdict), "", ", ".join(words))


def _plural(count: int, word: str) -> str:
    if count == 1:
        return word
    return {"query": "queries"}.get(word, f"{word}s")


def _count(findings: Sequence[Finding], verdict: str) -> int:
    return sum(f.verdict == verdict for f in findings)


def _open(findings: Sequence[Finding]) -> list[Finding]:
    return [f for f in findings if f.verdict == "query" and f.is_open]


def check_next(faults: int, queries: Sequence[Finding]) -> str:
    """Return the next step after `check`: the mend of the gravest open query.

    To accept it is never the first advice.
    """
    if faults:
        return "mend the faults above, then  brasscap check"
    if not queries:
        return "brasscap adjust minimal"
    gravest = min(queries, key=_gravity)
    command = _COMMAND.search(gravest.mend)
    if command:
        return with_reason(command[0].strip())
    name = f"query {gravest.query}, {gravest.about} ({gravest.slug})"
    ways = [way for way in _OR.split(gravest.mend) if not way.startswith("accept")]
    way = ways[0] if ways else "find out which is right"
    return f"{name}: {way}; then  brasscap check"


_GRAVE = (
    # A height in feet leads its vectors to another place, and is mended at once.
    "height-looks-like-feet",
    "name-two-places",
    "position-twice",
    "axes-swapped",
    "frame-differs",
    "epoch-differs",
    "height-datum-differs",
    "rise-looks-like-feet",
    "foot-not-named",
    "run-reversed",
    "readings-disagree",
    "reading-contradicts",
    "faces-disagree",
    "angles-look-like-gon",
    "angles-look-like-packed-dms",
    "sd-looks-like-variance",
    "names-alike",
    "names-one-place",
    "runs-disagree",
    "curvature-neglected",
)
"""What makes results wrong, the gravest first."""
_LIGHT = (
    "hangs-loose",
    "no-observation",
    "orientation-one-pointing",
    "unknown-table",
    "unknown-column",
    "table-not-used",
    "key-without-effect",
)
"""What only leaves something unchecked, or unread."""
_COMMAND = re.compile(r"brasscap decide (?!accept)(?:'[^']*'|[^,;'(])+")
_OR = re.compile(r"(?:; or|, or|;|,(?= accept)) ")


def _gravity(query: Finding) -> int:
    if query.slug in _GRAVE:
        return _GRAVE.index(query.slug)
    return len(_GRAVE) + (1 + _LIGHT.index(query.slug) if query.slug in _LIGHT else 0)


def status_document(
    findings: Sequence[Finding],
    lines: Sequence[VerdictLine],
    heading: Heading,
    steps: Sequence[Part],
    queries: Sequence[Part] = (),
    issues: Sequence[str] = (),
) -> Document:
    """Return where a job stands: verdicts, queries with their answers, next steps.

    Parameters
    ----------
    findings : sequence of Finding
    lines : sequence of VerdictLine
        Verdicts of the last adjustment; none before the first.
    heading : Heading
    steps : sequence of Part
        The commands that help most now.
    queries : sequence of Part
        All of them, open ones first.
    issues : sequence of str
        What became of each issue, in words.
    """
    parts: list[Part] = [input_line(findings), *lines]
    if not lines:
        parts.append(Paragraph("not adjusted yet"))
    parts += [Paragraph(words) for words in issues]
    sections = [Section("", tuple(parts))]
    if queries:
        sections.append(Section("", tuple(queries)))
    sections.append(Section("", tuple(steps)))
    return Document(heading.title or "This job", tuple(sections))
