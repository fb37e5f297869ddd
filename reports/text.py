"""A document as terminal text: columns aligned, 80 wide where the figures allow.

The same text goes to a pipe. Colour is added only where it is asked for, to words that
already say the same without it.
"""

import re
from collections.abc import Iterator, Sequence

from .document import (
    Document,
    Facts,
    Found,
    Paragraph,
    Part,
    Section,
    Table,
    VerdictLine,
)
from .text_lines import WIDTH, clean, filled, width
from .text_tables import table_lines
from .vial import vial_text

_INDENTS = {"next": "", "why": " " * 6}
_TONES = {"meets": "34", "query": "33", "fails": "31", "fault": "31", "unchecked": "1"}


def text(document: Document, *, colour: bool = False) -> str:
    """Return a document as text.

    Parameters
    ----------
    document : Document
    colour : bool
        Whether to add terminal colours to the verdict words.

    Returns
    -------
    str
        Lines, the last one ended too.

    Examples
    --------
    >>> print(text(Document("Sound", (Section("", (Paragraph("no faults"),)),))))
    Sound
      no faults
    <BLANKLINE>
    """
    lines = filled(document.title, "  ", "")
    for number, section in enumerate(document.sections):
        made = section_lines(section)
        apart = number and made and not section.title
        lines += ["", *made] if apart else made
    plain = [clean(line).rstrip() for line in lines]
    return "\n".join(_coloured(plain) if colour else plain) + "\n"


def section_lines(section: Section) -> list[str]:
    """Return the lines of a section, its title first; none where all is drawings."""
    lines: list[str] = []
    before: Part | None = None
    for part in section.parts:
        set_part = list(_lines(part))
        apart = isinstance(part, Table | Found) or isinstance(before, Table | Found)
        if set_part and before is not None and apart:
            lines.append("")
        lines += set_part
        before = part if set_part else before
    title = filled(section.title, "  ", "")
    return ["", *title, *lines] if section.title and lines else lines


def _lines(part: Part) -> Iterator[str]:
    if isinstance(part, Paragraph) and not part.text:
        yield ""
    elif isinstance(part, Paragraph) and part.tone == "step":
        # A command line is copied: it is never broken.
        yield part.text
    elif isinstance(part, Paragraph):
        indent = _INDENTS.get(part.tone, "  ")
        yield from filled(part.text, indent, indent)
    elif isinstance(part, VerdictLine):
        yield from _verdict_lines(part)
    elif isinstance(part, Table):
        yield from table_lines(part)
    elif isinstance(part, Facts):
        yield from _fact_lines(part)
    elif isinstance(part, Found):
        yield from finding_lines(part)


def _verdict_lines(part: VerdictLine) -> Iterator[str]:
    tube = f"{vial_text(part.vial, 7):<11}"
    head = f"  {part.what:<17} {tube} {part.value:<7} {part.vial.verdict:<9}"
    if width(head) + 2 + width(part.evidence) <= WIDTH:
        yield f"{head}  {part.evidence}"
    else:
        yield head
        yield from filled(part.evidence, " " * 20, " " * 20)


def _fact_lines(part: Facts) -> Iterator[str]:
    wide = max((width(term) for term, _ in part.pairs), default=0)
    for term, said in part.pairs:
        first = f"  {term}{' ' * (wide - width(term) + 2)}"
        if max(map(width, said.split()), default=0) > WIDTH - wide - 4:
            yield f"  {term}"
            yield from filled(said, " " * 4, " " * 4)
        else:
            yield from filled(said or "–", " " * (wide + 4), first)


def finding_lines(part: Found) -> Iterator[str]:
    """Yield a fault, query or note: where, what, booked, against, likely, mend."""
    finding = part.finding
    name = f"{finding.verdict} {finding.query}".strip()
    head = f"{name:<11}{finding.where}  {finding.about}"
    room = WIDTH - width(head) - 2
    if len(finding.slug) <= room:
        yield head + finding.slug.rjust(room + 2)
    else:
        yield from filled(head, " " * 11, "")
        yield " " * 11 + finding.slug
    for term in ("booked", "against", "likely", "mend"):
        said = getattr(finding, term)
        if said:
            yield from filled(said, " " * 12, f"  {term:<10}")
    if finding.answered_by:
        yield f"  answered  by decision {finding.answered_by}"


def _coloured(lines: Sequence[str]) -> list[str]:
    verdicts = "|".join(_TONES)
    word = re.compile(rf"(?:(?<=\s)|^)({verdicts})(?=\s|$)")
    return [
        word.sub(lambda m: f"\x1b[{_TONES[m[1]]}m{m[1]}\x1b[0m", line) for line in lines
    ]
