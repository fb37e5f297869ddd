"""Circle readings in the wrong unit or from the wrong zero; rounds of one pointing."""

from collections import defaultdict

import numpy as np

from ....networks.findings import Finding
from ..assemble import Survey
from ..assemble.faces import Faces, reduced_faces
from ..assemble.sights import Pointings, orientation_name
from ..schema import split_header
from ..table import Table

DEGREE = np.pi / 180
STEEP = 45 * DEGREE
"""A sight steeper than this is rare on a site (common practice)."""
FAR_M = 10.0
_CIRCLES = ("direction", "zenith", "angle", "azimuth")
_FEW = 6
"""Readings that must all look packed: by chance 0.36 each, 2 in 1000 together."""


def check_circles(survey: Survey) -> list[Finding]:
    """Return the queries about units and zeros of circle readings, and short rounds."""
    pointings = survey.pointings
    if pointings is None:
        return []
    table = pointings.table
    faces = reduced_faces(
        table, pointings.set_up_row, pointings.to.node, pointings.usable
    )
    found = _gon(pointings, faces) + _packed(table)
    found += _from_horizon(pointings, faces) + _one_pointing(pointings)
    return found


def _gon(pointings: Pointings, faces: Faces) -> list[Finding]:
    """Return one query where circles close on 400 instead of 360."""
    table = pointings.table
    evidence = (
        _faces_on_400(pointings, faces)
        or _reciprocal(pointings, faces, 200.0)
        or _horizon_on_400(pointings)
    )
    if not evidence:
        return []
    i, columns, text = evidence
    if _unit(table, columns[0], i) == "gon":
        return []
    return [
        table.finding(
            "angles-look-like-gon",
            "query",
            i,
            columns,
            against=text,
            likely="gon: a full circle is 400, a level sight has zenith angle 100",
            mend=f"if so, write the unit gon into the header ({columns[0]}_gon) and "
            "import the table again; or accept",
        )
    ]


_Evidence = tuple[int, tuple[str, ...], str]


def _faces_on_400(pointings: Pointings, faces: Faces) -> _Evidence | None:
    table = pointings.table
    first = np.flatnonzero(faces.partner >= 0)
    zenith, direction = table.number("zenith"), table.number("direction")
    for i in first.tolist():
        other = faces.partner[i]
        both = (zenith[i] + zenith[other]) / DEGREE
        if abs(both - 400) < 0.5:
            text = f"zenith angles of the two faces add up to {both:.4f}°, not 360°"
            return i, ("zenith", "direction"), text
        apart = abs(direction[other] - direction[i]) / DEGREE
        if abs(apart - 200) < 0.5:
            text = f"directions of the two faces are {apart:.4f}° apart, not 180°"
            return i, ("direction", "zenith"), text
    return None


def _reciprocal(pointings: Pointings, faces: Faces, full: float) -> _Evidence | None:
    """Return the first sight there and back whose zenith angles add up to ``full``.

    They add up to 180° and half a minute for a kilometre; heights of instrument and
    target do not matter within a degree over 50 m.
    """
    table = pointings.table
    seen: dict[tuple[int, int], int] = {}
    for i in np.flatnonzero(pointings.usable & np.isfinite(faces.zenith)).tolist():
        pair = int(pointings.at.mark[i]), int(pointings.to.mark[i])
        other = seen.get((pair[1], pair[0]))
        if other is not None:
            both = (faces.zenith[i] + faces.zenith[other]) / DEGREE
            if abs(both - full) < 1.0:
                name = table.word("pointing")[other]
                text = f"with pointing {name} back, the zenith angles add up to "
                return i, ("zenith",), f"{text}{both:.3f}°, not 180°"
        seen.setdefault(pair, i)
    return None


def _horizon_on_400(pointings: Pointings) -> _Evidence | None:
    """Return a chain of angles round a set-up that closes on 400."""
    table = pointings.table
    angle = table.number("angle")
    rows = np.flatnonzero(pointings.usable & np.isfinite(angle))
    chains: dict[int, dict[int, int]] = defaultdict(dict)
    for i in rows.tolist():
        chains[int(pointings.set_up_row[i])].setdefault(int(pointings.back.mark[i]), i)
    for chain in chains.values():
        for start in chain:
            here, total, members = start, 0.0, []
            while here in chain and chain[here] not in members:
                i = chain[here]
                members.append(i)
                total += angle[i] / DEGREE
                here = int(pointings.to.mark[i])
            if here == start and abs(total - 400) < 0.2 * len(members):
                text = f"{len(members)} angles round the horizon add up to {total:.3f}"
                return members[0], ("angle",), f"{text}°, not 360°"
    return None


