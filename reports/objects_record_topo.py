"""What a record keeps of a topographic day: places, precision, verdicts, descent."""

from typing import TYPE_CHECKING

import numpy as np

from .content_topo import verdict_lines, verdict_of
from .content_topo_detail import over_crossings, source_name
from .content_topo_initialisations import group_verdicts
from .objects_figures import Object, rounded, vector

if TYPE_CHECKING:
    from ..adjust.follow.differences import Differences
    from ..adjust.follow.topo import Topo

_M, _RATIO = 6, 4
"""Decimals of metres and of ratios, as in the rest of the record."""


def record_topo(topo: "Topo") -> Object:
    """Return shots, polar shots and made points as a record keeps them.

    Parameters
    ----------
    topo : Topo

    Returns
    -------
    dict
        The value of ``topo`` in `brasscap/record-result/1`; lengths in metres, to
        1e-6 m, sds stated and not multiplied by the variance factor.
    """
    return {
        "verdict": verdict_of(topo),
        "points": points_objects(topo),
        "lines": [
            {"name": line.what, "said": line.evidence, "verdict": line.vial.verdict}
            for line in verdict_lines(topo)
        ],
        "judged": judged_objects(topo),
        "spreads": [
            {
                "kind": one.part,
                "name": one.sky,
                "multiplier": rounded(one.multiplier, _RATIO),
                "verdict": one.verdict,
            }
            for one in topo.spreads
        ],
    }


def points_objects(topo: "Topo") -> list[Object]:
    """Return every point: coordinates, sds, and what it hangs on, in words."""
    points, count = topo.constructed.points, len(topo.day.names)
    grid = points.coordinates
    sd = np.sqrt(np.diagonal(points.covariance(np.arange(count)), axis1=1, axis2=2))
    kinds, hung, records = _kinds(topo), _hung(topo), topo.hung.descent.record
    codes, lines = _codes(topo), topo.line
    made = []
    for i, name in enumerate(topo.day.names):
        east, north, height = vector(grid[i], _M)
        sds = vector(sd[i], _M)
        made.append(
            {
                "kind": kinds[i],
                "name": name,
                "code": codes[i],
                "line": lines.word(i),
                "north_m": north,
                "east_m": east,
                "height_m": height,
                "sd_north_m": sds[1],
                "sd_east_m": sds[0],
                "sd_height_m": sds[2],
                "hangs_on": hung[i],
                "booked_issue": int(records[i]) if i < len(records) else 0,
            }
        )
    return made


def _kinds(topo: "Topo") -> list[str]:
    day = topo.day
    polar = day.roots - len(day.shots)
    return (
        ["shot"] * len(day.shots)
        + ["polar shot"] * polar
        + list(day.constructions.kind)
    )


def _codes(topo: "Topo") -> list[str]:
    own, made = topo.detail.code, topo.day.constructions
    return [own.word(i) for i in range(topo.day.roots)] + [
        made.code.word(i) for i in range(len(made))
    ]


def _hung(topo: "Topo") -> list[str]:
    """Return the line of descent of each point, a step after the other."""
    shots, found, day = topo.day.shots, topo.hung.descent, topo.day
    network = topo.hung.adjustment.network
    marks = network.marks.name
    ties = [
        f"real-time network {name}, check shots at "
        + ", ".join(marks[m] for m in found.service_marks[k])
        for k, name in enumerate(shots.service.names)
    ]
    said = []
    for i, broken in enumerate(found.broken):
        if broken:
            said.append(broken)
        elif found.mark[i] >= 0:
            said.append(f"base {shots.base_booked[i]}, mark {marks[found.mark[i]]}")
        else:
            said.append(ties[shots.service.number[i]])
    if day.polar is not None:
        under = network.mark_of(day.polar.at)
        said += [
            f"instrument {network.node_name(node)}, mark {marks[mark]}"
            for node, mark in zip(day.polar.at.tolist(), under.tolist(), strict=True)
        ]
    names = day.names
    for parents in day.constructions.parents.tolist():
        said.append("points " + ", ".join(names[p] for p in parents if p >= 0))
    return said


def judged_objects(topo: "Topo") -> list[Object]:
    """Return every verdict of `topo check` on something that has a name."""
    shots, marks = topo.hung.shots.name, topo.hung.adjustment.network.marks.name
    made: list[Object] = [
        {"kind": "initialisation", "name": name, "test": None, "verdict": verdict}
        for name, verdict in zip(topo.group.names, group_verdicts(topo), strict=True)
    ]
    made += _differences("repeat", topo.repeats.differences, shots, shots)
    made += _differences("check shot", topo.check_shots.differences, shots, marks)
    if topo.polar is not None:
        polar = topo.polar.shots.name
        made += _differences("polar check shot", topo.polar_checks, polar, marks)
    made += [
        {
            "kind": "class of sky",
            "name": one.name,
            "test": rounded(one.worst, _RATIO),
            "verdict": one.verdict,
        }
        for one in topo.check_shots.classes
    ]
    made += [
        {"kind": "leaning pole", "name": shots[i], "test": None, "verdict": verdict}
        for i, verdict in enumerate(topo.tilt)
        if verdict
    ]
    if topo.field_tests is not None:
        made += [
            {
                "kind": "field test",
                "name": f"{one.name}, {part.part}",
                "test": rounded(part.test, _RATIO),
                "verdict": part.verdict,
            }
            for one in topo.field_tests.tests
            for part in one.parts
        ]
    return made + _detail(topo)


def _differences(
    kind: str, found: "Differences", first: tuple[str, ...], second: tuple[str, ...]
) -> list[Object]:
    return [
        {
            "kind": kind,
            "name": f"{first[found.first[i]]} – {second[found.second[i]]}",
            "test": rounded(float(found.test[i]), _RATIO),
            "verdict": found.verdict[i],
        }
        for i in range(len(found))
    ]


def _detail(topo: "Topo") -> list[Object]:
    """Return the verdicts on shapes, humps, crossings and shots at one place."""
    checks, names = topo.day.checks, topo.constructed.points.name
    made: list[Object] = [
        {
            "kind": checks.kind[i],
            "name": name,
            "test": rounded(float(topo.shapes.test[i]), _RATIO),
            "verdict": topo.shapes.verdict[i],
        }
        for i, name in enumerate(checks.name)
    ]
    made += [
        {
            "kind": "hump",
            "name": source_name(topo, int(source)),
            "test": rounded(float(topo.humps.test[k]), _RATIO),
            "verdict": topo.humps.verdict[k],
        }
        for k, source in enumerate(topo.humps.source)
    ]
    crossed = topo.crossings
    made += [
        {
            "kind": "crossing",
            "name": f"{names[crossed.first[i]]} – {names[crossed.second[i]]}",
            "test": None,
            "verdict": "query",
        }
        for i in over_crossings(topo).tolist()
    ]
    return made + [
        {
            "kind": "one place",
            "name": f"{names[i]} – {names[j]}",
            "test": None,
            "verdict": "query",
        }
        for i, j in topo.one_place.tolist()
    ]
