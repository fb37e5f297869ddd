"""Observations, set-ups and decisions as tables."""

from collections.abc import Sequence

import numpy as np

from .content_readings import READINGS
from .content_tests import link_of, thing_of
from .document import Column, Row, Table, Vial, anchor, filled_columns
from .heading import Heading
from .judged import BroughtBack, Judged
from .rounding import Units, number
from .words import shift_words, smallest_words
from .worst_rows import Shown, worst


def observations_table(judged: Judged, units: Units) -> Table:
    """Return every test in the order of the tables, with its redundancy."""
    tests, small = judged.tests, units.small_unit
    columns = (
        Column("observation", number=False),
        Column("redundancy"),
        *(Column(f"{way} ({small})") for way in ("east", "north", "up")),
        Column("parameter", number=False, below=True),
        Column("test"),
        Column("", number=False),
        Column("verdict", number=False),
        Column("smallest seen", number=False),
    )
    apart = set(tests.kind) & set(READINGS)
    which = "every test but those of readings, which follow" if apart else "every test"
    own = [i for i, kind in enumerate(tests.kind) if kind not in READINGS]
    shown = worst(judged, tests.basis.test[own], "the largest tests", "tests")
    rows = tuple(_test_row(judged, own[k], units) for k in shown.rows.tolist())
    table = Table(
        f"{which}; redundancy is how much of an observation the others check, of "
        "its components; east, north, up: booked minus what the rest says",
        columns,
        rows,
        shown.note,
    )
    return filled_columns(table)


def _test_row(judged: Judged, i: int, units: Units) -> Row:
    tests = judged.tests
    verdict, test = tests.verdict[i], float(tests.basis.test[i])
    name = thing_of(tests.kind[i], tests.name[i])
    shifts = [
        units.small(float(value)) if tests.measure[i] == "enu" else ""
        for value in tests.tests.shift[i]
    ]
    return Row(
        (
            f"{tests.kind[i]} {tests.about[i]}",
            _redundancy(judged, i),
            *shifts,
            _reading(judged, i, units),
            number(test, "test"),
            Vial(verdict, test),
            verdict,
            smallest_words(
                verdict,
                float(tests.tests.smallest_detectable[i]),
                units,
                tests.measure[i],
            ),
        ),
        anchor("observation", name) if tests.kind[i] not in _ELSEWHERE else "",
        _map_link(judged, i),
    )


def _map_link(judged: Judged, i: int) -> str:
    """Return where the map, or the table of set-ups, has what a test is about."""
    tests, network = judged.tests, judged.network
    if tests.kind[i] != "position":
        return link_of(tests.kind[i], tests.name[i])
    mark = int(network.mark_of(network.positions.node[[tests.edge[i]]])[0])
    return anchor("map", f"positions {network.marks.name[mark]}")


def _reading(judged: Judged, i: int, units: Units) -> str:
    tests = judged.tests
    if tests.measure[i] == "enu" or tests.verdict[i] == "unchecked":
        return ""
    return shift_words(tests.kind[i], tests.tests.shift[i], units, tests.measure[i])


def _redundancy(judged: Judged, i: int) -> str:
    tests = judged.tests
    said = number(float(tests.redundancy[i]), "redundancy")
    if said and tests.verdict[i] == "unchecked":
        said = "none"
    return f"{said} of {int(tests.tests.components[i])}" if said else ""


_ELSEWHERE = (
    "set-up",
    "set-up height",
    "known mark",
    "known mark plan",
    "known mark height",
)
"""Kinds whose rows are found in another table."""


def vectors_table(judged: Judged, units: Units) -> Table:
    """Return the baselines as observed, and their residuals."""
    network, unit, small = judged.network, units.unit, units.small_unit
    vectors = network.vectors
    nothing = np.full((len(vectors), 3), np.nan)
    residuals = judged.adjustment.residuals.get("baseline", nothing)
    columns = (
        Column("baseline", number=False),
        Column("from", number=False),
        Column("to", number=False),
        *(Column(f"{axis} ({unit})") for axis in ("dX", "dY", "dZ")),
        *(Column(f"residual {axis} ({small})") for axis in ("X", "Y", "Z")),
    )
    size = np.linalg.norm(residuals, axis=1)
    shown = worst(judged, size, "the largest residuals", "baselines")
    rows = tuple(
        Row(
            (
                vectors.name[i],
                network.node_name(int(vectors.start[i])),
                network.node_name(int(vectors.end[i])),
                *(units.coordinate(float(x)) for x in vectors.delta[i]),
                *(
                    units.small(float(x)) if vectors.used[i] else "left out"
                    for x in residuals[i]
                ),
            ),
            anchor("baseline", vectors.name[i]),
            anchor("map", f"baseline {vectors.name[i]}"),
        )
        for i in shown.rows.tolist()
    )
    caption = "baselines; residual is adjusted minus observed"
    return Table(caption, columns, rows, shown.note)


