"""What `adjust` says, as a document."""

from .content_marks import counts, geodetic_table, known_table, marks_table
from .content_tests import (
    blind_note,
    could_hide,
    largest_rows,
    tests_table,
    thing_of,
    variance_factor_line,
)
from .document import Document, Paragraph, Part, Section, Table
from .heading import Heading
from .judged import Judged
from .rounding import Lengths
from .words import MODES, frame_words, set_up_words


def adjust_document(judged: Judged, heading: Heading) -> Document:
    """Return what `adjust` prints: verdict, evidence, numbers, next step.

    Parameters
    ----------
    judged : Judged
    heading : Heading

    Returns
    -------
    Document
    """
    lengths = Lengths(heading.unit)
    parts: list[Part] = [
        Paragraph(counts(judged)),
        Paragraph(frame_words(judged, heading.unit)),
        Paragraph(basis(judged)),
        *(Paragraph(said) for said in [set_up_words(judged, lengths)] if said),
        Paragraph(""),
        variance_factor_line(judged),
        could_hide(judged, lengths),
        largest_table(judged, lengths),
        marks_table(judged, lengths),
    ]
    geodetic = geodetic_table(judged, lengths)
    if geodetic and not judged.network.frame.has_grid:
        parts.append(geodetic)
    known = known_table(judged, lengths)
    if known:
        parts.append(known)
    parts.append(Paragraph(f"next: {next_step(judged)}", "next"))
    return Document(title(judged), (Section("", tuple(parts)),))


_NAMED = 6
"""Marks named in a heading; more are counted."""


def title(judged: Judged) -> str:
    """Return mode and what is held: the head of the page."""
    datum, inner = judged.adjustment.datum, judged.adjustment.inner
    if inner is None:
        return f"{MODES[datum.mode]} — {datum.text}"
    marks = ", ".join(inner.over)
    if len(inner.over) > _NAMED:
        marks = f"{len(inner.over)} marks"
    return f"{MODES[datum.mode]} — laid on {marks}"


def basis(judged: Judged) -> str:
    """Return which covariances variance factor and tests come from."""
    if judged.network.options.tests_from == "stated":
        return "variance factor and tests from the stated covariances"
    return "variance factor from the stated, tests from the estimated covariances"


def largest_table(judged: Judged, lengths: Lengths) -> Table:
    """Return the largest tests and what nothing checks."""
    rows = largest_rows(judged.tests)
    table = tests_table(judged, rows, "largest tests", lengths)
    return Table(table.caption, table.columns, table.rows, blind_note(judged.tests))


def next_step(judged: Judged) -> str:
    """Return the one command that helps most now."""
    if judged.verdict in ("fails", "query"):
        at = int(judged.tests.order()[0]) if len(judged.tests.name) else -1
        if at >= 0 and judged.tests.verdict[at] in ("fails", "query"):
            shown = _show_kind(judged.tests.kind[at])
            if shown not in ("mark", "baseline", "set-up"):
                return "brasscap report --html"
            return f"brasscap show {shown} {quoted(judged.tests.name[at])}"
        return "brasscap report --html"
    if judged.adjustment.datum.mode == "minimal":
        return "brasscap adjust constrained"
    return "brasscap report --html"


def _show_kind(kind: str) -> str:
    family = thing_of(kind, "").strip()
    return "mark" if family == "known mark" else family


def quoted(name: str) -> str:
    """Return a name as a shell takes it.

    Examples
    --------
    >>> quoted("BRIDGE 1"), quoted("T103")
    ("'BRIDGE 1'", 'T103')
    """
    from shlex import quote

    return quote(name)
