"""What `adjust` says, as a document."""

from .content_heights import heights_table
from .content_located import cannot_be_located
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
from .rounding import Units
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
    units = heading.units
    parts: list[Part] = [
        Paragraph(counts(judged)),
        Paragraph(frame_words(judged, heading.unit)),
        Paragraph(basis(judged)),
        *(Paragraph(said) for said in [set_up_words(judged, units)] if said),
        Paragraph(""),
        variance_factor_line(judged),
        could_hide(judged, units),
        *cannot_be_located(judged),
        largest_table(judged, units),
        marks_table(judged, units),
    ]
    geodetic = geodetic_table(judged, units)
    if geodetic and not judged.network.frame.has_grid:
        parts.append(geodetic)
    heights = heights_table(judged, units)
    if heights:
        parts.append(heights)
    known = known_table(judged, units)
    if known:
        parts.append(known)
    parts += [Paragraph(said) for said in full_tables_words(heading)]
    parts.append(Paragraph(f"next: {next_step(judged)}", "next"))
    return Document(title(judged), (Section("", tuple(parts)),))


def full_tables_words(heading: Heading) -> list[str]:
    """Return where the full tables of a large job are, and what proves them."""
    return [
        f"written: {file}, {count} rows, SHA-256 {digest[:16]}"
        for file, count, digest in heading.full_tables
    ]


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


def largest_table(judged: Judged, units: Units) -> Table:
    """Return the largest tests and what nothing checks."""
    rows = largest_rows(judged.tests)
    table = tests_table(judged, rows, "largest tests", units)
    return Table(table.caption, table.columns, table.rows, blind_note(judged.tests))


def next_step(judged: Judged) -> str:
    """Return the one command that helps most now."""
    mode = judged.adjustment.datum.mode
    if judged.verdict in ("fails", "query"):
        return "brasscap suspects" + (
            " --datum minimal" if mode != "constrained" else ""
        )
    if mode == "minimal":
        return "brasscap adjust constrained"
    return "brasscap report --html"


def look_at(kind: str, name: str) -> str:
    """Return the command that shows what a test is about.

    Examples
    --------
    >>> look_at("set-up height", "O11"), look_at("level difference", "L3")
    ('brasscap show set-up O11', "brasscap show 'level difference' L3")
    >>> look_at("parameter", "refraction")
    'brasscap report --html'
    """
    family = thing_of(kind, "").strip()
    if family == "parameter":
        return "brasscap report --html"
    shown = "mark" if family == "known mark" else family
    return f"brasscap show {quoted(shown)} {quoted(name)}"


def quoted(name: str) -> str:
    """Return a name as a shell takes it.

    Examples
    --------
    >>> quoted("BRIDGE 1"), quoted("T103")
    ("'BRIDGE 1'", 'T103')
    """
    from shlex import quote

    return quote(name)