def set_ups_table(judged: Judged, units: Units) -> Table:
    """Return sessions and set-ups with the reduction of each height."""
    network, unit, small = judged.network, units.unit, units.small_unit
    set_ups = network.set_ups
    columns = (
        Column("set-up", number=False),
        Column("mark", number=False),
        Column("session", number=False),
        Column("support", number=False),
        Column(f"height of the reference point ({unit})"),
        Column("reduced from", number=False),
        Column(f"sd of centring ({small})"),
        Column(f"sd of height ({small})"),
    )
    shown = _worst_set_ups(judged)
    rows = tuple(
        Row(
            (
                set_ups.name[i],
                network.marks.name[set_ups.mark[i]],
                network.sessions[set_ups.session[i]] if set_ups.session[i] >= 0 else "",
                set_ups.support[i],
                units.coordinate(float(set_ups.height[i])),
                set_ups.reduction[i] or "vertical, as read",
                units.small(float(set_ups.sd_centring[i])),
                units.small(float(set_ups.sd_height[i])),
            ),
            anchor("set-up", set_ups.name[i]),
            anchor("map", f"mark {network.marks.name[set_ups.mark[i]]}"),
        )
        for i in shown.rows.tolist()
    )
    if not rows:
        note = "No set-up was booked: the baselines join the marks themselves."
        return Table("set-ups", columns, (), note)
    caption = "set-ups; heights are vertical, above the mark"
    return Table(caption, columns, rows, shown.note)


def _worst_set_ups(judged: Judged) -> Shown:
    """Return the set-ups that are shown; of very many, those of the largest tests."""
    tests, largest = judged.tests, np.full(len(judged.network.set_ups), np.nan)
    rows = [i for i, kind in enumerate(tests.kind) if kind.startswith("set-up")]
    np.fmax.at(largest, tests.edge[rows], tests.basis.test[rows])
    return worst(judged, largest, "the largest tests", "tests")


_DECISION = (
    "decision",
    "action",
    "about",
    "value",
    "reason",
    "evidence",
    "who",
    "when (UTC)",
    "answers",
    "superseded by",
)


def decisions_table(heading: Heading) -> Table:
    """Return the register of decisions, each with its reason."""
    columns = tuple(Column(head, number=False) for head in _DECISION)
    rows = tuple(
        Row(
            (
                d.name,
                d.action,
                d.about,
                d.value,
                d.reason,
                d.evidence,
                d.who,
                d.when,
                d.answers,
                d.superseded_by,
            )
        )
        for d in heading.decisions
    )
    note = "" if rows else "No decision was made: every observation is in use."
    return filled_columns(Table("decisions, as booked", columns, rows, note))


def brought_back_table(
    back: Sequence[BroughtBack], left_out: int, units: Units
) -> Table:
    """Return what each left-out observation would do, brought back alone.

    Parameters
    ----------
    back : sequence of BroughtBack
    left_out : int
        How many are left out in all; the rest are counted in a note.
    units : Units
    """
    columns = (
        Column("left out", number=False),
        Column("what the rest says", number=False),
        Column("test"),
        Column("", number=False),
        Column("verdict", number=False),
        Column("variance factor with it"),
    )
    rows = tuple(
        Row(
            (
                f"{one.kind} {one.name}",
                shift_words(one.kind, one.shift, units, one.measure),
                number(one.test, "test"),
                Vial(one.verdict, one.test),
                one.verdict,
                number(one.variance_factor, "variance factor"),
            ),
            link=link_of(one.kind, one.name),
        )
        for one in back
    )
    more = left_out - len(back)
    note = f"{more} more left out are not brought back here" if more > 0 else ""
    return Table("left-out observations, each brought back alone", columns, rows, note)