def _unit(table: Table, column: str, i: int) -> str:
    own = table.file_headers.get(str(table.file[i]), table.header)
    return split_header(own.get(column, ""))[1]


def _packed(table: Table) -> list[Finding]:
    """Return a query for each column in degrees that looks like packed minutes."""
    found = []
    for column in _CIRCLES:
        rows = np.flatnonzero(table.has(column))
        if len(rows) < _FEW or _unit(table, column, int(rows[0])) != "deg":
            continue
        decimals = [
            str(table.booked[column][i]).partition(".")[2] for i in rows.tolist()
        ]
        packed = [
            len(d) >= 4 and d.isdigit() and int(d[:2]) < 60 and int(d[2:4]) < 60
            for d in decimals
        ]
        if all(packed) and len(set(decimals)) > _FEW // 2:
            chance = 0.36 ** len(rows)
            found.append(
                table.finding(
                    "angles-look-like-packed-dms",
                    "query",
                    int(rows[0]),
                    (column,),
                    against=f"in all {len(rows)} readings the first and the second "
                    f"pair of decimals are below 60; by chance {chance:.1g}",
                    likely="degrees, minutes and seconds in one number",
                    mend=f"part the digits in a column {column}_dms: 123 45 06.7; or "
                    "accept",
                )
            )
    return found


def _from_horizon(pointings: Pointings, faces: Faces) -> list[Finding]:
    """Return a query for each set-up whose zenith angles look counted from level."""
    table = pointings.table
    distance = np.fmax(
        table.number("slope_distance"), table.number("horizontal_distance")
    )
    far = np.isnan(distance) | (distance > FAR_M)
    steep = pointings.usable & far & (faces.zenith < STEEP)
    evidence = _reciprocal(pointings, faces, 0.0) if steep.any() else None
    found = []
    for row in np.unique(pointings.set_up_row[steep]).tolist():
        rows = np.flatnonzero(steep & (pointings.set_up_row == row))
        own = pointings.usable & (pointings.set_up_row == row)
        count = int((own & np.isfinite(faces.zenith)).sum())
        i = int(rows[0])
        level = 90 - faces.zenith[i] / DEGREE
        likely = f"counted from the horizon: zenith angle {level:.4f}°"
        if table.number("zenith")[i] > np.pi:
            likely = f"counted from the horizon: zenith angle {180 - level:.4f}°"
        text = f"{len(rows)} of {count} sights of set-up {table.word('set_up')[i]} "
        text += f"over {FAR_M:.0f} m would be steeper than 45°"
        found.append(
            table.finding(
                "zenith-from-horizon",
                "query",
                i,
                ("zenith", "slope_distance"),
                against=text + (f"; {evidence[2]}" if evidence else ""),
                likely=likely if 2 * len(rows) > count else "",
                mend=f"brasscap decide value pointing '{table.word('pointing')[i]}' "
                "'zenith_dms=…' (90° less the angle), or accept",
            )
        )
    return found


def _one_pointing(pointings: Pointings) -> list[Finding]:
    """Return a query for each round with a direction to one target only."""
    table = pointings.table
    targets: dict[tuple[str, str], dict[int, int]] = defaultdict(dict)
    booked = pointings.usable & table.has("direction") & ~table.has("re_reading")
    for i in np.flatnonzero(booked).tolist():
        key = str(table.word("set_up")[i]), str(table.word("round")[i])
        targets[key].setdefault(int(pointings.to.mark[i]), i)
    return [
        table.finding(
            "orientation-one-pointing",
            "query",
            next(iter(seen.values())),
            ("set_up", "round", "direction"),
            against=f"{orientation_name(*key)} has a direction to one mark only: it "
            "serves to find the orientation and fixes nothing else",
            mend="observe a second target in the round, or accept",
        )
        for key, seen in targets.items()
        if len(seen) == 1
    ]
