"""What `topo check` says: are the shots good, and what says so."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from .content_topo_detail import (
    constructions_table,
    crossings_table,
    humps_table,
    places_table,
    shapes_table,
    source_name,
)
from .content_topo_detail_lines import detail_lines
from .content_topo_differences import checks_table, classes_table, repeats_table
from .content_topo_field import field_test_lines, field_test_step, field_test_tables
from .content_topo_initialisations import initialisations_table
from .content_topo_tables import spreads_table, tilts_table, worth_table
from .document import Document, Found, Paragraph, Part, Section, VerdictLine, Vial
from .heading import Heading
from .judged import worst
from .rounding import Units, number, percent
from .words import test_basis

if TYPE_CHECKING:
    from ..adjust.follow.differences import Differences
    from ..adjust.follow.topo import Topo
    from ..networks import Finding


def topo_document(topo: "Topo", heading: Heading) -> Document:
    """Return what `topo check` prints: verdict, evidence, numbers, next step.

    Parameters
    ----------
    topo : Topo
    heading : Heading
        Its findings are those of the shots.
    """
    units = heading.units
    lines = verdict_lines(topo)
    parts: list[Part] = [*lines, Paragraph(basis_words(topo, units), "soft")]
    parts += [table for table in _tables(topo, units) if table is not None]
    parts += [Found(f) for f in heading.findings if f.verdict != "note"]
    parts.append(Paragraph(f"next: {_next(topo, heading.findings)}", "next"))
    title = f"Topo, {topo.day.roots} shots"
    return Document(
        f"{title} — {heading.title}" if heading.title else title,
        (Section("", tuple(parts)),),
    )


def _tables(topo: "Topo", units: Units) -> list[Part | None]:
    return [
        initialisations_table(topo),
        repeats_table(topo, units),
        classes_table(topo, units),
        checks_table(topo, units),
        spreads_table(topo),
        tilts_table(topo, units),
        humps_table(topo, units),
        shapes_table(topo, units),
        crossings_table(topo, units),
        places_table(topo, units),
        constructions_table(topo, units),
        *field_test_tables(topo, units),
        worth_table(topo, units),
    ]


def verdict_of(topo: "Topo") -> str:
    """Return the worst verdict; what nothing checks is no worse than a query."""
    return worst({line.vial.verdict for line in verdict_lines(topo)})


def verdict_lines(topo: "Topo") -> list[VerdictLine]:
    """Return the verdicts on the shots, each with what it rests on."""
    made = [
        _initialisations_line(topo),
        _differences_line(
            "repeats", topo.repeats.differences, "no shot was taken again"
        ),
        _differences_line(
            "check shots",
            topo.check_shots.differences,
            "no shot was taken on a mark",
        ),
        _hanging_line(topo),
    ]
    if (topo.hung.shots.tilt > 0).any():
        made.append(_tilt_line(topo))
    made += _limits_line(topo)
    if len(topo.polar_checks):
        made.append(_differences_line("polar check shots", topo.polar_checks, "none"))
    return made + detail_lines(topo) + field_test_lines(topo)


def _initialisations_line(topo: "Topo") -> VerdictLine:
    count = len(topo.group.names)
    if not count:
        return VerdictLine(
            "initialisations", Vial("unchecked"), "", "none is booked for any shot"
        )
    alone = int((~topo.checked).sum())
    rows = int((~np.append(topo.checked, True))[topo.group.number].sum())
    said = f"{count - alone} of {count} checked from outside by a repeat or a mark"
    if alone:
        said += f"; {rows} shots hang on the other {alone}"
    lone = int((topo.lines.initialisations == 1).sum())
    if lone:
        said += (
            f"; {lone} of {len(topo.lines.name)} lines hang on one initialisation "
            "each: such a line is one observation"
        )
    return VerdictLine(
        "initialisations", Vial("unchecked" if alone else "meets"), "", said
    )


def _differences_line(what: str, found: "Differences", none: str) -> VerdictLine:
    judged = np.flatnonzero(np.isfinite(found.test))
    if not len(judged):
        said = none if not len(found) else f"none of {len(found)} can be judged"
        return VerdictLine(what, Vial("unchecked"), "", said)
    largest = float(found.test[judged].max())
    over = int((found.test[judged] > 1).sum())
    verdict = worst({found.verdict[i] for i in judged})
    said = f"{over} of {len(judged)} over the limit"
    if len(judged) < len(found):
        said += f", {len(found) - len(judged)} cannot be judged"
    return VerdictLine(what, Vial(verdict, largest), number(largest, "test"), said)


def _hanging_line(topo: "Topo") -> VerdictLine:
    whole = topo.hung.descent.whole
    if whole.all():
        return VerdictLine(
            "descent", Vial("meets"), "", "every shot hangs on marks of the network"
        )
    count = int((~whole).sum())
    return VerdictLine(
        "descent", Vial("query"), "", f"{count} of {len(whole)} shots hang on nothing"
    )


def _limits_line(topo: "Topo") -> list[VerdictLine]:
    """Return whether the shots are worth what [topo] asks for; nothing without it."""
    from ..adjust.follow.topo import beyond_limits

    beyond = beyond_limits(topo)
    if beyond is None or not len(beyond):
        return []
    count = int(beyond.sum())
    options, limits = topo.hung.options, topo.hung.topo
    words = [
        f"{part} {1000 * limit:.0f} mm"
        for part, limit in (
            ("circle", limits.limit_plan),
            ("height ±", limits.limit_height),
        )
        if limit is not None
    ]
    said = (
        f"{count} of {len(beyond)} shots beyond {', '.join(words)} at "
        f"{percent(options.confidence)}, or not to be judged"
    )
    return [VerdictLine("limits", Vial("fails" if count else "meets"), "", said)]


def _tilt_line(topo: "Topo") -> VerdictLine:
    states = list(topo.tilt)
    limits = topo.hung.topo
    query, limit = (
        f"{np.degrees(v):.0f}°" for v in (limits.tilt_query, limits.tilt_limit)
    )
    said = f"{sum(s != '' for s in states)} shots with a leaning pole"
    for verdict, words in (
        ("query", f"above {query}"),
        ("unchecked", "cannot be judged: how well the lean is known is not stated"),
        ("fails", f"refused: above {limit}"),
    ):
        count = states.count(verdict)
        if count:
            said += f", {count} {words}"
    verdict = worst({s for s in states if s})
    return VerdictLine("leaning pole", Vial(verdict), "", said)


def basis_words(topo: "Topo", units: Units) -> str:
    """Return what the figures rest on: confidence, tests, the sds that were taken."""
    options, taken = topo.hung.options, topo.hung.topo
    said = (
        f"circles and heights {percent(options.confidence)}, from the stated "
        f"covariances; tests {test_basis(options, None)}, 1 = the limit"
    )
    stated = {
        "vial": taken.sd_vial,
        "bend of the pole": taken.sd_sag,
        "pole length": taken.sd_length,
    }
    words = [
        f"{name} {units.said_angle(v) if name == 'vial' else units.said(v)}"
        for name, v in stated.items()
        if v
    ]
    return said + (f"; sd of [topo]: {', '.join(words)}" if words else "")


def _next(topo: "Topo", findings: "Sequence[Finding]") -> str:
    open_ones = [f for f in findings if f.verdict == "query" and f.is_open]
    if open_ones:
        return f"answer query {open_ones[0].query}: {open_ones[0].mend}"
    over = np.flatnonzero(topo.humps.test > 1)
    if len(over):
        first = int(over[np.argmax(topo.humps.test[over])])
        return (
            f"take shots of {source_name(topo, int(topo.humps.source[first]))} again "
            "from another initialisation: its ground lies off its neighbours'"
        )
    if not topo.checked.all():
        group = topo.group.names[int(np.flatnonzero(~topo.checked)[0])]
        return (
            f"take one shot of initialisation {group} again from another one, at "
            "least 20 minutes apart, or a known mark from it"
        )
    return field_test_step(topo) or "brasscap topo attach"
