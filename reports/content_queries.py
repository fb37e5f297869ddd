"""Every query of a job with its answer: a table, and the same for programs."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from ..networks.queries import Query
from .document import Column, Document, Paragraph, Part, Row, Section, Table
from .heading import DecisionLine, Heading
from .objects_figures import Object

_STATE = {"open": "open", "answered": "answered", "gone": "no longer raised"}


def queries_table(
    queries: Sequence[Query], heading: Heading, caption: str = ""
) -> Table:
    """Return the queries, open ones first, each answer with who, when and why.

    Parameters
    ----------
    queries : sequence of Query
        In their order.
    heading : Heading
        With the decisions.
    caption : str, optional
    """
    columns = (
        Column("query", number=False),
        Column("state", number=False),
        Column("about", number=False),
        Column("verdict", number=False),
        Column("what", number=False, below=True),
    )
    by = {decision.name: decision for decision in heading.decisions}
    rows = tuple(
        Row(
            (
                query.name,
                _STATE[query.state],
                query.about or about_gone(by.get(query.decision)),
                verdict_words(query, by.get(query.decision)),
                _what(query, by),
            )
        )
        for query in queries
    )
    note = "" if rows else "No query is raised."
    return Table(caption or "queries, open ones first", columns, rows, note)


def verdict_words(query: Query, decision: DecisionLine | None = None) -> str:
    """Return the verdict, which an answer leaves as it is.

    Examples
    --------
    >>> query = Query("x", "y", "fails", decision="K7F3", state="answered")
    >>> verdict_words(query, DecisionLine("K7F3", "accept", "query AB22", "seen"))
    'fails, accepted by decision K7F3'
    """
    if decision is None or query.state != "answered":
        return query.verdict
    how = "accepted" if decision.action == "accept" else "answered"
    return f"{query.verdict}, {how} by decision {decision.name}"


def _what(query: Query, by: Mapping[str, DecisionLine]) -> str:
    """Return kind and figures, the mend, the answer: decision, who, when, reason."""
    said = [f"{query.slug}: {query.said}" if query.said else query.slug]
    decision = by.get(query.decision)
    if decision:
        when = f", {decision.when}" if decision.when else ""
        said.append(
            f"answered by decision {decision.name} ({decision.action}), "
            f"{decision.who}{when}: {decision.reason}"
        )
    mend = f"\nmend: {query.mend}" if query.mend and query.state == "open" else ""
    return "; ".join(part for part in said if part) + mend


def about_gone(decision: DecisionLine | None) -> str:
    """Return what a query that is no longer raised was about, as the decision says."""
    if decision is None:
        return "not known"
    return decision.value if decision.action == "accept" else decision.about


def queries_objects(queries: Sequence[Query], heading: Heading) -> list[Object]:
    """Return the queries for programs, each with its answer or null."""
    by = {decision.name: decision for decision in heading.decisions}
    return [
        {
            "query": query.name,
            "state": query.state,
            "slug": query.slug,
            "about": query.about or about_gone(by.get(query.decision)),
            "verdict": query.verdict or None,
            "source": query.source or None,
            "said": query.said,
            "mend": query.mend,
            "answer": _answer(by.get(query.decision)),
        }
        for query in queries
    ]


def _answer(decision: DecisionLine | None) -> Object | None:
    if decision is None:
        return None
    return {
        "decision": decision.name,
        "action": decision.action,
        "about": decision.about,
        "who": decision.who,
        "when_utc": decision.when,
        "reason": decision.reason,
        "evidence": decision.evidence,
    }


def with_queries(
    document: Document, queries: Sequence[Query], heading: Heading
) -> Document:
    """Return a document with its queries before the next step; as it is without any.

    Parameters
    ----------
    document : Document
        Whose last part is the next step.
    queries : sequence of Query
        Of this command.
    heading : Heading
    """
    if not queries:
        return document
    *before, last = document.sections
    parts: list[Part] = list(last.parts)
    at = len(parts)
    while at and _is_step(parts[at - 1]):
        at -= 1
    table = queries_table(
        queries,
        heading,
        "queries raised here; answer one with  "
        "brasscap decide accept query NAME --reason …",
    )
    parts[at:at] = [table]
    return replace(
        document, sections=(*before, Section(last.title, tuple(parts), last.anchor))
    )


def _is_step(part: Part) -> bool:
    return isinstance(part, Paragraph) and part.tone in ("next", "step", "why")
