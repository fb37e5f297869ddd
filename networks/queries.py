"""A query and its life: raised, answered by a decision, no longer raised."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from .findings import Finding, short_name

STATES = ("open", "answered", "gone")
"""In the order in which they are listed; gone: answered, and no longer raised."""


@dataclass(frozen=True, slots=True)
class Query:
    """Something that asks for an answer, from the input or from a result.

    Examples
    --------
    >>> Query("loop-open", "loop B2 + B9", source="loops").state
    'open'
    """

    slug: str
    """Stable name of the kind: ``readings-disagree``, ``cause-suspected``."""
    about: str
    """What it concerns, as a person names it."""
    verdict: str = "query"
    """``query``, ``fails`` or ``unchecked``: an answer leaves it as it is."""
    source: str = "check"
    """The command that shows it: ``check``, ``suspects``, ``control`` …"""
    said: str = ""
    """The figures, in words."""
    name: str = ""
    """Four characters, the same from run to run; longer where two would be alike."""
    decision: str = ""
    """The decision in force that answers it; empty while it is open."""
    state: str = "open"
    look: str = ""
    """The command that shows the thing itself."""
    test: float = 0.0
    """Of a suspected cause: its test, 1 = the limit; 0 of all else."""
    mend: str = ""
    """The command that mends it and answers it, where one line does."""


def leading_cause(queries: Iterable[Query], largest: float) -> Query | None:
    """Return the suspected cause whose test is clearly above the largest single one.

    Parameters
    ----------
    queries : iterable of Query
        All of the job.
    largest : float
        The largest test of one observation, set-up or mark; 0 for none.

    Examples
    --------
    >>> one = Query("cause-suspected", "prism constant 1", "fails", test=8.88)
    >>> leading_cause([one], 4.89).about
    'prism constant 1'
    >>> leading_cause([one], 8.80) is None
    True
    """
    causes = [q for q in queries if q.slug == "cause-suspected" and q.state == "open"]
    first = max(causes, key=lambda query: query.test, default=None)
    if first is None or first.test <= max(1.0, CLEARLY * largest):
        return None
    return first


CLEARLY = 1.2
"""How many times the largest single test a cause's test must be to lead; common
practice, no source: tests within a fifth explain the misfit about as well."""


def input_queries(findings: Iterable[Finding]) -> list[Query]:
    """Return the queries among the findings about the input, under their names."""
    return [
        Query(
            finding.slug,
            finding.about,
            "query",
            "check",
            finding.booked or finding.against,
            finding.query,
            finding.answered_by,
            "answered" if finding.answered_by else "open",
        )
        for finding in findings
        if finding.verdict == "query"
    ]


def named_queries(
    raised: Iterable[Query], taken: Iterable[str] = ()
) -> tuple[Query, ...]:
    """Return queries raised by results with their names.

    A name is made from kind, subject and verdict and not from the figures, so that it
    stays when a figure changes a little, and a query that becomes a failure is a new
    one: an answer to the first is none to the second.

    Parameters
    ----------
    raised : iterable of Query
    taken : iterable of str, optional
        Names of the input's queries, which came first.

    Examples
    --------
    >>> one = Query("loop-open", "loop B2 + B9", source="loops")
    >>> [query.name for query in named_queries([one])]
    ['VUQ5']
    """
    used = set(taken)
    named = []
    for query in raised:
        text = "\x1f".join((query.slug, query.about, query.verdict))
        name = short_name(text, used)
        used.add(name)
        mend = f"{query.mend} --answers {name}" if query.mend else ""
        named.append(replace(query, name=name, mend=mend))
    return tuple(named)


def with_answers(
    raised: Sequence[Query], answers: Mapping[str, str], *, complete: bool
) -> tuple[Query, ...]:
    """Return queries with their states: open, then answered, then gone.

    Parameters
    ----------
    raised : sequence of Query
        Under their names.
    answers : mapping of str to str
        Name of a query to the decision in force that answers it.
    complete : bool
        Whether everything was looked at, so that an answered query which is not raised
        is gone; else nothing is said of it.
    """
    made = [
        replace(query, decision=answers[query.name], state="answered")
        if query.name in answers
        else query
        for query in raised
    ]
    if complete:
        names = {query.name for query in raised}
        made += [
            Query("", "", "", "", "", name, decision, "gone")
            for name, decision in answers.items()
            if name not in names
        ]
    return tuple(sorted(made, key=_order))


def _order(query: Query) -> tuple[int, int]:
    """Return the place in the list: by state, open ones that fail first."""
    graver = ("fails", "query", "unchecked", "")
    within = graver.index(query.verdict) if query.state == "open" else 0
    return STATES.index(query.state), within
