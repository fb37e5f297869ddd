"""What checks one mark, what does not, and what an unseen blunder would do to it."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from .content_marks import checked_words
from .content_readings import plural
from .content_reliability import Hidden, of_mark
from .content_tests import tests_table, thing_of
from .document import Facts, Paragraph, Part, VerdictLine, Vial
from .judged import Judged
from .rounding import Units, number
from .words import size_words

if TYPE_CHECKING:
    from .mark_things import AtMark

_TESTS, _LISTED = 6, 6
"""Tests, and names in a list, that one printed page has room for."""


def checked_line(judged: Judged, mark: int) -> VerdictLine:
    """Return whether anything checks a mark, in words and as a vial."""
    words = checked_words(judged, mark)
    said = {
        "yes": "any one error that moves it would show, if it is large enough",
        "no": "an error that nothing shows could move it by any amount",
        "plan only": "an error that nothing shows could move its height by any amount",
        "height only": "an error that nothing shows could move its plan by any amount",
        "not observed": "no observation in use reaches this mark",
    }[words]
    vial = Vial("meets" if words == "yes" else "unchecked")
    return VerdictLine("checked by the rest", vial, words, said)


def checks_facts(
    judged: Judged, hidden: Hidden, mark: int, here: "AtMark", units: Units
) -> Facts:
    """Return what a mark hangs on, what nothing checks, what could move it unseen.

    Parameters
    ----------
    judged : Judged
    hidden : Hidden
        With what observations and set-ups could hide.
    mark : int
    here : AtMark
    units : Units
    """
    observed = ", ".join(_many(kind, n) for kind, n in here.counts)
    facts = [
        ("observed by", observed or "nothing in use"),
        ("independent of each other", _independent(here)),
        ("nothing checks", _blind(judged, here)),
    ]
    for part, axis in enumerate(("plan", "height")):
        if judged.estimated[mark, part]:
            what = f"largest unseen move in {axis}"
            facts.append((what, _moved(judged, hidden, mark, part, units)))
    return Facts(tuple(facts))


def _many(kind: str, count: int) -> str:
    return f"{count} {kind if count == 1 else plural(kind)}"


def _independent(here: "AtMark") -> str:
    kinds: dict[str, list[str]] = {}
    for kind, name in here.independent:
        kinds.setdefault(kind, []).append(name)
    said = "; ".join(
        f"{_many(kind, len(names))} ({_listed(names)})" for kind, names in kinds.items()
    )
    if len(here.independent) == 1:
        said += "; one alone: nothing else says that it stood on this mark"
    total = f"{len(here.independent)} in all: " if len(kinds) > 1 else ""
    return f"{total}{said}" if said else "none"


def _blind(judged: Judged, here: "AtMark") -> str:
    """Return what of what stands on a mark nothing checks."""
    tests = judged.tests
    if not here.counts or not here.tests:
        return "nothing in use was observed here: there is nothing to check"
    names = [
        thing_of(tests.kind[i], tests.name[i])
        for i in here.tests
        if tests.verdict[i] == "unchecked"
    ]
    return _listed(list(dict.fromkeys(names))) or "everything here is checked"


def _moved(judged: Judged, hidden: Hidden, mark: int, part: int, units: Units) -> str:
    """Return the worst that one blunder just too small to be seen does to a mark."""
    one = of_mark(hidden, mark, part)
    if one.unlimited:
        names = dict.fromkeys(_about(hidden, *key) for key in one.unlimited)
        return f"any amount, by an error of {_listed(list(names))}"
    if any(found.few is not None for found in hidden.found.values()):
        return _bounded(judged, hidden, mark, part, units)
    if one.by is None:
        return "none: no error of one observation or set-up moves it"
    found, row = hidden.found[one.by[0]], one.by[1]
    seen = size_words(
        float(found.smallest_detectable[row]), units, found.hypotheses[row].measure
    )
    return (
        f"{units.said(one.size)}, by an error just too small to be seen of "
        f"{_about(hidden, *one.by)} (smallest seen {seen})"
    )


def _bounded(judged: Judged, hidden: Hidden, mark: int, part: int, units: Units) -> str:
    """Return the most that it could be, where not every error is followed to marks."""
    marks = judged.marks
    sd = float(marks.semi_major[mark]) / marks.multipliers.ellipse
    if part == 1:
        sd = float(np.sqrt(marks.covariance[mark, 2, 2]))
    ratios = [one.bias_to_noise[~one.unchecked] for one in hidden.found.values()]
    ratio = max(float(some.max(initial=0.0)) for some in ratios)
    if not ratio * sd > 0:
        return "not worked out in a network of this size"
    return (
        f"at most {units.at_most(ratio * sd)}: the largest bias to noise, "
        f"{number(ratio, 'test')}, times its sd; in a network of this size not every "
        "error is followed to every mark"
    )


def _about(hidden: Hidden, table: str, row: int) -> str:
    one = hidden.found[table].hypotheses[row]
    return f"{one.kind} {one.about}"


def tests_parts(judged: Judged, here: "AtMark", name: str, units: Units) -> list[Part]:
    """Return the largest tests of what stands on a mark.

    Parameters
    ----------
    judged : Judged
    here : AtMark
    name : str
        Of the mark.
    units : Units
    """
    some = [i for i in here.tests if judged.tests.verdict[i] != "unchecked"]
    if not some:
        return [Paragraph("No test: nothing at this mark is checked by anything.")]
    table = tests_table(judged, some[:_TESTS], "largest tests here", units)
    more = len(some) - _TESTS
    note = f'and {more} more:  brasscap show mark "{name}"' if more > 0 else ""
    return [replace(table, note=note)]


def _listed(names: Sequence[str]) -> str:
    more = len(names) - _LISTED
    said = ", ".join(names[:_LISTED])
    return f"{said} and {more} more" if more > 0 else said
