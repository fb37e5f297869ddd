"""What becomes of a blunder that was put in on purpose, in words and tables."""

from typing import TYPE_CHECKING

import numpy as np

from .document import Column, Paragraph, Part, Row, Table, VerdictLine, Vial
from .rounding import Units, limits_text, number
from .words import shift_words, size_words, smallest_words

if TYPE_CHECKING:
    from ..adjust.judge.planting import Planted

_TESTS, _MARKS = 8, 30
_MOVED = 5e-5
"""m; less is printed as nothing."""
_SAID = {
    "meets": "caught",
    "query": "not caught",
    "unchecked": "nothing could show it",
}


def planted_parts(planted: "Planted", units: Units) -> list[Part]:
    """Return whether it is caught, by which test, and what it does to each mark.

    Parameters
    ----------
    planted : Planted
    units : Units
    """
    said = _SAID[planted.verdict]
    own = set(planted.at) & {*planted.caught_by, *planted.grown}
    if own and not planted.named_first:
        said = "caught, not named first"
    parts: list[Part] = [
        VerdictLine(
            f"planted: {blunder_words(planted, units)}",
            Vial(planted.verdict),
            said,
            _evidence(planted, units),
        ),
        Paragraph(
            "an exercise: on top of whatever the observations hold already; no table "
            "is changed, nothing is written"
        ),
        Paragraph(_factor(planted)),
        _tests(planted, units),
    ]
    return [*parts, _marks(planted, units)]


def blunder_words(planted: "Planted", units: Units) -> str:
    """Return what was put in: "set-up O11 height booked 30 mm too large"."""
    blunder = planted.blunder
    measure = "m"
    if abs(blunder.size) > 0 and blunder.kind in _ANGLES:
        measure = "rad"
    size = size_words(abs(blunder.size), units, measure)
    way = "large" if blunder.size > 0 else "small"
    axis = f" {blunder.axis}" if blunder.axis else ""
    return f"{blunder.kind} {blunder.name}{axis} booked {size} too {way}"


_ANGLES = ("direction", "angle", "azimuth", "zenith angle")


def _evidence(planted: "Planted", units: Units) -> str:
    """Return by which test it is caught, or what it would take."""
    tests = planted.tests
    over = sorted(
        {*planted.caught_by, *planted.grown}, key=lambda i: -tests.basis.test[i]
    )
    if over:
        said = f"by {tests.kind[over[0]]} {tests.about[over[0]]}"
        if not set(planted.at) & set(over):
            return f"{said}; the test of what was planted stays below its limit"
        if planted.named_first:
            return said
        order = [int(i) for i in tests.order() if np.isfinite(tests.basis.test[int(i)])]
        largest = f"{tests.kind[order[0]]} {tests.about[order[0]]}"
        return f"{said}; {largest} is larger"
    if planted.known_caught:
        return f"by known mark {planted.known.station[planted.known_caught[0]]}"
    if planted.factor_caught:
        return "by the variance factor alone, which does not say where"
    return _missing(planted, units)


def _missing(planted: "Planted", units: Units) -> str:
    tests = planted.tests
    sizes = [
        smallest_words(
            tests.verdict[i],
            float(tests.tests.smallest_detectable[i]),
            units,
            tests.measure[i],
        )
        for i in planted.at
    ]
    known = [size for size in sizes if size]
    if known:
        return f"smallest seen here {known[-1]}"
    if planted.verdict == "unchecked":
        return "an error of any size here would not show"
    return "no test of its own; no other is over its limit"


def _factor(planted: "Planted") -> str:
    before, after = planted.factor_before, planted.factor
    if after.verdict == "unchecked":
        return "variance factor: no degree of freedom"
    return (
        f"variance factor {number(before.value, 'test')} → "
        f"{number(after.value, 'test')}, limits "
        f"{limits_text(after.lower, after.upper)}: {after.verdict}"
    )


def _tests(planted: "Planted", units: Units) -> Table:
    """Return the largest tests with it, and those of the planted thing itself."""
    tests = planted.tests
    order = [int(i) for i in tests.order() if np.isfinite(tests.basis.test[int(i)])]
    over = sum(tests.basis.test[i] > 1 for i in order)
    rows = order[: min(max(3, over), _TESTS)]
    rows += [i for i in planted.at if i not in rows]
    before = {
        (planted.tests_before.kind[i], planted.tests_before.name[i]): float(test)
        for i, test in enumerate(planted.tests_before.basis.test)
    }
    columns = (
        Column("observation", number=False),
        Column("test without it"),
        Column("test with it"),
        Column("", number=False),
        Column("verdict", number=False),
        Column("against the rest", number=False, below=True),
    )
    return Table(
        "largest tests with it, 1 = the limit",
        columns,
        tuple(_test_row(planted, i, before, units) for i in rows),
    )


def _test_row(
    planted: "Planted", i: int, before: dict[tuple[str, str], float], units: Units
) -> Row:
    tests = planted.tests
    kind, test, verdict = tests.kind[i], float(tests.basis.test[i]), tests.verdict[i]
    words = shift_words(kind, tests.tests.shift[i], units, tests.measure[i])
    return Row(
        (
            f"{kind} {tests.about[i]}",
            number(before.get((kind, tests.name[i]), float("nan")), "test"),
            number(test, "test"),
            Vial(verdict, test),
            verdict,
            words,
        )
    )


def _marks(planted: "Planted", units: Units) -> Table:
    """Return how far each mark is moved, the farthest first."""
    size = np.linalg.norm(planted.moved, axis=1)
    order = [int(i) for i in np.argsort(-size.round(7), kind="stable")]
    rows = [i for i in order if size[i] > _MOVED]
    names, unit = planted.after.network.marks.name, units.small_unit
    columns = (
        Column("mark", number=False),
        *(Column(f"{axis} ({unit})") for axis in ("north", "east", "height")),
    )
    left = len(order) - len(rows)
    more = max(len(rows) - _MARKS, 0)
    note = f"and {more} more; " if more else ""
    return Table(
        "what it does to each mark: adjusted with it minus without it",
        columns,
        tuple(
            Row((names[i], *(units.small(planted.moved[i, k]) for k in (1, 0, 2))))
            for i in rows[:_MARKS]
        ),
        f"{note}{left} marks are not moved" if left or more else "",
    )
