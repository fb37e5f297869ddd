"""Verdicts of `topo check` on the detail: humps, shapes, made points, lines."""

from typing import TYPE_CHECKING

import numpy as np

from .content_topo_detail import over_crossings
from .document import VerdictLine, Vial
from .judged import worst
from .rounding import number

if TYPE_CHECKING:
    from ..adjust.follow.topo import Topo


def detail_lines(topo: "Topo") -> list[VerdictLine]:
    """Return the verdicts on humps, shapes, constructions, places and crossings."""
    made = [_humps_line(topo)]
    if len(topo.day.checks):
        made.append(_shapes_line(topo))
    if len(topo.day.constructions):
        made.append(_constructions_line(topo))
    if len(topo.one_place):
        pairs = len(topo.one_place)
        word = "pair" if pairs == 1 else "pairs"
        said = f"{pairs} {word} of points at one place, not as repeats"
        made.append(VerdictLine("one place", Vial("query"), "", said))
    over = over_crossings(topo)
    if len(topo.line.names):
        said = f"{len(topo.crossings.gap)} crossings of lines"
        if len(over):
            said += f", {len(over)} of them at two heights: one of the lines is wrong"
        verdict = "query" if len(over) else "meets"
        made.append(VerdictLine("lines", Vial(verdict), "", said))
    return made


def _humps_line(topo: "Topo") -> VerdictLine:
    found = topo.humps
    judged = np.flatnonzero(np.isfinite(found.test))
    if not len(judged):
        said = "no initialisation has enough ground of others around it"
        return VerdictLine("humps", Vial("unchecked"), "", said)
    over = int((found.test[judged] > 1).sum())
    largest = float(found.test[judged].max())
    said = f"{over} of {len(judged)} initialisations off the ground of their neighbours"
    return VerdictLine(
        "humps",
        Vial(worst({found.verdict[i] for i in judged}), largest),
        number(largest, "test"),
        said,
    )


def _shapes_line(topo: "Topo") -> VerdictLine:
    found = topo.shapes
    judged = np.flatnonzero(np.isfinite(found.test))
    if not len(judged):
        return VerdictLine(
            "shapes", Vial("unchecked"), "", f"none of {len(found.test)} can be judged"
        )
    largest = float(found.test[judged].max())
    over = int((found.test[judged] > 1).sum())
    return VerdictLine(
        "shapes",
        Vial(worst({found.verdict[i] for i in judged}), largest),
        number(largest, "test"),
        f"{over} of {len(judged)} taped walls, right angles, parallels over the limit",
    )


def _constructions_line(topo: "Topo") -> VerdictLine:
    trouble = [words for words in topo.constructed.trouble if words]
    count = len(topo.day.constructions)
    if trouble:
        said = f"{len(trouble)} of {count} points cannot be made"
        return VerdictLine("constructions", Vial("query"), "", said)
    return VerdictLine("constructions", Vial("meets"), "", f"{count} points made")
