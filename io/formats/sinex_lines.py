"""SINEX as lines: the heading, the blocks, fields at fixed columns, numbers, epochs.

Knows nothing of stations or covariances. Columns are counted from 1, as the
description of the format counts them.
"""

import re
from calendar import isleap
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ...networks import Finding

Line = tuple[int, str]


@dataclass(frozen=True, slots=True)
class FileFindings:
    """The findings of one file, added to as it is read."""

    file: str
    findings: list[Finding] = field(default_factory=list)

    def add(
        self,
        slug: str,
        about: str,
        *,
        verdict: str = "fault",
        line: int = 0,
        booked: str = "",
        against: str = "",
        mend: str = "",
    ) -> None:
        """Add one finding, a fault unless said otherwise."""
        self.findings.append(
            Finding(
                slug,
                verdict,
                about,
                file=self.file,
                row=line,
                line=line,
                booked=booked,
                against=against,
                mend=mend,
            )
        )

    @property
    def any_fault(self) -> bool:
        """Whether one of them stops the reading."""
        return any(finding.verdict == "fault" for finding in self.findings)


@dataclass(frozen=True, slots=True)
class Block:
    """One block of a file: what stands after + and the data lines."""

    title: str
    arguments: tuple[str, ...]
    line: int
    lines: Sequence[Line]
    """Line number and text of every data line; comments are left out."""


@dataclass(frozen=True, slots=True)
class Heading:
    """The first line of a file."""

    version: str
    agency: str
    estimates_count: int
    """Number of parameters it announces; 0 where it cannot be read."""
    constraint_code: str
    """``0`` tight, ``1`` significant, ``2`` none; empty where not given."""


def read_heading(line: str, found: FileFindings) -> Heading:
    """Return what the first line says; a fault if it is not a SINEX line.

    Examples
    --------
    >>> read_heading("%=SNX 2.01 XYZ 25:335:01280 IGS 25:333:00000 25:333:86370 "
    ...              "P 00045 0 S", FileFindings("a.snx")).estimates_count
    45
    """
    words = line.split()
    if not line.startswith("%=SNX") or len(words) < 3:
        found.add(
            "not-sinex",
            "heading",
            line=1,
            booked=line[:40],
            against="a first line that begins %=SNX 2.0x AGENCY",
            mend="check that the whole file was sent, and that it is not packed",
        )
        return Heading("", "", 0, "")
    if not words[1].startswith("2."):
        found.add(
            "sinex-version",
            f"version {words[1]}",
            verdict="query",
            line=1,
            booked=words[1],
            against="versions 2.01 and 2.02, by which the columns are read",
            mend="compare the imported coordinates with the file",
        )
    count = words[8] if len(words) > 8 else ""
    code = words[9] if len(words) > 9 and words[9] in ("0", "1", "2") else ""
    return Heading(words[1], words[2], int(count) if _is_whole(count) else 0, code)


def split_blocks(text: str, found: FileFindings) -> list[Block]:
    r"""Return the blocks of a file; a block that is not closed is a fault.

    Examples
    --------
    >>> text = "%=SNX 2.02 XYZ\n+SITE/ID\n*CODE\n ABCD\n-SITE/ID\n%ENDSNX\n"
    >>> split_blocks(text, FileFindings("a.snx"))[0].lines
    [(4, ' ABCD')]
    """
    blocks: list[Block] = []
    inside: list[Line] | None = None
    closed = False
    for number, line in enumerate(text.splitlines(), start=1):
        if line.startswith("%ENDSNX"):
            closed = True
        elif line.startswith("+"):
            words = line[1:].split()
            if inside is not None:
                _unclosed(blocks[-1], number, found)
            inside = []
            title = words[0] if words else ""
            blocks.append(Block(title, tuple(words[1:]), number, inside))
        elif line.startswith("-"):
            _check_end(line, number, blocks if inside is not None else [], found)
            inside = None
        elif inside is not None and line.strip() and not line.startswith("*"):
            inside.append((number, line))
    if inside is not None:
        _unclosed(blocks[-1], text.count("\n") + 1, found)
    if not closed:
        found.add(
            "file-cut-off",
            "end of file",
            line=len(text.splitlines()),
            against="a last line %ENDSNX",
            mend="fetch the file again: it seems to be cut off",
        )
    return blocks


def _unclosed(block: Block, number: int, found: FileFindings) -> None:
    found.add(
        "block-not-closed",
        f"block {block.title}",
        line=number,
        booked=f"+{block.title} on line {block.line}",
        against=f"a line -{block.title} after its data",
        mend="fetch the file again: a part of it seems to be missing",
    )


def _check_end(
    line: str, number: int, blocks: Sequence[Block], found: FileFindings
) -> None:
    title = line[1:].split()[0] if line[1:].split() else ""
    if not blocks or blocks[-1].title != title:
        expected = f"-{blocks[-1].title}" if blocks else "+ before every -"
        found.add(
            "block-not-closed",
            f"block {title}",
            line=number,
            booked=line.strip(),
            against=expected,
            mend="compare the titles of the blocks with the sender's copy",
        )


def named(blocks: Sequence[Block], title: str) -> list[Line]:
    """Return the data lines of every block of that title."""
    return [line for block in blocks if block.title == title for line in block.lines]


def cut(line: str, first: int, last: int) -> str:
    """Return columns ``first`` to ``last``, counted from 1, without outer spaces."""
    return line[first - 1 : last].strip()


def read_number(text: str, what: str, line: int, found: FileFindings) -> float:
    """Return a number; exponents may be written D; NaN and a fault if unreadable.

    Examples
    --------
    >>> read_number("-.405205296884358D+07", "value", 1, FileFindings("a.snx"))
    -4052052.96884358
    """
    try:
        value = float(text.upper().replace("D", "E"))
    except ValueError:
        value = np.nan
    if not np.isfinite(value):
        found.add(
            "not-a-number",
            what,
            line=line,
            booked=text or "nothing",
            against="a number such as -.405205296884358E+07, in its columns",
            mend="compare the line with the sender's copy",
        )
    return value


def read_index(text: str, what: str, line: int, found: FileFindings) -> int:
    """Return a parameter's number from 1; 0 and a fault if unreadable."""
    if _is_whole(text) and int(text) > 0:
        return int(text)
    found.add(
        "not-a-number",
        what,
        line=line,
        booked=text or "nothing",
        against="the number of a parameter, from 1",
        mend="compare the line with the sender's copy",
    )
    return 0


def _is_whole(text: str) -> bool:
    # isdigit alone lets superscripts pass.
    return text.isascii() and text.isdigit()


def decimal_year(text: str, line: int, found: FileFindings) -> float:
    """Return the decimal year of YY:DDD:SSSSS; NaN where it is left open.

    Years to 50 are 20YY, later ones 19YY, as the format says.

    Examples
    --------
    Noon of day 333 in a common year, (332 + 0.5)/365:

    >>> round(decimal_year("25:333:43200", 1, FileFindings("a.snx")), 6)
    2025.910959
    """
    match = re.fullmatch(r"([0-9]{2}):([0-9]{3}):([0-9]{5})", text)
    if match is None:
        found.add(
            "epoch-unreadable",
            "epoch",
            line=line,
            booked=text or "nothing",
            against="YY:DDD:SSSSS (year, day of the year, second of the day)",
            mend="compare the line with the sender's copy",
        )
        return float(np.nan)
    year, day, second = (int(part) for part in match.groups())
    if day == 0:
        return float(np.nan)
    full_year = year + (2000 if year <= 50 else 1900)
    days = 366 if isleap(full_year) else 365
    return full_year + (day - 1 + second / 86400.0) / days
