"""A finding: something in the input that stops the work, or that needs an answer."""

import re
from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, replace
from hashlib import sha256

# No 0/O, 1/I/L: a query's name is read over the radio.
_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True)
class Finding:
    """One fault, query or note, in the shape in which every command prints it.

    Examples
    --------
    >>> finding = Finding("unknown-name", "fault", "baseline B7", file="baselines.csv",
    ...                   row=9, booked="to_station PILAR 1", likely="PILLAR 1")
    >>> finding.where
    'baselines.csv row 9'
    """

    slug: str
    """Stable name of the kind of finding, with a help page: ``unknown-name``."""
    verdict: str
    """``fault`` (stops the computation), ``query`` (needs an answer), ``note``."""
    about: str
    """What it concerns, as a person names it: "baseline B17 GROVE 3 – T104"."""
    file: str = ""
    row: int = 0
    """Row as a spreadsheet shows it; 0 where the finding is not about one row."""
    line: int = 0
    """Line of the file, from 1; differs from ``row`` after quoted line breaks."""
    column: str = ""
    booked: str = ""
    against: str = ""
    likely: str = ""
    mend: str = ""
    query: str = ""
    """Short name of a query, the same from run to run: ``K7F3``."""
    answered_by: str = ""
    """The decision that answers the query; empty while it is open."""

    @property
    def where(self) -> str:
        """File and row in words."""
        return f"{self.file} row {self.row}" if self.row else self.file

    @property
    def is_open(self) -> bool:
        """Whether it still asks for something."""
        return self.verdict == "fault" or (
            self.verdict == "query" and not self.answered_by
        )


_DECIDE = re.compile(r"brasscap decide(?: (?:'[^']*'|[^\s,;:'(]+)){3,}")


def with_reason(said: str) -> str:
    """Return words in which each decision to be typed asks for its reason.

    Without one it is refused, so that a line copied as it stood would not run.

    Examples
    --------
    >>> with_reason("brasscap decide unit set-up 'S1' 'height=ift', or accept")
    "brasscap decide unit set-up 'S1' 'height=ift' --reason …, or accept"
    >>> with_reason(with_reason("brasscap decide accept query K7F3"))
    'brasscap decide accept query K7F3 --reason …'
    """
    return _DECIDE.sub(
        lambda f: f[0] if "--reason" in f[0] else f"{f[0]} --reason …", said
    )


def short_name(text: str, taken: Container[str] = ()) -> str:
    """Return a name of four characters made from a text; longer if it is taken.

    Examples
    --------
    >>> short_name("a"), short_name("a", {"FTPJ"})
    ('FTPJ', 'FTPJG')
    """
    number = int.from_bytes(sha256(text.encode()).digest())
    digits = ""
    while len(digits) < 4 or digits in taken:
        number, digit = divmod(number, len(_LETTERS))
        digits += _LETTERS[digit]
    return digits


def name_queries(
    findings: Iterable[Finding], answers: Mapping[str, str] | None = None
) -> list[Finding]:
    """Return the findings with each query's short name and its answer filled in.

    The name is made from the slug, the subject and what was booked, so it needs no
    file, and a changed booking is a new query. On collision the later one is longer.

    Parameters
    ----------
    findings : iterable of Finding
    answers : mapping of str to str, optional
        Query name to the decision that answers it.

    Returns
    -------
    list of Finding
        All of them, in the order given.

    Examples
    --------
    >>> [f.query for f in name_queries([Finding("hangs-loose", "query", "mark T9")])]
    ['CNT7']
    """
    taken: set[str] = set()
    named = []
    for plain in findings:
        finding = replace(plain, mend=with_reason(plain.mend)) if plain.mend else plain
        if finding.verdict != "query":
            named.append(finding)
            continue
        text = "\x1f".join((finding.slug, finding.about, finding.booked))
        digits = short_name(text, taken)
        taken.add(digits)
        answer = (answers or {}).get(digits, finding.answered_by)
        named.append(replace(finding, query=digits, answered_by=answer))
    return named
