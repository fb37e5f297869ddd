"""The queries that results raise: each thing over its limit, or checked by nothing."""

from collections.abc import Container, Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..networks.queries import Query
from .content import quoted
from .content_loops import members_text
from .rounding import Units, limits_text, number
from .words_cause_size import booked_words

if TYPE_CHECKING:
    from ..adjust.causes import Suspects
    from ..adjust.causes.cause import Cause
    from ..adjust.judge.closures import Closures
    from ..adjust.judge.control import Control
    from ..adjust.judge.external import Reliability
    from ..adjust.judge.orthometric import Neglected
    from ..networks import Network

_OVER = ("query", "fails")


def of_suspects(found: "Suspects", units: Units) -> list[Query]:
    """Return a query for each cause that the search ended with.

    Echoes and twins of a cause are no queries of their own: one answer is wanted.
    Where no cause explains it, the variance factor itself is the query.
    """
    place = {int(one): k for k, one in enumerate(found.number.tolist())}
    made = []
    for number_of in found.search.model:
        cause, k = found.made.causes[number_of], place.get(int(number_of))
        said, verdict, largest = "", "query", 0.0
        if k is not None:
            verdict = found.verdict[k] if found.verdict[k] in _OVER else "query"
            words = booked_words(
                found.measure[k], found.size[k], found.sd_size[k], units
            )
            largest = round(float(found.test[k]), 4)
            test = f"test {number(float(found.test[k]), 'test')}"
            said = f"{words}, {test}" if words else test
        made.append(
            Query(
                "cause-suspected",
                cause.words,
                verdict,
                "suspects",
                said,
                look=_look_at(cause, found.adjustment.network),
                test=largest,
            )
        )
    factor = found.variance_factor
    if not made and factor.verdict in _OVER:
        value = number(factor.value, "variance factor")
        limits = limits_text(factor.lower, factor.upper)
        said = f"{value}, limits {limits}"
        about = f"variance factor, {found.adjustment.datum.mode}"
        made.append(
            Query("variance-factor-off", about, factor.verdict, "suspects", said)
        )
    return made


def _look_at(cause: "Cause", network: "Network") -> str:
    """Return the command that shows what a cause is about."""
    names = cause.about
    if not names:
        return "brasscap suspects"
    first = quoted(names[0])
    if names[0] in network.set_ups.name:
        return f"brasscap show set-up {first}"
    if cause.kind.startswith("known mark"):
        return f"brasscap show mark {first}"
    if cause.kind in ("session", "tripod"):
        return f"brasscap show {cause.kind} {first}"
    if cause.kind == "observation":
        return f"brasscap show observation {first}"
    return "brasscap suspects"


def of_control(found: "Control", units: Units) -> list[Query]:
    """Return a query for each known mark over its limit; else for all together."""
    made = []
    mode = found.adjustment.datum.mode
    for row in found.rows:
        if row.verdict not in _OVER:
            continue
        ways = [
            f"{way} {units.small(float(row.difference[axis]))} {units.small_unit}"
            for axis, way in enumerate(("east", "north", "height"))
            if np.isfinite(row.difference[axis])
        ]
        test = number(row.test, "test")
        said = f"{mode} solution: known minus survey {', '.join(ways)}, test {test}"
        about = f"known mark {row.part} {row.station}"
        made.append(Query("known-mark-differs", about, row.verdict, "control", said))
    parts = {row.part for row in found.rows if row.verdict in _OVER}
    for one in found.together:
        if one.verdict in _OVER and one.part not in parts:
            figures = f"{mode} solution: {number(one.statistic, 'test')}, limit"
            said = f"{figures} {number(one.limit, 'limit')}"
            about = f"known marks, {one.part}, together"
            made.append(
                Query("known-mark-differs", about, one.verdict, "control", said)
            )
    return made


def of_loops(found: "Closures", units: Units) -> list[Query]:
    """Return a query for each loop and each spread of readings over its limit."""
    made = []
    for i, loop in enumerate(found.loops):
        if found.tests.verdict[i] != "query":
            continue
        ways = ("east", "north", "up")[-len(loop.misclosure) :]
        size = [
            f"{way} {units.small(float(by))}"
            for way, by in zip(ways, loop.misclosure, strict=True)
        ]
        test = number(float(found.tests.test[i]), "test")
        said = f"{', '.join(size)} {units.small_unit}, test {test}"
        about = f"{loop.kind} {members_text(found.network, loop)}"
        made.append(Query("misclosure-large", about, "query", "loops", said))
    for spread, verdict in zip(found.spreads, found.spread_verdicts, strict=True):
        if verdict == "query":
            about = f"{spread.kind}s at {found.network.node_name(spread.node)}"
            said = f"{spread.readings} readings"
            made.append(Query("spread-large", about, "query", "loops", said))
    return made


def of_reliability(
    found: "dict[str, Reliability]", marks: Sequence[str], told: Container[str] = ()
) -> list[Query]:
    """Return a query for each mark that an unseen error of any size could move.

    Parameters
    ----------
    found : dict of str to Reliability
        ``set-up`` and ``observation``.
    marks : sequence of str
        Names of all marks.
    told : container of str, optional
        What the input's queries say the same of: ``mark T9``.
    """
    by: dict[int, list[str]] = {}
    for part in ("observation", "set-up"):
        for k in np.flatnonzero(found[part].unchecked).tolist():
            wrong = found[part].hypotheses[k]
            for mark in found[part].unlimited(k).tolist():
                thing = f"{wrong.kind.removesuffix(' height')} {wrong.name}"
                by.setdefault(mark, []).append(thing)
    made: list[Query] = []
    for mark, things in sorted(by.items()):
        first, *others = dict.fromkeys(things)
        more = f" or {len(others)} more" if others else ""
        said = f"an error of any size in {first}{more} would move it unseen"
        about = f"mark {marks[mark]}"
        one = Query("nothing-checks", about, "unchecked", "reliability", said)
        made += [] if about in told else [one]
    passed = sum(found[part].passed_over for part in ("observation", "set-up"))
    if passed:
        said = (
            f"{passed} more may be checked by nothing: too many to say one by one what "
            "an error in them would move; the tables of tests have them all"
        )
        about = "further observations and set-ups"
        made.append(Query("nothing-checks", about, "unchecked", "reliability", said))
    return made


_MATTERS = 0.5
"""Of a run's sd: a neglected correction above it is asked about (common practice, no
source; at half an sd the test of the run loses an eighth of its room)."""


def of_levels(
    found: "Neglected | None",
    names: Sequence[str],
    units: Units,
    corrected: Container[str] = (),
) -> list[Query]:
    """Return a query where the neglected orthometric correction of a run matters.

    Parameters
    ----------
    found : Neglected or None
    names : sequence of str
        Of the levelled runs.
    units : Units
    corrected : container of str, optional
        Runs that are booked with the correction applied.
    """
    if found is None:
        return []
    asked = np.array([names[i] not in corrected for i in found.run], dtype=bool)
    share = np.abs(found.correction) / found.sd * asked
    k = int(np.argmax(share))
    if not share[k] > _MATTERS:
        return []
    small = units.small_unit
    said = (
        f"{units.small(float(found.correction[k]))} {small} for run "
        f"{names[found.run[k]]} (sd {units.small(float(found.sd[k]))} {small}), up to "
        f"{units.small(found.between)} {small} between two marks"
    )
    about = "orthometric correction of levelled runs"
    return [Query("orthometric-neglected", about, "query", "adjust", said)]
