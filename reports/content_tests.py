"""The blunder tests as tables and verdict lines."""

from typing import TYPE_CHECKING

import numpy as np

from .document import Column, Paragraph, Row, Table, VerdictLine, Vial, anchor
from .judged import Judged
from .rounding import Units, limits_text, number, percent
from .words import range_words, shift_words, smallest_words, test_basis
from .worst_rows import LONG, SHOWN, full_table

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ..adjust.judge import BlunderTests, VarianceFactor
    from ..networks.covariances import Ints

_AT_LEAST, _AT_MOST, _UNCHECKED_AT_MOST = 5, 12, 12


def variance_factor_line(judged: Judged) -> VerdictLine:
    """Return the two-sided test of the variance factor, as a level vial."""
    return factor_line(judged.variance_factor)


def factor_line(factor: "VarianceFactor") -> VerdictLine:
    """Return a tested variance factor with its limits."""
    if factor.verdict == "unchecked":
        return VerdictLine(
            "variance factor",
            Vial("unchecked"),
            "",
            "no degree of freedom: nothing could show an error",
        )
    inside = (factor.value - factor.lower) / (factor.upper - factor.lower)
    return VerdictLine(
        "variance factor",
        Vial(factor.verdict, inside, low=factor.value < factor.lower),
        number(factor.value, "variance factor"),
        f"limits {limits_text(factor.lower, factor.upper)}, "
        f"{percent(factor.confidence)}, two-sided",
    )


def could_hide(judged: Judged, units: Units) -> Paragraph:
    """Return what passing does not mean: the height blunder that would not be seen."""
    tests = judged.tests
    height = [i for i, kind in enumerate(tests.kind) if kind == "set-up height"]
    seen = np.array([i for i in height if tests.verdict[i] != "unchecked"], dtype=int)
    blind = len(height) - len(seen)
    passing = judged.variance_factor.verdict == "meets"
    text = "passing does not mean free of blunders: " if passing else "what may hide: "
    if len(seen):
        text += (
            "the smallest height blunder at a set-up that this network shows is "
            + range_words(tests.tests.smallest_detectable[seen], units)
        )
        if blind:
            text += f"; at {blind} of {len(height)} set-ups none of any size would show"
    elif blind:
        text += f"a height blunder of any size at any of the {blind} set-ups is hidden"
    else:
        text += _without_set_ups(judged, units)
    return Paragraph(text)


_LENGTHS = (
    "baseline",
    "position",
    "slope distance",
    "horizontal distance",
    "level difference",
)


def _without_set_ups(judged: Judged, units: Units) -> str:
    tests = judged.tests
    some = [i for i, verdict in enumerate(tests.verdict) if verdict != "unchecked"]
    seen = [i for i in some if tests.kind[i] in _LENGTHS]
    said = []
    if judged.dimension == "space":
        said = ["no set-up was booked, so a wrong height of one cannot be looked for"]
    if not some:
        said.append("nothing checks anything: a blunder of any size is hidden")
    elif seen:
        sizes = range_words(tests.tests.smallest_detectable[np.array(seen)], units)
        said.append(
            f"the smallest blunder of a single observation that shows is {sizes}"
            + _hidden_of(tests)
        )
    else:
        said.append("no length, rise or vector is checked")
    return "; ".join(said)


def largest_rows(tests: "BlunderTests") -> list[int]:
    """Return the tests that a person should look at first.

    All that are over the limit, the largest otherwise, then what nothing checks. Of
    several tests of one thing (a set-up, and its height alone) only the largest; a
    thing may be judged in its height and unchecked in its plan.
    """
    order, judged = tests.order(), np.isfinite(tests.basis.test)
    verdict = np.array(tests.verdict, dtype=object)[order]
    over = _once(tests, order[(verdict == "query") | (verdict == "fails")], _AT_MOST)
    first = _once(tests, order[judged[order]], max(_AT_LEAST, len(over)))
    return first + _once(tests, order[~judged[order]], _UNCHECKED_AT_MOST)


def _hidden_of(tests: "BlunderTests") -> str:
    """Return how many observations show no blunder of any size."""
    some = np.flatnonzero(tests.is_observation)
    blind = sum(tests.verdict[i] == "unchecked" for i in some)
    if not blind:
        return ""
    return f"; at {blind} of {len(some)} observations none of any size would show"


def _once(tests: "BlunderTests", rows: "Ints", most: int) -> list[int]:
    """Return the first row of each thing, of so many things at most."""
    first: dict[str, int] = {}
    for i in map(int, rows):
        if len(first) == most:
            break
        first.setdefault(thing_of(tests.kind[i], tests.name[i]), i)
    return list(first.values())


