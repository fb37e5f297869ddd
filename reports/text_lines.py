"""Lines of terminal text: their width, what may stand in them, words filled in."""

import re
import unicodedata
from textwrap import wrap

from .words import unbroken

WIDTH = 80
"""Columns of a page of text."""


def clean(line: str) -> str:
    r"""Return a line without characters that would steer a terminal.

    Examples
    --------
    >>> clean("T1\x1b[2J")
    'T1?[2J'
    """
    return "".join("?" if unicodedata.category(c) in ("Cc", "Cf") else c for c in line)


def width(line: str) -> int:
    """Return how many columns of a terminal a line takes."""
    wide = sum(unicodedata.east_asian_width(c) in "WF" for c in line)
    return len(line) + wide - sum(bool(unicodedata.combining(c)) for c in line)


_COMMAND = re.compile(
    r"(?:^(?:next: )?|(?<=  )|(?<=: )|(?<=; ))brasscap \S.*?"
    r"(?=  |, (?:or|which)\b|; |: |\. |$)"
)
"""A command line in a sentence: set off by two spaces, or all there is to say."""


def _whole(found: re.Match[str]) -> str:
    """Return a command line as one word, since it is copied."""
    return found[0].replace(" ", "\N{NO-BREAK SPACE}")


def filled(words: str, indent: str, first: str) -> list[str]:
    """Return words filled into lines: the indent of the first, of the others."""
    lines = wrap(
        _COMMAND.sub(_whole, unbroken(words)),
        WIDTH,
        initial_indent=first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]
