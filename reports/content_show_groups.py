"""All about one session, one tripod, one known mark."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from .content_control import marks_table, twin_words
from .content_likeness import likeness_words
from .content_show import family_of, nearest, show_mark, shown, tests_about
from .document import Document, Facts, Paragraph, Part, Section
from .heading import Heading
from .judged import Judged
from .words import size_words

if TYPE_CHECKING:
    from ..adjust.judge.control import Control
    from ..adjust.judge.external import Reliability


def members(judged: Judged, kind: str, name: str) -> dict[str, tuple[str, ...]]:
    """Return the set-ups and baselines of a session, the set-ups of a tripod.

    Parameters
    ----------
    judged : Judged
    kind : "session" or "tripod"
    name : str

    Raises
    ------
    CommandError
        None is booked under that name.
    """
    network = judged.network
    set_ups, vectors = network.set_ups, network.vectors
    if kind == "tripod":
        known = tuple(dict.fromkeys(word for word in set_ups.tripod if word))
    else:
        known = tuple(network.sessions)
    if name not in known:
        raise nearest(kind, name, known)
    if kind == "tripod":
        return {
            "set-up": tuple(
                of
                for of, tripod in zip(set_ups.name, set_ups.tripod, strict=True)
                if tripod == name
            )
        }
    number = network.sessions.index(name)
    stood = np.flatnonzero(set_ups.session == number)
    observed = np.flatnonzero(vectors.session == number)
    return {
        "set-up": tuple(set_ups.name[i] for i in stood),
        "baseline": tuple(vectors.name[i] for i in observed),
    }


def show_session(judged: Judged, name: str, heading: Heading) -> Document:
    """Return all about a session: who stood where, its vectors, every test of both."""
    parts_of = members(judged, "session", name)
    vectors = judged.network.vectors
    used = [n for n in parts_of["baseline"] if vectors.used[vectors.name.index(n)]]
    facts = [
        ("set-ups", ", ".join(_stood(judged, parts_of["set-up"])) or "none booked"),
        ("baselines", ", ".join(parts_of["baseline"]) or "none"),
    ]
    out = [n for n in parts_of["baseline"] if n not in used]
    if out:
        facts.append(("left out", ", ".join(out)))
    correlated = _correlated(judged, name)
    facts.append(("correlations between its baselines", correlated))
    rows = _tests_of(judged, parts_of)
    table = tests_about(judged, rows, f"tests of session {name}", heading.units)
    return shown(f"Session {name}", judged, [Facts(tuple(facts)), table])


def _correlated(judged: Judged, name: str) -> str:
    """Return whether the vectors of a session share one covariance."""
    network = judged.network
    rows = np.flatnonzero(
        (network.vectors.session == network.sessions.index(name)) & network.vectors.used
    )
    if len(rows) < 2:
        return "only one baseline in use"
    together = {
        int(row)
        for batch in network.vectors.covariances
        if batch.members.shape[1] > 1
        for row in batch.members.ravel()
    }
    return "given" if together & set(rows.tolist()) else "not given"


def _stood(judged: Judged, names: Sequence[str]) -> list[str]:
    """Return set-ups with their marks: "O11 (T103)"."""
    set_ups, marks = judged.network.set_ups, judged.network.marks.name
    at = [set_ups.name.index(name) for name in names]
    return [f"{set_ups.name[i]} ({marks[set_ups.mark[i]]})" for i in at]


def show_tripod(
    judged: Judged, name: str, heading: Heading, hidden: "Reliability"
) -> Document:
    """Return all about a tripod: where it stood, and what of it could hide.

    Parameters
    ----------
    judged : Judged
    name : str
    heading : Heading
    hidden : Reliability
        Of height errors common to all set-ups of a tripod.
    """
    parts_of, network = members(judged, "tripod", name), judged.network
    at = [network.set_ups.name.index(n) for n in parts_of["set-up"]]
    sessions = [network.sessions[s] for s in network.set_ups.session[at] if s >= 0]
    rows = [k for k, one in enumerate(hidden.hypotheses) if one.name == name]
    common = "no observation uses it"
    if rows and hidden.unchecked[rows[0]]:
        common = "nothing checks it"
    elif rows:
        smallest = float(hidden.smallest_detectable[rows[0]])
        common = f"seen from {size_words(smallest, heading.units, 'm')} on"
    facts = (
        ("set-ups", ", ".join(_stood(judged, parts_of["set-up"]))),
        ("sessions", ", ".join(dict.fromkeys(sessions)) or "none booked"),
        ("one height error in all of them", common),
    )
    rows = _tests_of(judged, parts_of)
    table = tests_about(judged, rows, f"tests of tripod {name}", heading.units)
    return shown(f"Tripod {name}", judged, [Facts(facts), table])


def _tests_of(judged: Judged, parts_of: dict[str, tuple[str, ...]]) -> list[int]:
    tests = judged.tests
    return [
        i
        for i in (int(k) for k in tests.order())
        if tests.name[i] in parts_of.get(family_of(tests.kind[i]), ())
    ]


def show_known_mark(
    judged: Judged, name: str, heading: Heading, control: "Control"
) -> Document:
    """Return all about a known mark: known minus survey first, then the mark.

    Parameters
    ----------
    judged : Judged
    name : str
    heading : Heading
    control : Control
        Each known mark left out in turn.

    Raises
    ------
    CommandError
        No known mark of that name.
    """
    network = judged.network
    known = tuple(network.marks.name[m] for m in network.known.mark)
    if name not in known:
        raise nearest("known mark", name, known)
    rows = [row for row in control.rows if row.station == name]
    parts: list[Part] = [Facts(_booked(judged, name))]
    for part in ("plan", "height"):
        here = [row for row in rows if row.part == part]
        if here:
            parts.append(marks_table(control, here, part, heading.units))
            parts += [Paragraph(said) for said in twin_words(here, part)]
            parts += [
                Paragraph(f"likeness: {said}")
                for row in here
                for said in likeness_words(row.likeness, heading.units)
            ]
    if not rows:
        parts.append(Paragraph("it cannot be compared with the survey"))
    mark = show_mark(judged, name, heading)
    return Document(
        f"Known mark {name}", (Section("", tuple(parts)), *mark.sections), mark.foot
    )


def _booked(judged: Judged, name: str) -> tuple[tuple[str, str], ...]:
    """Return how a known mark is used and where it is booked."""
    network, known = judged.network, judged.network.known
    mark = network.marks.name.index(name)
    facts = []
    for i in np.flatnonzero(known.mark == mark).tolist():
        plan = known.use_plan[i] or "not in use"
        height = known.use_height[i] or "not in use"
        uses = []
        if known.components[i, :2].any():
            uses.append(f"plan {plan}")
        if known.components[i, 2]:
            uses.append(f"height {height}")
        left = "" if known.used[i] else "; left out by a decision"
        facts.append(("use", ", ".join(uses) + left))
        facts.append(("source", known.source[i] or "not booked"))
        facts.append(("booked in", f"control.csv row {int(known.row[i])}"))
    return tuple(facts)
