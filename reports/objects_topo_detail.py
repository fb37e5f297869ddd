"""Polar shots, made points, shapes, humps and crossings as plain objects for JSON."""

from typing import TYPE_CHECKING

import numpy as np

from .content_topo_detail import over_crossings, source_name
from .objects_figures import POSITION, RATIO, Object, rounded, significant, vector

if TYPE_CHECKING:
    from ..adjust.follow.topo import Topo
    from ..networks.covariances import Floats

_MM = 4


def detail_object(topo: "Topo") -> Object:
    """Return the keys of `brasscap/topo/1` about the detail.

    Parameters
    ----------
    topo : Topo
    """
    return {
        "polar_shots": _polar(topo),
        "polar_check_shots": _polar_checks(topo),
        "constructions": _constructions(topo),
        "shapes": _shapes(topo),
        "humps": _humps(topo),
        "one_place": _places(topo),
        "crossings": _crossings(topo),
    }


def place_object(coordinates: "Floats", covariance: "Floats") -> Object:
    """Return a point's coordinates, sds and covariance, grid axes."""
    sd = np.sqrt(np.diagonal(covariance))
    return {
        "east_m": rounded(coordinates[0], POSITION),
        "north_m": rounded(coordinates[1], POSITION),
        "height_m": rounded(coordinates[2], POSITION),
        "sd_plan_mm": rounded(1000 * np.sqrt((sd[0] ** 2 + sd[1] ** 2) / 2), _MM),
        "sd_height_mm": rounded(1000 * sd[2], _MM),
        "covariance_grid_m2": [[significant(x) for x in row] for row in covariance],
    }


def _polar(topo: "Topo") -> list[Object]:
    if topo.polar is None:
        return []
    shots, network = topo.polar.shots, topo.hung.adjustment.network
    first = len(topo.day.shots)
    some = np.arange(first, first + len(shots))
    covariance = topo.constructed.points.covariance(some)
    return [
        {
            "shot": name,
            "code": shots.code.word(i),
            "line": shots.line.word(i),
            "set_up": network.node_name(int(shots.at[i])),
            **place_object(topo.polar.coordinates[i], covariance[i]),
        }
        for i, name in enumerate(shots.name)
    ]


def _polar_checks(topo: "Topo") -> list[Object]:
    found = topo.polar_checks
    if topo.polar is None:
        return []
    marks = topo.hung.adjustment.network.marks.name
    return [
        {
            "shot": topo.polar.shots.name[found.first[i]],
            "mark": marks[found.second[i]],
            "difference_enu_mm": vector(1000 * found.value[i], _MM),
            "limit_enu_mm": vector(1000 * found.limit[i], _MM),
            "test": rounded(float(found.test[i]), RATIO),
            "probability": significant(float(found.probability[i])),
            "verdict": found.verdict[i],
        }
        for i in range(len(found))
    ]


def _constructions(topo: "Topo") -> list[Object]:
    from_, made, first = topo.day.constructions, topo.constructed, topo.day.roots
    names = made.points.name
    return [
        {
            "shot": name,
            "kind": from_.kind[i],
            "code": from_.code.word(i),
            "line": from_.line.word(i),
            "from": [names[p] for p in from_.parents[i] if p >= 0],
            "trouble": made.trouble[i],
            "solutions_east_north_m": [
                vector(one, POSITION) for one in made.solutions[i]
            ],
            **place_object(made.points.coordinates[first + i], made.covariance[i]),
        }
        for i, name in enumerate(from_.name)
    ]


def _shapes(topo: "Topo") -> list[Object]:
    checks, found = topo.day.checks, topo.shapes
    names = topo.constructed.points.name
    return [
        {
            "check": name,
            "kind": checks.kind[i],
            "points": [names[p] for p in checks.ends[i] if p >= 0],
            "misfit_mm": rounded(1000 * found.value[i], _MM),
            "sd_mm": rounded(1000 * found.sd[i], _MM),
            "limit_mm": rounded(1000 * found.limit[i], _MM),
            "test": rounded(float(found.test[i]), RATIO),
            "verdict": found.verdict[i],
        }
        for i, name in enumerate(checks.name)
    ]


def _humps(topo: "Topo") -> list[Object]:
    found = topo.humps
    return [
        {
            "initialisation": source_name(topo, int(source)),
            "shots_count": int(found.shots[i]),
            "above_mm": rounded(1000 * found.offset[i], _MM),
            "sd_mm": rounded(1000 * found.sd[i], _MM),
            "test": rounded(float(found.test[i]), RATIO),
            "verdict": found.verdict[i],
        }
        for i, source in enumerate(found.source)
    ]


def _places(topo: "Topo") -> list[Object]:
    roots = topo.detail.roots
    return [
        {
            "points": [roots.name[i], roots.name[j]],
            "apart_mm": rounded(
                1000 * np.hypot(*(roots.coordinates[j] - roots.coordinates[i])[:2]), _MM
            ),
            "second_higher_mm": rounded(
                1000 * (roots.coordinates[j, 2] - roots.coordinates[i, 2]), _MM
            ),
        }
        for i, j in topo.one_place.tolist()
    ]


def _crossings(topo: "Topo") -> list[Object]:
    found, names = topo.crossings, topo.constructed.points.name
    over = set(over_crossings(topo).tolist())
    return [
        {
            "line": topo.line.word(int(found.first[i])),
            "after": names[found.first[i]],
            "crosses": topo.line.word(int(found.second[i])),
            "crosses_after": names[found.second[i]],
            "east_m": rounded(found.place[i, 0], POSITION),
            "north_m": rounded(found.place[i, 1], POSITION),
            "first_higher_mm": rounded(1000 * found.gap[i], _MM),
            "verdict": "query" if i in over else "meets",
        }
        for i in range(len(found.gap))
    ]
