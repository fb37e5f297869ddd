"""Both faces of a pointing: mixed up, too far apart; and the end of a round."""

from collections import defaultdict
from dataclasses import replace

import numpy as np

from ....networks.covariances import Floats, Ints
from ....networks.distinct import distinct
from ....networks.findings import Finding
from ..assemble import Survey
from ..assemble.faces import Faces, reduced_faces, wrapped
from ..assemble.instruments import instrument_rows, sd_of
from ..assemble.sights import Pointings

ARCSEC = np.pi / 180 / 3600
SPREAD = 3 * np.sqrt(2)
"""Times the standard deviation: the difference of two collimations, each from the
mean of two faces, at three sigma (common practice)."""
ALONE = 60 * ARCSEC
"""A collimation that no other pointing confirms may be this large (common practice)."""
SHOWN = 12
NEAR = 0.5 * np.pi / 180
"""Of a direction to the same target, reversed."""


def check_faces(survey: Survey) -> list[Finding]:
    """Return what the two faces, and re-readings, say against each other."""
    pointings = survey.pointings
    if pointings is None:
        return []
    table = pointings.table
    faces = reduced_faces(
        table, pointings.set_up_row, pointings.to.node, pointings.usable
    )
    rows, _ = instrument_rows(table, pointings.set_up_row, survey.tables)
    instruments = survey.tables.get("instruments")
    length = np.nan_to_num(table.number("slope_distance"))
    sd = {
        kind: sd_of(kind, table, instruments, rows, length)
        for kind in ("direction", "zenith angle", "slope distance")
    }
    found = _by_zenith(pointings, faces) + _by_direction(pointings, faces)
    mixed = {finding.row for finding in found}
    for kind, column in (("direction", "direction"), ("zenith angle", "zenith")):
        found += _spread(pointings, faces, column, sd[kind], mixed)
    found += _distances(pointings, faces, sd["slope distance"])
    return found + _meaned(pointings, faces) + _drift(pointings, faces, sd)


def _by_zenith(pointings: Pointings, faces: Faces) -> list[Finding]:
    """Return the queries of rows whose vertical circle shows another face."""
    table = pointings.table
    # A sight near the zenith is more likely one counted from the horizon.
    zenith = table.has("zenith") & pointings.usable & (faces.zenith > np.pi / 4)
    other = zenith & (faces.booked > 0) & (faces.read != faces.booked)
    silent = zenith & (faces.booked == 0) & (faces.read == 2)
    return [
        table.finding(
            "face-mixed",
            "query",
            i,
            ("face", "zenith"),
            against="in face 1 the zenith angle is below 180°, in face 2 above",
            likely=f"face {faces.read[i]}: the vertical circle leaves no other "
            "reading, and the row is reduced so",
            mend=f"brasscap decide value pointing '{table.word('pointing')[i]}' "
            f"'face={faces.read[i]}', or accept",
        )
        for i in np.flatnonzero(other | silent).tolist()
    ]


def _by_direction(pointings: Pointings, faces: Faces) -> list[Finding]:
    """Return the queries of directions half a circle from others to one target."""
    table = pointings.table
    groups: dict[tuple[object, ...], list[int]] = defaultdict(list)
    rounds = table.word("round")
    known = pointings.usable & np.isfinite(faces.direction)
    for i in np.flatnonzero(known).tolist():
        target = int(pointings.to.node[i])
        groups[int(pointings.set_up_row[i]), rounds[i], target].append(i)
    found = []
    for first, *others in groups.values():
        for i in others:
            gap = wrapped(faces.direction[i : i + 1] - faces.direction[first])[0]
            if abs(gap) > np.pi - NEAR:
                found.append(_half_circle(pointings, first, i, gap))
    return found


def _half_circle(pointings: Pointings, first: int, i: int, gap: float) -> Finding:
    table = pointings.table
    off = (np.pi - abs(gap)) / ARCSEC
    return table.finding(
        "face-mixed",
        "query",
        i,
        ("face", "direction"),
        against=f"pointing {table.word('pointing')[first]} to the same target in the "
        f"same round: reduced to one face, they are 180° less {off:.0f}″ apart",
        likely="one of the two is in the other face: a chance meeting within half a "
        "degree of 180° is 1 in 360",
        mend=f"brasscap decide value pointing '{table.word('pointing')[i]}' 'face=2' "
        "(or 1), or accept",
    )


def _pairs(pointings: Pointings, values: Floats, faces: Faces) -> tuple[Ints, Ints]:
    first = np.flatnonzero(faces.partner >= 0)
    second = faces.partner[first]
    both = np.isfinite(values[first]) & np.isfinite(values[second])
    return first[both], second[both]


def _spread(
    pointings: Pointings, faces: Faces, column: str, sd: Floats, mixed: set[int]
) -> list[Finding]:
    """Return the queries of pairs whose collimation or index error stands apart."""
    table = pointings.table
    values = faces.direction if column == "direction" else faces.zenith
    first, second = _pairs(pointings, values, faces)
    clear = ~np.isin(table.row[first], list(mixed))
    clear &= ~np.isin(table.row[second], list(mixed))
    first, second = first[clear], second[clear]
    error = wrapped(values[second] - values[first]) / 2
    name = "collimation" if column == "direction" else "index error"
    found = []
    for members in _by_set_up(pointings.set_up_row[first]):
        for k in members.tolist():
            others = error[members[members != k]]
            i, own = int(first[k]), float(error[k])
            text = _apart(name, own, others, float(sd[i]))
            if text:
                found.append(_disagree(pointings, i, int(second[k]), column, text))
    return found


