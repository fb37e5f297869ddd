"""The table of initialisations: their shots, and the worst of what checks them."""

from typing import TYPE_CHECKING

import numpy as np

from .content_topo_tables import MOST_ROWS, VERDICT_COLUMNS, more_words
from .document import Column, Row, Table, Vial
from .judged import worst

if TYPE_CHECKING:
    from ..adjust.follow.topo import Topo


def initialisations_table(topo: "Topo") -> Table | None:
    """Return every initialisation: its shots, and whether anything checks it."""
    count = len(topo.group.names)
    if not count:
        return None
    shots = topo.hung.shots
    states = group_verdicts(topo)
    of_group = np.bincount(topo.group.number + 1, minlength=count + 1)[1:]
    order = sorted(range(count), key=lambda k: (_rank(states[k]), -of_group[k], k))
    first = np.full(count + 1, 0)
    first[topo.group.number[::-1]] = np.arange(len(shots))[::-1]
    rows = []
    for k in order[:MOST_ROWS]:
        i = int(first[k])
        source = shots.base_booked[i] or shots.service.word(i) or "–"
        rows.append(
            Row(
                (
                    topo.group.names[k],
                    source,
                    str(of_group[k]),
                    Vial(states[k]),
                    states[k],
                )
            )
        )
    return Table(
        "initialisations: all shots of one fail together; worst first"
        + more_words(count, len(rows)),
        (
            Column("initialisation", number=False),
            Column("from", number=False),
            Column("shots"),
            *VERDICT_COLUMNS,
        ),
        tuple(rows),
    )


def _rank(verdict: str) -> int:
    return ("fails", "query", "unchecked", "meets").index(verdict)


def group_verdicts(topo: "Topo") -> list[str]:
    """Return the verdict on each initialisation: the worst of what checks it."""
    states: list[set[str]] = [
        {"meets"} if told else {"unchecked"} for told in topo.checked
    ]
    number = topo.group.number
    again, checks = topo.repeats.differences, topo.check_shots.differences
    judged = np.isfinite(again.test) & topo.repeats.independent
    for i in np.flatnonzero(judged).tolist():
        for end in (again.first[i], again.second[i]):
            if number[end] >= 0:
                states[number[end]].add(again.verdict[i])
    for i in np.flatnonzero(np.isfinite(checks.test)).tolist():
        if number[checks.first[i]] >= 0:
            states[number[checks.first[i]]].add(checks.verdict[i])
    for k, source in enumerate(topo.humps.source.tolist()):
        if source < len(states) and topo.humps.verdict[k] == "query":
            states[source].add("query")
    return [worst(some) for some in states]