def tests_table(
    judged: Judged, rows: "Iterable[int]", caption: str, units: Units
) -> Table:
    """Return some of the blunder tests as a table.

    Parameters
    ----------
    judged : Judged
    rows : iterable of int
        Row numbers of the tests.
    caption : str
        What they are; significance and power are added.
    units : Units
    """
    tests = judged.tests
    columns = (
        Column("observation", number=False),
        Column("test"),
        Column("", number=False),
        Column("verdict", number=False),
        Column("smallest seen", number=False),
        Column("against the rest", number=False, below=True),
    )
    basis = test_basis(judged.network.options, vector_alpha(judged))
    return Table(
        f"{caption}, 1 = the limit ({basis})",
        columns,
        tuple(_row(tests, i, units) for i in rows),
    )


def vector_alpha(judged: Judged) -> float | None:
    """Return the significance of the test of a vector, or None if none is made.

    All tests find the same blunder with the same power (B-method, Baarda 1968), so
    the significance of three components together follows from that of one.
    """
    from ..adjust.judge.limits import b_method

    options = judged.network.options
    if options.tests_from != "stated" or not (judged.tests.tests.components == 3).any():
        return None
    return b_method(options.outlier_alpha, options.power, 3)[0]


def _row(tests: "BlunderTests", i: int, units: Units) -> Row:
    verdict, test = tests.verdict[i], float(tests.basis.test[i])
    smallest = float(tests.tests.smallest_detectable[i])
    return Row(
        (
            f"{tests.kind[i]} {tests.about[i]}",
            number(test, "test"),
            Vial(verdict, test),
            verdict,
            smallest_words(verdict, smallest, units, tests.measure[i]),
            against_the_rest(tests, i, units),
        ),
        link=link_of(tests.kind[i], tests.name[i]),
    )


def against_the_rest(tests: "BlunderTests", i: int, units: Units) -> str:
    """Return how a booking differs from the rest, or what checks it at all."""
    if tests.verdict[i] == "unchecked":
        return tests.tests.directions[i] or "nothing checks it"
    return shift_words(tests.kind[i], tests.tests.shift[i], units, tests.measure[i])


def blind_table(judged: Judged) -> Table:
    """Return everything that nothing checks, each thing once."""
    tests = judged.tests
    first: dict[str, int] = {}
    for i, verdict in enumerate(tests.verdict):
        if verdict == "unchecked":
            first.setdefault(thing_of(tests.kind[i], tests.name[i]), i)
    rows = tuple(
        Row(
            (
                f"{tests.kind[i]} {tests.about[i]}",
                Vial("unchecked"),
                "unchecked",
                tests.tests.directions[i] or "nothing checks it",
            ),
            link=link_of(tests.kind[i], tests.name[i]),
        )
        for i in list(first.values())[: SHOWN if len(first) > LONG else None]
    )
    columns = tuple(
        Column(head, number=False)
        for head in ("observation", "", "verdict", "what checks it")
    )
    said = ""
    if len(first) > LONG:
        said = f"{SHOWN} of {len(first)}; all of them stand in "
        said += full_table(judged, "tests")
    return Table("an error of any size here would not show", columns, rows, said)


def link_of(kind: str, name: str) -> str:
    """Return where a reader finds what a test is about: on the map, or in a table."""
    thing = thing_of(kind, name)
    if thing.startswith("known mark "):
        return anchor("map", thing.removeprefix("known "))
    if thing.startswith("set-up "):
        return anchor("set-up", name)
    if kind != "baseline":
        return anchor("observation", thing)
    return anchor("map", thing)


def thing_of(kind: str, name: str) -> str:
    """Return what a test is about, under which the map shows it: "set-up O11"."""
    return f"{kind.removesuffix(' height').removesuffix(' plan')} {name}"


def finding_words(judged: Judged, i: int, units: Units) -> str:
    """Return one test in words: what it is about, and how it differs from the rest."""
    tests = judged.tests
    words = shift_words(tests.kind[i], tests.tests.shift[i], units, tests.measure[i])
    kind = tests.kind[i]
    if words.startswith("height"):
        kind = kind.removesuffix(" height")
    return f"{kind} {tests.about[i]}: {words}" if words else f"{kind} {tests.about[i]}"


def blind_note(tests: "BlunderTests") -> str:
    """Return how many more unchecked there are than the table shows."""
    blind = len(
        {
            thing_of(tests.kind[i], tests.name[i])
            for i, verdict in enumerate(tests.verdict)
            if verdict == "unchecked"
        }
    )
    more = blind - _UNCHECKED_AT_MOST
    return f"and {more} more that nothing checks" if more > 0 else ""