def _by_set_up(rows: Ints) -> list[Ints]:
    """Return the places in ``rows`` of each of its values."""
    order = np.argsort(rows, kind="stable")
    cuts = np.flatnonzero(np.diff(rows[order])) + 1
    return [np.asarray(part) for part in np.split(order, cuts) if len(part)]


def _apart(name: str, own: float, others: Floats, sd: float) -> str:
    """Return how far an error is from those of the other pairs; empty if near."""
    usual = float(np.median(others)) if len(others) else 0.0
    limit = SPREAD * sd if len(others) else max(SPREAD * sd, ALONE)
    if not abs(own - usual) > limit:
        return ""
    against = "no other pair to compare"
    if len(others):
        against = f"of the other pairs of the set-up {usual / ARCSEC:+.1f}″"
    return (
        f"{name} {own / ARCSEC:+.1f}″; {against}; limit {limit / ARCSEC:.1f}″ "
        "(3 × √2 × sd)"
    )


def _disagree(
    pointings: Pointings, i: int, second: int, column: str, against: str
) -> Finding:
    """Return the query of two faces, with both rows as booked."""
    table = pointings.table
    made = table.finding(
        "faces-disagree",
        "query",
        i,
        (column, "face"),
        against=against,
        mend="compare both with the field book; leave one out:  brasscap decide "
        f"leave-out pointing '{table.word('pointing')[second]}', or accept",
    )
    other = table.finding("", "", second, ("pointing", column, "face")).booked
    return replace(made, booked=f"{made.booked}   and row {table.row[second]}: {other}")


def _distances(pointings: Pointings, faces: Faces, sd: Floats) -> list[Finding]:
    table = pointings.table
    values = table.number("slope_distance")
    first, second = _pairs(pointings, values, faces)
    found = []
    for i, k in zip(first.tolist(), second.tolist(), strict=True):
        gap, limit = values[k] - values[i], SPREAD * sd[i]
        if abs(gap) > limit:
            text = f"{gap * 1000:+.1f} mm apart; limit {limit * 1000:.1f} mm"
            text += " (3 × √2 × sd)"
            found.append(_disagree(pointings, i, k, "slope_distance", text))
    return found


def _meaned(pointings: Pointings, faces: Faces) -> list[Finding]:
    """Return one note: how many pairs were meaned, and what they show."""
    table = pointings.table
    count = int((faces.partner >= 0).sum())
    if not count:
        return []
    shown = []
    rows = distinct(pointings.set_up_row[faces.partner >= 0])
    for row in rows[:SHOWN].tolist():
        parts = []
        for name, values in (
            ("collimation", faces.direction),
            ("index error", faces.zenith),
        ):
            first, second = _pairs(pointings, values, faces)
            own = pointings.set_up_row[first] == row
            if own.any():
                error = wrapped(values[second[own]] - values[first[own]]) / 2
                parts.append(f"{name} {np.mean(error) / ARCSEC:+.1f}″")
        at = int(np.flatnonzero(pointings.set_up_row == row)[0])
        shown.append(f"{table.word('set_up')[at]} {', '.join(parts)}")
    return [
        Finding(
            "faces-meaned",
            "note",
            f"{count} pointings in two faces",
            file=str(table.file[0]),
            column="face",
            booked="; ".join(shown) + (" …" if len(rows) > SHOWN else ""),
            against="the mean of both faces is one observation, worth what is stated "
            "for the mean of two faces",
        )
    ]


def _drift(pointings: Pointings, faces: Faces, sd: dict[str, Floats]) -> list[Finding]:
    """Return what re-readings of a pointing say: a check, no observation."""
    table = pointings.table
    number = {str(name): i for i, name in enumerate(table.word("pointing"))}
    found = []
    for i in np.flatnonzero(table.has("re_reading") & pointings.usable).tolist():
        first = number.get(str(table.word("re_reading")[i]), -1)
        if first < 0:
            found.append(_unknown_first(pointings, i, list(number)))
            continue
        gap = float(wrapped(faces.direction[i : i + 1] - faces.direction[first])[0])
        limit = SPREAD * float(sd["direction"][first])
        if abs(gap) > limit:
            found.append(
                table.finding(
                    "round-drifted",
                    "query",
                    i,
                    ("direction", "re_reading"),
                    against=f"{gap / ARCSEC:+.1f}″ from the first reading; limit "
                    f"{limit / ARCSEC:.1f}″ (3 × √2 × sd)",
                    likely="the tripod turned, or the instrument was knocked",
                    mend="observe the round again, leave it out, or accept",
                )
            )
    return found


def _unknown_first(pointings: Pointings, i: int, known: list[str]) -> Finding:
    from ..spelling import nearest

    table = pointings.table
    return table.finding(
        "unknown-name",
        "fault",
        i,
        ("re_reading",),
        against="the name of the pointing that this one repeats",
        likely=nearest(str(table.word("re_reading")[i]), known),
        mend="give the name in the column pointing",
    )
