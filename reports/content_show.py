"""All about one mark, pair, baseline or set-up."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..networks import CommandError
from .content import title
from .content_map import mark_kind
from .content_marks import marks_caption, marks_table
from .content_tests import tests_table
from .document import Document, Facts, Paragraph, Part, Section, Table
from .heading import Heading
from .judged import Judged
from .rounding import Lengths, azimuth, percent, sexagesimal
from .words import frame_words, judge_sentence, multiplier_words

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
    network, lengths = judged.network, Lengths(heading.unit)
    if name not in network.marks.name:
        raise nearest("mark", name, network.marks.name)
    mark = network.marks.name.index(name)
    whole = marks_table(judged, lengths)
    marks = judged.marks
    facts = [
        ("known as", mark_kind(judged, mark)),
        ("status", network.marks.status[mark] or "not booked"),
        ("description", network.marks.description[mark] or "not booked"),
        (
            f"{percent(judged.network.options.confidence)} circle",
            f"radius {lengths.said(float(marks.circle[mark])) or 'cannot be judged'}",
        ),
        ("frame", frame_words(judged, heading.unit)),
    ]
    parts: list[Part] = [
        Facts(tuple(facts)),
        Table(marks_caption(judged), whole.columns, (whole.rows[mark],)),
        _about(judged, _tests_at(judged, mark), f"tests at {name}", lengths),
    ]
    return _shown(f"Mark {name}", judged, parts)


def _tests_at(judged: Judged, mark: int) -> list[int]:
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
    }
    return [
        i
        for i in (int(k) for k in tests.order())
        if tests.name[i] in names.get(_family(tests.kind[i]), ())
    ]


def _family(kind: str) -> str:
    return kind.removesuffix(" height").removesuffix(" plan").removesuffix(" mark")


def _about(judged: Judged, rows: Sequence[int], caption: str, lengths: Lengths) -> Part:
    if not rows:
        return Paragraph(f"{caption}: none")
    return tests_table(judged, rows, caption, lengths)


def _shown(name: str, judged: Judged, parts: Sequence[Part]) -> Document:
    return Document(name, (Section("", (Paragraph(title(judged)), *parts)),))


def show_pair(judged: Judged, pair: "Pair", heading: Heading) -> Document:
    """Return all about two marks: distances, azimuth, relative ellipse, the sentence.

    Parameters
    ----------
    judged : Judged
    pair : Pair
    heading : Heading
    """
    lengths = Lengths(heading.unit)
    first, second = pair.start, pair.end
    confidence = judged.network.options.confidence
    distances = [
        (f"{what} ({lengths.unit})", lengths.coordinate(value))
        for what, value in (
            ("slope distance", pair.slope_distance),
            ("ellipsoid distance", pair.ellipsoid_distance),
            ("grid distance", pair.grid_distance),
            ("ground distance, level at the mean height", pair.level_distance),
            ("height difference", pair.height_difference),
        )
        if np.isfinite(value)
    ]
    small = lengths.small_unit
    facts = (
        *distances,
        (f"sd of the distance ({small})", lengths.small(pair.sd_distance)),
        ("azimuth", sexagesimal(float(np.degrees(pair.azimuth)) % 360)),
        (
            f"{percent(confidence)} circle ({small})",
            f"radius {lengths.small(pair.circle)}",
        ),
        (
            f"relative {percent(confidence)} ellipse ({small})",
            f"{lengths.small(pair.semi_major)} by {lengths.small(pair.semi_minor)}, "
            f"azimuth {azimuth(pair.ellipse_azimuth)}°; "
            f"{multiplier_words(pair.multipliers)}",
        ),
    )
    sentence = judge_sentence(first, second, pair.circle, confidence, lengths)
    parts: list[Part] = [Facts(facts), Paragraph(sentence)]
    return _shown(f"{first} – {second}", judged, parts)


def show_baseline(judged: Judged, name: str, heading: Heading) -> Document:
    """Return all about a baseline: as booked, residual, test, smallest seen.

    Raises
    ------
    CommandError
        No baseline of that name.
    """
    network, lengths = judged.network, Lengths(heading.unit)
    vectors = network.vectors
    if name not in vectors.name:
        raise nearest("baseline", name, vectors.name)
    i = vectors.name.index(name)
    unit, small = lengths.unit, lengths.small_unit
    ends = [int(network.mark_of(node[i])) for node in (vectors.start, vectors.end)]
    facts = [
        ("from, to", " – ".join(network.marks.name[end] for end in ends)),
        (
            "set-ups",
            " – ".join(
                network.node_name(int(n[i])) for n in (vectors.start, vectors.end)
            ),
        ),
        ("session", _named(network.sessions, int(vectors.session[i]))),
        ("group", _named(network.groups, int(vectors.group[i]))),
        (f"dX, dY, dZ ({unit})", _triple(vectors.delta[i], lengths.coordinate)),
        ("in use", "yes" if vectors.used[i] else "no, left out by decision"),
        ("booked in", f"baselines.csv row {int(vectors.row[i])}"),
    ]
    residuals = judged.adjustment.residuals.get("baseline")
    if residuals is not None and vectors.used[i]:
        said = _triple(residuals[i], lengths.small)
        facts.insert(5, (f"residual X, Y, Z ({small})", said))
    rows = _named_tests(judged, "baseline", name)
    rows += [
        k
        for end in ends
        for k in _tests_at(judged, end)
        if _family(judged.tests.kind[k]) == "set-up"
        and judged.tests.name[k]
        in {
            network.node_name(int(vectors.start[i])),
            network.node_name(int(vectors.end[i])),
        }
    ]
    parts = [
        Facts(tuple(facts)),
        _about(judged, rows, "tests of it and of its set-ups", lengths),
    ]
    return _shown(f"Baseline {name}", judged, parts)


def show_set_up(judged: Judged, name: str, heading: Heading) -> Document:
    """Return all about a set-up: height and its reduction, tests, what uses it.

    Raises
    ------
    CommandError
        No set-up of that name.
    """
    network, lengths = judged.network, Lengths(heading.unit)
    set_ups, small = network.set_ups, lengths.small_unit
    if name not in set_ups.name:
        raise nearest("set-up", name, set_ups.name)
    i = set_ups.name.index(name)
    node = len(network.marks) + i
    vectors = network.vectors
    users = [
        vector
        for vector, a, b in zip(vectors.name, vectors.start, vectors.end, strict=True)
        if node in (int(a), int(b))
    ]
    height = lengths.coordinate(float(set_ups.height[i]))
    facts = (
        ("mark", network.marks.name[set_ups.mark[i]]),
        ("session", _named(network.sessions, int(set_ups.session[i]))),
        ("support", set_ups.support[i] or "not booked"),
        (f"height of the reference point ({lengths.unit})", height),
        ("reduced from", set_ups.reduction[i] or "a vertical reading"),
        (
            f"sd of centring, height ({small})",
            _triple(
                np.array([set_ups.sd_centring[i], set_ups.sd_height[i]]), lengths.small
            ),
        ),
        ("used by", ", ".join(users) or "no baseline"),
        ("booked in", f"set_ups.csv row {int(set_ups.row[i])}"),
    )
    rows = _named_tests(judged, "set-up", name)
    parts: list[Part] = [
        Facts(facts),
        _about(judged, rows, "tests of it", lengths),
    ]
    if len(users) == 1:
        parts.append(
            Paragraph(
                "Only one baseline uses this set-up: an error of its height cannot be "
                f"told from an error of the height of baseline {users[0]}."
            )
        )
    return _shown(f"Set-up {name}", judged, parts)


def _named_tests(judged: Judged, family: str, name: str) -> list[int]:
    tests = judged.tests
    return [
        i
        for i in (int(k) for k in tests.order())
        if _family(tests.kind[i]) == family and tests.name[i] == name
    ]


def _named(names: Sequence[str], number: int) -> str:
    return names[number] if number >= 0 else "none"


def _triple(values: "Floats", said: "Callable[[float], str]") -> str:
    return ", ".join(said(float(value)) for value in values)
