"""What `loops` says: what must close, and what of it does not."""

from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING

from .content_preparation import preparation_parts
from .content_sessions import sessions_table, trivial_parts
from .document import (
    Column,
    Document,
    Paragraph,
    Part,
    Row,
    Section,
    Table,
    VerdictLine,
    Vial,
)
from .heading import Heading
from .rounding import Units, number, percent
from .worst_rows import SHOWN

if TYPE_CHECKING:
    from ..adjust.judge.closures import Closures
    from ..adjust.judge.trivial import Treatment
    from ..networks import Network
    from ..networks.loops import Loop

_MINUS = "−"
MOST_LOOPS = 200
"""Loops of a kind up to which all are shown."""
_WAYS = ("east", "north", "up")
_TITLES = {
    "repeat": "repeats: two vectors of one pair of marks, first minus second",
    "loop": "loops across sessions: vectors added as walked",
    "double run": "double runs: what the second adds to the first, to be zero",
    "levelling loop": "levelling loops: runs over one line are their mean",
    "same session": "loops inside one session: they close by construction and check "
    "nothing; more than rounding here is a booking error",
}


def loops_document(
    found: "Closures",
    treatments: "Sequence[Treatment]",
    heading: Heading,
    max_sides: int = 0,
) -> Document:
    """Return what `loops` prints: verdict, evidence, numbers, next step.

    Parameters
    ----------
    found : Closures
    treatments : sequence of Treatment
        Of trivial vectors; empty where there are none.
    heading : Heading
    max_sides : int, optional
        Loops of more vectors are counted and not listed; 0 = all are listed.
    """
    parts: list[Part] = [*loops_parts(found, Units(heading.unit), max_sides)]
    parts += trivial_parts(treatments, Units(heading.unit))
    parts.append(Paragraph(f"next: {loops_next(found)}", "next"))
    title = "Repeats and loops, before adjusting"
    return Document(
        f"{title} — {heading.title}" if heading.title else title,
        (Section("", tuple(parts)),),
    )


def loops_parts(
    found: "Closures", units: Units, max_sides: int = 0
) -> tuple[Part, ...]:
    """Return verdict, hint and tables; the section of the report as well.

    Parameters
    ----------
    found : Closures
    units : Units
    max_sides : int, optional
    """
    parts: list[Part] = [loops_line(found)]
    parts += [Paragraph(said) for said in _said(found)]
    for kind, title in _TITLES.items():
        rows = [
            i
            for i, loop in enumerate(found.loops)
            if loop.kind == kind and not 0 < max_sides < len(loop.members)
        ]
        longer = sum(loop.kind == kind for loop in found.loops) - len(rows)
        if rows:
            parts.append(_table(found, rows, title, units))
        if longer:
            parts.append(
                Paragraph(f"{longer} of more than {max_sides} sides not shown")
            )
    parts += preparation_parts(found, units)
    if found.sessions:
        parts.append(sessions_table(found.network, found.sessions))
    return tuple(parts)


def loops_line(found: "Closures") -> VerdictLine:
    """Return the verdict on all misclosures, the largest test beside it."""
    tests, options = found.tests, found.network.options
    judged = [i for i, v in enumerate(tests.verdict) if v != "unchecked"]
    if found.too_many and not judged:
        said = (
            f"not sought among {found.too_many} vectors: adjusting tests each of them "
            "against all others"
        )
        return VerdictLine("loops", Vial("unchecked"), "", said)
    if not judged:
        spread = sum(verdict == "query" for verdict in found.spread_verdicts)
        said = "nothing closes: no repeat, no loop"
        if found.spreads:
            said += f"; {spread} of {len(found.spreads)} spreads of readings too large"
        return VerdictLine("loops", Vial(found.verdict), "", said)
    largest = max(float(tests.test[i]) for i in judged)
    over = sum(tests.verdict[i] == "query" for i in judged)
    return VerdictLine(
        "loops",
        Vial(found.verdict, largest),
        number(largest, "test"),
        f"{over} of {len(judged)} over the limit; largest test, 1 = the limit (α "
        f"{percent(options.outlier_alpha)} for one component, power "
        f"{percent(options.power)})",
    )


