"""All about one mark, pair or set-up; observations stand apart."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..networks import CommandError
from .content import title
from .content_heights import heights_table
from .content_map import mark_kind
from .content_marks import marks_caption, marks_table
from .content_readings import kinds_read, nodes_of, readings_of
from .content_tests import tests_table
from .document import Document, Facts, Paragraph, Part, Section, Table
from .heading import Heading
from .judged import Judged
from .rounding import Units, percent
from .words import (
    frame_words,
    judge_height_sentence,
    judge_sentence,
    multiplier_words,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from ..adjust.precision import Pair
    from ..networks.covariances import Floats


def nearest(kind: str, name: str, known: Sequence[str]) -> CommandError:
    """Return the error for a name that does not exist, with its nearest spelling."""
    from difflib import get_close_matches

    close = get_close_matches(name, known, n=1, cutoff=0.0)
    mend = f"; did you mean {close[0]!r}?" if close else f"; this job has no {kind}"
    return CommandError(f"show {kind}: there is no {kind} {name!r}{mend}")


def show_mark(judged: Judged, name: str, heading: Heading) -> Document:
    """Return all about a mark: coordinates, ellipse, tests that concern it.

    Raises
    ------
    CommandError
        No mark of that name.
    """
    network, units = judged.network, heading.units
    if name not in network.marks.name:
        raise nearest("mark", name, network.marks.name)
    mark = network.marks.name.index(name)
    own = marks_table(judged, units, mark)
    marks = judged.marks
    facts = [
        ("known as", mark_kind(judged, mark)),
        ("status", network.marks.status[mark] or "not booked"),
        ("description", network.marks.description[mark] or "not booked"),
        ("frame", frame_words(judged, heading.unit)),
    ]
    if judged.dimension != "height":
        circle = f"{percent(judged.network.options.confidence)} circle"
        radius = units.said(float(marks.circle[mark])) or "cannot be judged"
        facts.insert(3, (circle, f"radius {radius}"))
    parts: list[Part] = [
        Facts(tuple(facts)),
        Table(marks_caption(judged), own.columns, own.rows),
        tests_about(judged, tests_at(judged, mark), f"tests at {name}", units),
    ]
    heights = heights_table(judged, units, mark)
    if heights:
        parts.insert(2, heights)
    return shown(f"Mark {name}", judged, parts)


def tests_at(judged: Judged, mark: int) -> list[int]:
    """Return the tests of everything that stands on, or starts or ends at, a mark."""
    network, tests = judged.network, judged.tests
    vectors, positions = network.vectors, network.positions
    ends = np.stack([network.mark_of(vectors.start), network.mark_of(vectors.end)])
    names = {
        "baseline": {
            n
            for n, here in zip(vectors.name, (ends == mark).any(0), strict=True)
            if here
        },
        "position": {
            n
            for n, at in zip(
                positions.name, network.mark_of(positions.node), strict=True
            )
            if at == mark
        },
        "set-up": {
            n
            for n, at in zip(network.set_ups.name, network.set_ups.mark, strict=True)
            if at == mark
        },
        "known": {network.marks.name[mark]},
        **_readings_at(judged, mark),
    }
    return [
        i
        for i in (int(k) for k in tests.order())
        if tests.name[i] in names.get(family_of(tests.kind[i]), ())
    ]


def _readings_at(judged: Judged, mark: int) -> dict[str, set[str]]:
    """Return kind and names of the readings that start or end at a mark."""
    found = {}
    for kind in kinds_read(judged):
        some = readings_of(judged, kind)
        ends = [judged.network.mark_of(nodes) == mark for nodes in nodes_of(some)]
        here = np.logical_or.reduce(ends)
        found[kind] = {some.name[i] for i in np.flatnonzero(here)}
    return found


def family_of(kind: str) -> str:
    """Return what a test is of, whichever part of it: "set-up" of its height too."""
    return kind.removesuffix(" height").removesuffix(" plan").removesuffix(" mark")


def tests_about(
    judged: Judged, rows: Sequence[int], caption: str, units: Units
) -> Part:
    """Return some tests as a table, or the words that there are none."""
    if not rows:
        return Paragraph(f"{caption}: none")
    return tests_table(judged, rows, caption, units)


def shown(name: str, judged: Judged, parts: Sequence[Part]) -> Document:
    """Return a document about one thing: which solution, then the parts."""
    return Document(name, (Section("", (Paragraph(title(judged)), *parts)),))


def show_pair(judged: Judged, pair: "Pair", heading: Heading) -> Document:
    """Return all about two marks: distances, azimuth, relative ellipse, the sentence.

    Parameters
    ----------
    judged : Judged
    pair : Pair
    heading : Heading
    """
    units = heading.units
    distances = [
        (f"{what} ({units.unit})", units.coordinate(value))
        for what, value in (
            ("slope distance", pair.slope_distance),
            ("ellipsoid distance", pair.ellipsoid_distance),
            ("grid distance", pair.grid_distance),
            ("ground distance, level at the mean height", pair.level_distance),
            ("height difference", pair.height_difference),
        )
        if np.isfinite(value)
    ]
    facts = [*distances, *_pair_plan(judged, pair, units)]
    if np.isfinite(pair.height_limit):
        sd = float(np.sqrt(pair.covariance[2, 2]))
        small = units.small_unit
        facts.append((f"sd of the height difference ({small})", units.small(sd)))
    sentence = pair_sentence(judged, pair, units)
    parts: list[Part] = [Facts(tuple(facts)), Paragraph(sentence)]
    if judged.verdict == "fails":
        parts.append(
            Paragraph(
                "The solution behind these figures fails its own tests: settle that "
                "before anything is said of them."
            )
        )
    return shown(f"{pair.start} – {pair.end}", judged, parts)


def _pair_plan(judged: Judged, pair: "Pair", units: Units) -> list[tuple[str, str]]:
    """Return azimuth, sd and ellipse of a pair; nothing where it has no plan."""
    if not np.isfinite(pair.azimuth):
        return []
    confidence, small = judged.network.options.confidence, units.small_unit
    north = "grid" if judged.network.frame.kind == "local" else "true"
    return [
        (f"sd of the distance ({small})", units.small(pair.sd_distance)),
        *_azimuths(judged, pair, units),
        (
            f"{percent(confidence)} circle ({small})",
            f"radius {units.small(pair.circle)}",
        ),
        (
            f"relative {percent(confidence)} ellipse ({small})",
            f"{units.small(pair.semi_major)} by {units.small(pair.semi_minor)}, "
            f"azimuth {units.said_azimuth(pair.ellipse_azimuth)} from {north} north; "
            f"{multiplier_words(pair.multipliers)}",
        ),
    ]


def _azimuths(judged: Judged, pair: "Pair", units: Units) -> list[tuple[str, str]]:
    """Return the azimuth from true north, and on the grid where it differs."""
    local = judged.network.frame.kind == "local"
    true = "azimuth of the site grid" if local else "azimuth from true north"
    said = [(f"{true} ({units.angle_unit})", units.reading(pair.azimuth % (2 * np.pi)))]
    if not local and np.isfinite(pair.grid_azimuth):
        grid = units.reading(pair.grid_azimuth % (2 * np.pi))
        said.append((f"azimuth on the grid ({units.angle_unit})", grid))
    return said


def pair_sentence(judged: Judged, pair: "Pair", units: Units) -> str:
    """Return what the precision of a pair means: in plan, else in height."""
    confidence, ends = judged.network.options.confidence, (pair.start, pair.end)
    if np.isfinite(pair.azimuth):
        return judge_sentence(*ends, pair.circle, confidence, units)
    return judge_height_sentence(*ends, pair.height_limit, confidence, units)


def show_set_up(judged: Judged, name: str, heading: Heading) -> Document:
    """Return all about a set-up: height and its reduction, tests, what uses it.

    Raises
    ------
    CommandError
        No set-up of that name.
    """
    network, units = judged.network, heading.units
    set_ups, small = network.set_ups, units.small_unit
    if name not in set_ups.name:
        raise nearest("set-up", name, set_ups.name)
    i = set_ups.name.index(name)
    users = _users(judged, len(network.marks) + i)
    height = units.coordinate(float(set_ups.height[i]))
    sds = np.array([set_ups.sd_centring[i], set_ups.sd_height[i]])
    facts = (
        ("mark", network.marks.name[set_ups.mark[i]]),
        ("session", named(network.sessions, int(set_ups.session[i]))),
        ("support", set_ups.support[i] or "not booked"),
        (f"height of the reference point ({units.unit})", height),
        ("reduced from", set_ups.reduction[i] or "a vertical reading"),
        (f"sd of centring, height ({small})", listed(sds, units.small)),
        ("used by", ", ".join(users) or "no observation"),
        ("booked in", f"set_ups.csv row {int(set_ups.row[i])}"),
    )
    rows = named_tests(judged, "set-up", name)
    tests = tests_about(judged, rows, "tests of it", units)
    parts: list[Part] = [Facts(facts), tests]
    if len(users) == 1:
        parts.append(
            Paragraph(
                "Only one observation uses this set-up: an error of its height cannot "
                f"be told from an error of {users[0]}."
            )
        )
    return shown(f"Set-up {name}", judged, parts)


def _users(judged: Judged, node: int) -> list[str]:
    """Return kind and name of every observation that starts or ends at a node."""
    vectors, positions = judged.network.vectors, judged.network.positions
    of_vectors = np.flatnonzero((vectors.start == node) | (vectors.end == node))
    users = [f"baseline {vectors.name[k]}" for k in of_vectors]
    at = np.flatnonzero(positions.node == node)
    users += [f"position {positions.name[k]}" for k in at]
    return users + _readings_from(judged, node)


def _readings_from(judged: Judged, node: int) -> list[str]:
    """Return the readings that start or end at a node, those of a name together."""
    kinds: dict[str, list[str]] = {}
    for kind in kinds_read(judged):
        some = readings_of(judged, kind)
        here = np.logical_or.reduce([nodes == node for nodes in nodes_of(some)])
        for i in np.flatnonzero(here):
            kinds.setdefault(some.name[i], []).append(kind)
    return [f"{name} ({', '.join(some)})" for name, some in kinds.items()]


def named_tests(judged: Judged, family: str, name: str) -> list[int]:
    """Return the tests of one thing by its name, largest first."""
    tests = judged.tests
    return [
        i
        for i in (int(k) for k in tests.order())
        if family_of(tests.kind[i]) == family and tests.name[i] == name
    ]


def named(names: Sequence[str], number: int) -> str:
    """Return the name of a number; "none" for a negative one."""
    return names[number] if number >= 0 else "none"


def listed(values: "Floats", said: "Callable[[float], str]") -> str:
    """Return some figures with commas between them."""
    return ", ".join(said(float(value)) for value in values)
