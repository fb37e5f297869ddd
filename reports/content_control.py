"""What `control` says: which known marks agree with the survey and each other."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from .content import quoted
from .content_likeness import likeness_words
from .content_reliability import title_of
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
    anchor,
)
from .heading import Heading
from .judged import worst
from .rounding import Units, number, percent
from .words import test_basis
from .worst_rows import LONG, SHOWN

if TYPE_CHECKING:
    from ..adjust.judge.control import Control
    from ..adjust.judge.control_agreement import Agreement
    from ..adjust.judge.control_rows import ControlRow
    from ..adjust.judge.variance_factor import VarianceFactor

_SUBSETS = 20
_HERE = {"plan": (1, 0), "height": (2,)}
"""Columns of a part, north before east."""
_WAYS = ("east", "north", "height")


def verdict_of(control: "Control") -> str:
    """Return the worst verdict of the marks, alone and together."""
    rows = {row.verdict for row in control.rows}
    return worst(rows | {one.verdict for one in control.together})


def control_document(
    control: "Control", heading: Heading, *, premise: str = ""
) -> Document:
    """Return what `control` prints: verdict, evidence, numbers, next step.

    Parameters
    ----------
    control : Control
    heading : Heading
    premise : str, optional
        What the survey itself says against being compared with anything.
    """
    units = heading.units
    parts: list[Part] = []
    if premise:
        parts.append(VerdictLine("premise", Vial("fails"), "", premise))
    parts += [Paragraph(basis_words(control)), Paragraph("")]
    parts += [_line(one) for one in control.together]
    for part in ("plan", "height"):
        rows = [row for row in control.rows if row.part == part]
        if rows:
            parts.append(marks_table(control, rows, part, units))
            parts += [Paragraph(said) for said in twin_words(rows, part)]
            parts += [
                Paragraph(f"likeness, {row.station}: {said}")
                for row in rows
                for said in likeness_words(row.likeness, units)
            ]
        subsets = [one for one in control.subsets if one.part == part]
        if subsets:
            parts.append(subsets_table(subsets, part))
    if not control.rows:
        parts.append(Paragraph("no known mark can be compared with the survey"))
    step = "brasscap suspects --datum minimal" if premise else _next(control)
    parts.append(Paragraph(f"next: {step}", "next"))
    words = f"Known marks — {title_of(control.adjustment)}"
    return Document(words, (Section("", tuple(parts)),))


def premise_words(minimal: "VarianceFactor") -> str:
    """Return that the survey fails by itself; empty where it does not.

    Parameters
    ----------
    minimal : VarianceFactor
        Of the minimal solution, in which no known mark is bent.
    """
    if minimal.verdict != "fails":
        return ""
    value, upper = number(minimal.value, "limit"), number(minimal.upper, "limit")
    if minimal.value < minimal.lower:
        lower = number(minimal.lower, "limit")
        return (
            f"the observations agree better with each other than was stated of them "
            f"(minimal solution: variance factor {value}, limit {lower}): the limits "
            "below are too wide, and a wrong known mark can pass"
        )
    return (
        f"the observations are at odds with each other before any known mark is held "
        f"(minimal solution: variance factor {value}, limit {upper}): a blunder "
        "among them looks like a wrong known mark here; find that first"
    )


def basis_words(control: "Control") -> str:
    """Return what is compared, and what the limits rest on."""
    options = control.adjustment.network.options
    said = (
        "known minus survey, as the survey and the other known marks in use say, held "
        "ones taken as exact; "
    )
    if control.adjustment.datum.mode == "minimal":
        said = (
            "known minus survey, as the minimal solution says, with the known mark's "
            "own uncertainty where it is stated; "
        )
    return (
        f"{said}limits {percent(options.confidence)} of a single component, from the "
        f"stated covariances; tests {test_basis(options, None)}, 1 = the limit"
    )


def _line(one: "Agreement") -> VerdictLine:
    """Return whether all known marks in use agree with each other."""
    what = f"all in {one.part} together"
    if one.verdict == "unchecked":
        return VerdictLine(
            what,
            Vial("unchecked"),
            "",
            one.said
            or "no more than the survey needs to hang on: nothing could show an error",
        )
    freedom = one.degrees_of_freedom
    return VerdictLine(
        what,
        Vial(one.verdict, float(np.sqrt(one.statistic / one.limit))),
        number(one.statistic, "test"),
        f"limit {number(one.limit, 'limit')}: chi-square with {freedom} "
        f"degree{'s' if freedom > 1 else ''} of freedom, one-sided",
    )


def marks_table(
    control: "Control", rows: "Sequence[ControlRow]", part: str, units: Units
) -> Table:
    """Return each known mark left out in turn, plan or height.

    Parameters
    ----------
    control : Control
    rows : sequence of ControlRow
        Of the part.
    part : "plan" or "height"
    units : Units
    """
    unit = units.small_unit
    here = _HERE[part]
    columns = (
        Column(f"{part} of", number=False),
        Column("use", number=False),
        *(Column(f"{_WAYS[k]} ({unit})") for k in here),
        *(Column(f"± {_WAYS[k]} ({unit})") for k in here),
        Column("test"),
        Column("", number=False),
        Column("verdict", number=False),
        Column("what using it does", number=False, below=True),
    )
    how = "each mark left out in turn"
    if control.adjustment.datum.mode == "minimal":
        how = "all but the one that is held"
    shown, notes = list(rows), []
    if len(rows) > LONG:
        # Equal ones stay in their order.
        shown = sorted(rows, key=lambda row: -np.nan_to_num(row.test, nan=-1.0))
        shown = shown[:SHOWN]
        notes.append(
            f"{SHOWN} of {len(rows)} marks, those with the largest tests; all of them "
            "in  --json"
        )
    followed = sum(row.followed for row in rows)
    if followed < len(rows) and len(rows) > 1:
        notes.append(
            "what using a mark does, and what its difference looks like, is worked "
            f"out for the {followed} with the largest tests; of another:  "
            "brasscap show 'known mark' NAME"
        )
    return Table(
        f"known minus survey in {part}, {how}",
        columns,
        tuple(_row(control, row, units) for row in shown),
        "; ".join(notes),
    )


def _row(control: "Control", row: "ControlRow", units: Units) -> Row:
    here = _HERE[row.part]
    return Row(
        (
            row.station,
            row.use,
            *(units.small(float(row.difference[k])) for k in here),
            *(units.small(float(row.limit[k])) for k in here),
            number(row.test, "test"),
            Vial(row.verdict, row.test),
            row.verdict,
            moves_words(control, row, units),
        ),
        link=anchor("map", f"mark {row.station}"),
    )


def moves_words(control: "Control", row: "ControlRow", units: Units) -> str:
    """Return how far using the mark moves the network, in mm and ppm."""
    names = control.adjustment.network.marks.name
    if row.verdict == "unchecked":
        return "nothing else says where it is"
    if not row.followed:
        return "not worked out"
    if row.farthest < 0:
        return "moves no other mark"
    size = units.small(float(np.linalg.norm(row.move)))
    verb = "holding it would move" if row.use == "check-only" else "moves"
    said = f"{verb} {names[row.farthest]} by {size} {units.small_unit}"
    if row.pair[0] >= 0:
        first, second = (names[k] for k in row.pair)
        ppm = number(1e6 * row.distortion, "ppm")
        said += f", strains {first} – {second} by {ppm} ppm of the distance"
    return said


def twin_words(rows: "Sequence[ControlRow]", part: str) -> list[str]:
    """Return which marks cannot be told apart, each set said once."""
    said: dict[frozenset[str], str] = {}
    for row in rows:
        if not row.twins:
            continue
        names = (row.station, *row.twins)
        key = frozenset(names)
        if key not in said:
            listed = ", ".join(sorted(names))
            said[key] = (
                f"if one of {listed} is wrong in {part}, the survey cannot tell "
                "which: one more known mark, or a tie to one, would"
            )
    made = list(said.values())
    more = len(made) - SHOWN
    if more > 0:
        made = [*made[:SHOWN], f"and {more} more sets of marks like these in  --json"]
    return made


def subsets_table(subsets: "Sequence[Agreement]", part: str) -> Table:
    """Return which sets of known marks agree among themselves, the largest first."""
    columns = (
        Column("marks held", number=False),
        Column("statistic"),
        Column("limit"),
        Column("degrees of freedom"),
        Column("", number=False),
        Column("verdict", number=False),
    )
    rows = tuple(
        Row(
            (
                ", ".join(one.stations),
                number(one.statistic, "test"),
                number(one.limit, "limit"),
                str(one.degrees_of_freedom),
                Vial(one.verdict, _share(one)),
                one.verdict,
            )
        )
        for one in subsets[:_SUBSETS]
    )
    more = len(subsets) - _SUBSETS
    return Table(
        f"subsets in {part}: do these agree with each other, the others let go?",
        columns,
        rows,
        f"and {more} more in  --json" if more > 0 else "",
    )


def _share(one: "Agreement") -> float:
    if not one.degrees_of_freedom:
        return 0.5
    return float(np.sqrt(one.statistic / one.limit))


def _next(control: "Control") -> str:
    over = [row for row in control.rows if row.verdict in ("fails", "query")]
    used = {row.station for row in control.rows if row.use != "check-only"}
    if over and not control.subsets and len(used) > 2:
        return "brasscap control --subsets"
    if over:
        first = max(over, key=lambda row: row.test)
        return f"brasscap show mark {quoted(first.station)}"
    if control.adjustment.datum.mode == "constrained":
        return "brasscap control --datum minimal"
    return "brasscap adjust constrained"