def _said(found: "Closures") -> list[str]:
    said = []
    for hint in found.hints[:3]:
        said.append(
            f"where to look first: {hint.kind} {hint.name}, in {hint.over} of the "
            f"{hint.over_all} loops over the limit and in {hint.within} within it; a "
            "hint, not a verdict"
        )
    if "query" in found.tests.verdict and not found.hints:
        said.append("one loop cannot say which of its parts is wrong")
    alone = sum(s.found_from == "alone" for s in found.sessions)
    if alone and not any(s.found_from != "alone" for s in found.sessions):
        said.append(
            "no session and no times are booked: each vector is taken as observed by "
            "itself, so loops that close by construction may be among these"
        )
    return said


def _table(found: "Closures", rows: Sequence[int], title: str, units: Units) -> Table:
    small = units.small_unit
    plain = len(found.loops[rows[0]].misclosure) == 1
    ways = _WAYS[2:] if plain else _WAYS
    columns = (
        Column("loop", number=False),
        Column(f"length ({units.unit})"),
        *(Column(f"{way} ({small})") for way in ways),
        Column("test"),
        Column("", number=False),
        Column("verdict", number=False),
        Column(f"marks; limits ({small})", number=False, below=True),
    )
    rows = sorted(rows, key=lambda i: (-_size(float(found.tests.test[i])), i))
    note = ""
    if len(rows) > MOST_LOOPS:
        note = f"{SHOWN} of {len(rows)}; all of them:  brasscap loops --json FILE"
        rows = rows[:SHOWN]
    made = tuple(_row(found, i, len(ways), units) for i in rows)
    return Table(f"{title}; largest first", columns, made, note)


def _size(test: float) -> float:
    return test if isfinite(test) else -1.0


def _row(found: "Closures", i: int, ways: int, units: Units) -> Row:
    loop, tests = found.loops[i], found.tests
    test, verdict = float(tests.test[i]), tests.verdict[i]
    limits = [units.small(float(x)) for x in tests.limit_enu[i][3 - ways :]]
    marks = [found.network.marks.name[m] for m in dict.fromkeys(loop.marks)]
    walk = " – ".join([*marks, marks[0]])
    if all(limits):
        said = [
            f"{way} {limit}" for way, limit in zip(_WAYS[-ways:], limits, strict=True)
        ]
        walk += f"; limits {', '.join(said)} {units.small_unit}"
    length = f"{loop.length:.0f}" if units.unit == "m" else ""
    if isfinite(loop.length) and not length:
        length = units.coordinate(loop.length).partition(".")[0]
    return Row(
        (
            members_text(found.network, loop),
            length if isfinite(loop.length) else "–",
            *(units.small(float(x)) for x in loop.misclosure),
            number(test, "test"),
            Vial(verdict, test if isfinite(test) else 0.5),
            verdict,
            walk,
        )
    )


def members_text(network: "Network", loop: "Loop") -> str:
    """Return a loop's members as they are added: "B2 + B9 − B13"."""
    names = network.vectors.name
    if len(loop.misclosure) == 1 and network.levels is not None:
        names = network.levels.name
    said = [
        f"{'+' if sign > 0 else _MINUS} {names[member]}"
        for member, sign in zip(loop.members, loop.signs, strict=True)
    ]
    return " ".join(said).removeprefix("+ ")


def loops_next(found: "Closures") -> str:
    """Return the one command that helps most now.

    Parameters
    ----------
    found : Closures
    """
    from .content import quoted

    if found.hints:
        hint = found.hints[0]
        return f"brasscap show {hint.kind} {quoted(hint.name)}"
    over = [i for i, v in enumerate(found.tests.verdict) if v == "query"]
    vectors = [i for i in over if len(found.loops[i].misclosure) == 3]
    if vectors:
        worst = max(vectors, key=lambda i: float(found.tests.test[i]))
        name = found.network.vectors.name[found.loops[worst].members[0]]
        return f"brasscap show baseline {quoted(name)}"
    return "brasscap adjust minimal"
