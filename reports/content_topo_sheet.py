"""The topographic sheet for the crew: cautions first, then what to take again."""

from typing import TYPE_CHECKING

import numpy as np

from .content_topo_detail import source_name
from .content_topo_initialisations import group_verdicts
from .document import Column, Document, Paragraph, Part, Row, Section, Table
from .heading import Heading
from .rounding import Units

if TYPE_CHECKING:
    from ..adjust.follow.topo import Topo

CAUTIONS = (
    "Overhead lines and poles: a pole conducts, carbon fibre too. Persons who are not "
    "qualified keep it at least 3.05 m (10 ft) from lines up to 50 kV, and 0.1 m (4 "
    "in) more for each further 10 kV (29 CFR 1910.333); local rules may ask for more. "
    "Lower the pole when moving. Never hold it up near a line to get a shot: offset, "
    "tie or sight the point instead.",
    "Lightning: stop, lay poles down, leave tripods; all of them conduct.",
    "Traffic and machines: high-visibility clothing, a look-out, a plan.",
    "Excavations, bank edges, scour: keep back from the edge; nobody goes into an "
    "unsupported one.",
    "Manholes and culverts are confined spaces: dip from outside, nobody enters; lift "
    "covers with the tool, guard the opening.",
    "Water, weirs, sluices: life jacket, never alone; gates may move without warning.",
    "Rail: only with permission and protection of the railway.",
    "Lone work: agreed times to call in. Lasers: mind the class on the instrument.",
    "Local rules and the licensed person's judgement come first. This sheet computes; "
    "it certifies nothing.",
)
"""Overhead lines and poles first."""

_BLANK = 6


def sheet_document(topo: "Topo", heading: Heading) -> Document:
    """Return the sheet for the next day out.

    Parameters
    ----------
    topo : Topo
    heading : Heading
    """
    cautions: list[Part] = [Paragraph(words) for words in CAUTIONS]
    again: list[Part] = [_groups_table(topo), _sky_table(topo)]
    shots = _shots_table(topo, heading.units)
    again += [shots] if shots is not None else []
    title = "Topographic sheet"
    return Document(
        f"{title} — {heading.title}" if heading.title else title,
        (
            Section("Cautions", tuple(cautions)),
            Section("To take again", tuple(again)),
            Section("To write down", (_blank_table(),)),
        ),
        foot=f"input {heading.input_hash[:16]}" if heading.input_hash else "",
    )


def _groups_table(topo: "Topo") -> Table:
    states = group_verdicts(topo)
    humps = {
        source_name(topo, int(source))
        for k, source in enumerate(topo.humps.source)
        if topo.humps.verdict[k] == "query"
    }
    rows = []
    for name, verdict in zip(topo.group.names, states, strict=True):
        if verdict == "meets":
            continue
        why = {
            "unchecked": "nothing outside it checks it",
            "query": "a repeat or a check shot is off",
            "fails": "a repeat or a check shot is off",
        }[verdict]
        why = "its ground lies off its neighbours'" if name in humps else why
        rows.append(Row((name, why, "")))
    return Table(
        "initialisations: three shots of each again and one on a known mark, from "
        "another initialisation, at least 20 minutes and better hours later"
        if rows
        else "initialisations: nothing to take again",
        (
            Column("initialisation", number=False),
            Column("why", number=False),
            Column("done, shot numbers", number=False),
        ),
        tuple(rows),
    )


def _sky_table(topo: "Topo") -> Table:
    rows = [
        Row(
            (
                one.name,
                str(one.shots),
                "",
            )
        )
        for one in topo.check_shots.classes
        if one.verdict != "meets" and one.shots
    ]
    return Table(
        "classes of sky without a check of their own, and open sky says nothing about "
        "them: a known mark, or a point sighted by total station, under each"
        if rows
        else "classes of sky: each has a check of its own",
        (
            Column("sky", number=False),
            Column("shots"),
            Column("done, shot numbers", number=False),
        ),
        tuple(rows),
    )


def _shots_table(topo: "Topo", units: Units) -> Table | None:
    """Return single shots to take again: repeats that disagree, leans too large."""
    shots = topo.hung.shots
    why: dict[int, str] = {}
    found = topo.repeats.differences
    for i in np.flatnonzero(found.test > 1).tolist():
        other = shots.name[found.second[i]]
        why[int(found.first[i])] = f"differs from its first shot {other}"
    for i, verdict in enumerate(topo.tilt):
        if verdict in ("query", "fails"):
            lean = f"{np.degrees(shots.tilt[i]):.0f}°"
            why[i] = (
                f"the pole leaned {lean}: plumb it, or lean it the opposite way too"
            )
    if not why:
        return None
    rows = []
    for i in sorted(why):
        east, north, _ = shots.coordinates[i]
        cells = (
            shots.name[i],
            shots.code.word(i) or "–",
            units.coordinate(float(north)),
            units.coordinate(float(east)),
            why[i],
            "",
        )
        rows.append(Row(cells))
    unit = units.unit
    return Table(
        "single shots",
        (
            Column("shot", number=False),
            Column("code", number=False),
            Column(f"north ({unit})"),
            Column(f"east ({unit})"),
            Column("why", number=False),
            Column("done, shot number", number=False),
        ),
        tuple(rows),
    )


def _blank_table() -> Table:
    heads = (
        "base set-up", "mark, stamping read aloud", "antenna height before (m)",
        "after (m)", "initialisation", "since (UTC)", "sky", "initials",
    )  # fmt: skip
    return Table(
        "one line for each base and each new initialisation; heights read twice, "
        "before and after; nothing from memory",
        tuple(Column(head, number=False) for head in heads),
        tuple(Row(("",) * len(heads)) for _ in range(_BLANK)),
    )
