"""Shots as plain objects for JSON."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from .content_topo import verdict_of
from .content_topo_initialisations import group_verdicts
from .objects import findings_objects
from .objects_figures import POSITION, RATIO, Object, rounded, significant, vector
from .objects_topo_detail import detail_object, place_object
from .objects_topo_field import field_tests_objects

if TYPE_CHECKING:
    from ..adjust.follow import Hung
    from ..adjust.follow.descent import Instrument
    from ..adjust.follow.differences import Differences
    from ..adjust.follow.topo import Topo
    from ..networks import Finding
    from .content_show_shot import Step

_MM = 4


def topo_object(topo: "Topo", findings: "Sequence[Finding]" = ()) -> Object:
    """Return the shots, judged, as the object of `brasscap/topo/1`.

    Parameters
    ----------
    topo : Topo
    findings : sequence of Finding
    """
    return {
        "schema": "brasscap/topo/1",
        "units": {"length": "m"},
        "verdict": verdict_of(topo),
        "shots": _shots(topo),
        "initialisations": _initialisations(topo),
        "lines": [
            {"line": name, "shots_count": int(n), "initialisations_count": int(m)}
            for name, n, m in zip(
                topo.lines.name,
                topo.lines.shots,
                topo.lines.initialisations,
                strict=True,
            )
        ],
        "repeats": _repeats(topo),
        "check_shots": _differences(
            topo.check_shots.differences,
            topo.hung.shots.name,
            topo.hung.adjustment.network.marks.name,
            "mark",
        ),
        "sky_classes": _classes(topo),
        "spreads": _spreads(topo),
        **detail_object(topo),
        "field_tests": field_tests_objects(topo.field_tests, topo.day.field_sets),
        "findings": findings_objects(findings),
    }


def _shots(topo: "Topo") -> list[Object]:
    shots, budget = topo.hung.shots, topo.hung.budget
    total, plan, height = budget.total, budget.sd_plan, budget.sd_height
    descent = topo.hung.descent
    return [
        {
            "shot": name,
            "code": shots.code.word(i),
            "line": shots.line.word(i),
            "initialisation": topo.group.word(i),
            "east_m": rounded(shots.coordinates[i, 0], POSITION),
            "north_m": rounded(shots.coordinates[i, 1], POSITION),
            "height_m": rounded(shots.coordinates[i, 2], POSITION),
            "sd_plan_mm": rounded(1000 * plan[i], _MM),
            "sd_height_mm": rounded(1000 * height[i], _MM),
            "circle_mm": rounded(1000 * topo.circle[i], _MM),
            "covariance_grid_m2": [[significant(x) for x in r] for r in total[i]],
            "tilt_verdict": topo.tilt[i],
            "broken": descent.broken[i],
        }
        for i, name in enumerate(shots.name)
    ]


def _initialisations(topo: "Topo") -> list[Object]:
    count = np.bincount(topo.group.number + 1, minlength=len(topo.group.names) + 1)[1:]
    return [
        {
            "initialisation": name,
            "shots_count": int(n),
            "checked": bool(told),
            "verdict": verdict,
        }
        for name, n, told, verdict in zip(
            topo.group.names, count, topo.checked, group_verdicts(topo), strict=True
        )
    ]


def _repeats(topo: "Topo") -> list[Object]:
    names = topo.hung.shots.name
    found = topo.repeats
    made = _differences(found.differences, names, names, "repeats")
    for i, one in enumerate(made):
        one["independent"] = bool(found.independent[i])
        one["opposite_leans"] = bool(found.opposite[i])
        one["apart_min"] = rounded(float(found.minutes[i]), 2)
    return made


def _differences(
    found: "Differences", first: Sequence[str], second: Sequence[str], what: str
) -> list[Object]:
    return [
        {
            "shot": first[found.first[i]],
            what: second[found.second[i]],
            "difference_enu_mm": vector(1000 * found.value[i], _MM),
            "limit_enu_mm": vector(1000 * found.limit[i], _MM),
            "test": rounded(float(found.test[i]), RATIO),
            "probability": significant(float(found.probability[i])),
            "verdict": found.verdict[i],
        }
        for i in range(len(found))
    ]


def _classes(topo: "Topo") -> list[Object]:
    return [
        {
            "sky": one.name,
            "shots_count": one.shots,
            "check_shots_count": one.checks,
            "mean_enu_mm": vector(1000 * one.mean, _MM),
            "rms_enu_mm": vector(1000 * one.rms, _MM),
            "largest_test": rounded(one.worst, RATIO),
            "verdict": one.verdict,
        }
        for one in topo.check_shots.classes
    ]


def _spreads(topo: "Topo") -> list[Object]:
    return [
        {
            "sky": one.sky,
            "part": one.part,
            "multiplier": rounded(one.multiplier, RATIO),
            "lower": rounded(one.lower, RATIO),
            "upper": rounded(one.upper, RATIO),
            "degrees_of_freedom": rounded(one.freedom, 3),
            "differences_count": one.pairs,
            "left_out_count": one.left_out,
            "verdict": one.verdict,
        }
        for one in topo.spreads
    ]


def attach_object(
    hung: "Hung",
    findings: "Sequence[Finding]" = (),
    stood: "Sequence[Instrument]" = (),
    polar: Sequence[str] = (),
) -> Object:
    """Return the lines of descent as the object of `brasscap/topo-attach/1`.

    Parameters
    ----------
    hung : Hung
    findings : sequence of Finding
    stood : sequence of Instrument
        Those of polar shots.
    polar : sequence of str
        Names of the polar shots.
    """
    return {
        "schema": "brasscap/topo-attach/1",
        "verdict": "meets" if hung.descent.whole.all() else "query",
        "shots": _chains(hung),
        "bases": [
            {"base": name, "mark": _mark(hung, int(mark))}
            for name, mark in zip(hung.bases.name, hung.bases.mark, strict=True)
        ],
        "instruments": [
            {
                "instrument": one.name,
                "marks": list(one.marks),
                "shots": [polar[i] for i in one.shots],
            }
            for one in stood
        ],
        "real_time_networks": [
            {"network": name, "marks": [_mark(hung, int(m)) for m in marks]}
            for name, marks in zip(
                hung.shots.service.names, hung.descent.service_marks, strict=True
            )
        ],
        "findings": findings_objects(findings),
    }


def _mark(hung: "Hung", mark: int) -> str:
    return hung.adjustment.network.marks.name[mark] if mark >= 0 else ""


def _chains(hung: "Hung") -> list[Object]:
    shots, found = hung.shots, hung.descent
    made: list[dict[str, Any]] = []
    for i, name in enumerate(shots.name):
        made.append(
            {
                "shot": name,
                "base": shots.base_booked[i],
                "real_time_network": shots.service.word(i),
                "mark": _mark(hung, int(found.mark[i])),
                "record": int(found.record[i]) or None,
                "broken": found.broken[i],
            }
        )
    return made


def shot_object(topo: "Topo", at: int, steps: "Sequence[Step]") -> Object:
    """Return one point and its line of descent as `brasscap/show-shot/1`.

    Parameters
    ----------
    topo : Topo
    at : int
        Number of the point.
    steps : sequence of Step
    """
    points = topo.constructed.points
    return {
        "schema": "brasscap/show-shot/1",
        "kind": "shot",
        "name": topo.day.names[at],
        **place_object(points.coordinates[at], points.covariance(np.array([at]))[0]),
        "descent": [
            {"depth": step.depth, "kind": step.kind, "name": step.name}
            for step in steps
        ],
        "findings": [],
        "verdict": "meets" if steps[-1].kind in ("mark", "record") else "query",
    }
