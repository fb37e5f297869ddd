"""What `topo check` says of field tests: whether rovers are as good as stated."""

from typing import TYPE_CHECKING

import numpy as np

from .content_topo_tables import MOST_ROWS, VERDICT_COLUMNS, more_words
from .document import Column, Row, Table, VerdictLine, Vial
from .judged import worst
from .rounding import Units, number

if TYPE_CHECKING:
    from ..adjust.follow.field_tests import PartTest, SetMisfits
    from ..adjust.follow.topo import Topo
    from ..networks.covariances import Ints
    from ..networks.field_tests import FieldSets


def field_test_lines(topo: "Topo") -> list[VerdictLine]:
    """Return a verdict on each field test; none without one."""
    if topo.field_tests is None:
        return []
    made = []
    for one in topo.field_tests.tests:
        ratios = [part.test for part in one.parts if np.isfinite(part.test)]
        largest = max(ratios, default=float("nan"))
        differ = [
            other
            for other in topo.field_tests.campaigns
            if other.later == one.name and other.verdict != "meets"
        ]
        told = [part.verdict for part in one.parts] + [o.verdict for o in differ]
        verdict = worst(set(told))
        said = f"{one.name}: {one.series} series, {one.sets} sets; sd " + ", ".join(
            f"{part.part} {part.test:.2f} of its limit"
            if np.isfinite(part.test)
            else f"{part.part} cannot be judged"
            for part in one.parts
        )
        if one.lacks:
            said += "; lacks: " + "; ".join(one.lacks)
        for other in differ:
            said += f"; its variance in {other.part} is not that of {other.earlier}"
        place = largest if np.isfinite(largest) else 0.5
        made.append(
            VerdictLine(
                "field test", Vial(verdict, place), number(largest, "test"), said
            )
        )
    return made


def field_test_step(topo: "Topo") -> str:
    """Return what to do about the first field test that does not meet; or nothing."""
    for one in () if topo.field_tests is None else topo.field_tests.tests:
        verdicts = {part.verdict for part in one.parts}
        if "fails" in verdicts:
            return (
                f"{one.name} measures worse than is stated for it: look for the cause "
                "(pole, sky, reflections) and test again; till then state what the "
                "test found as the sd of its shots"
            )
        if one.lacks:
            return f"field test {one.name} lacks: {one.lacks[0]}"
    return ""


def field_test_tables(topo: "Topo", units: Units) -> list[Table | None]:
    """Return the figures of field tests: sds, sets, one campaign against the next."""
    if topo.field_tests is None:
        return []
    return [_sds(topo, units), _sets(topo, units), _campaigns(topo)]


def _sds(topo: "Topo", units: Units) -> Table:
    assert topo.field_tests is not None
    unit = units.small_unit
    rows = tuple(
        Row(
            (
                one.name,
                part.part,
                str(part.degrees_of_freedom),
                units.small(part.sd),
                units.small(part.stated),
                units.small(part.limit),
                number(part.test, "test"),
                Vial(part.verdict, part.test if np.isfinite(part.test) else 0.5),
                part.verdict,
                _why(part),
            )
        )
        for one in topo.field_tests.tests
        for part in one.parts
    )
    return Table(
        "field tests after ISO 17123-8: sd of a fix about the mean of its point, plan "
        "√(s_x² + s_y²), against what is stated for the rover; limit 95 %, one-sided",
        (
            Column("test", number=False),
            Column("part", number=False),
            Column("degrees of freedom"),
            Column(f"sd ({unit})"),
            Column(f"stated ({unit})"),
            Column(f"limit ({unit})"),
            Column("of the limit"),
            *VERDICT_COLUMNS,
            Column("why", number=False, below=True),
        ),
        rows,
    )


def _why(part: "PartTest") -> str:
    if not np.isfinite(part.sd):
        return "fewer than two sets"
    if not np.isfinite(part.stated):
        return "no sd is stated for this rover: sd_plan_mm and sd_height_mm"
    return ""


def _sets(topo: "Topo", units: Units) -> Table | None:
    """Return the sets against the known distance, the worst first."""
    assert topo.field_tests is not None
    found, sets = topo.field_tests.misfits, topo.day.field_sets
    if sets is None or not np.isfinite(found.distance + found.rise).any():
        return None
    shown = _worst_first(found)[:MOST_ROWS].tolist()
    rows = [_set_row(found, sets, i, units) for i in shown]
    unit = units.small_unit
    return Table(
        "sets of field tests, measured less known; ± 2.5 √2 of the stated sd; worst "
        "first" + more_words(len(sets), len(rows)),
        (
            Column("test", number=False),
            Column("series", number=False),
            Column("set", number=False),
            Column(f"distance ({unit})"),
            Column(f"± distance ({unit})"),
            Column(f"rise ({unit})"),
            Column(f"± rise ({unit})"),
            Column("state", number=False),
        ),
        tuple(rows),
    )


def _worst_first(found: "SetMisfits") -> "Ints":
    """Return the order of sets, the largest share of its limit first."""
    with np.errstate(invalid="ignore"):
        size = np.maximum(
            np.abs(found.distance) / found.limit_distance,
            np.abs(found.rise) / found.limit_rise,
        )
    return np.argsort(-np.nan_to_num(size, nan=-1.0), kind="stable")


def _set_row(found: "SetMisfits", sets: "FieldSets", i: int, units: Units) -> Row:
    test, series = sets.series.word(i).split("\0")
    figures = (found.distance, found.limit_distance, found.rise, found.limit_rise)
    cells = (
        test,
        series,
        sets.name[i],
        *(units.small(float(some[i])) for some in figures),
        _state(bool(found.off[i]), bool(sets.replaced[i])),
    )
    return Row(cells)


def _state(off: bool, replaced: bool) -> str:
    if replaced:
        return "replaced"
    return "take again" if off else "within"


def _campaigns(topo: "Topo") -> Table | None:
    assert topo.field_tests is not None
    rows = tuple(
        Row(
            (
                f"{one.later} – {one.earlier}",
                one.part,
                number(one.ratio, "test"),
                number(one.lower, "test"),
                number(one.upper, "test"),
                Vial(one.verdict),
                one.verdict,
            )
        )
        for one in topo.field_tests.campaigns
    )
    if not rows:
        return None
    return Table(
        "one field test against the one before it: ratio of variances; limits 95 %, "
        "two-sided",
        (
            Column("tests", number=False),
            Column("part", number=False),
            Column("ratio"),
            Column("from"),
            Column("to"),
            *VERDICT_COLUMNS,
        ),
        rows,
    )
