"""Results as plain objects for JSON: SI with the unit in the key, angles in degrees.

Keys are sorted when written, and every figure has a fixed number of digits, so the
same input gives the same bytes. The keys of a schema number never change.
"""

import json
from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING, cast

import numpy as np

from ..networks import Finding, GeodeticFrame
from .content_marks import control_use
from .heading import Heading
from .judged import Judged
from .objects_figures import (
    ANGLE,
    POSITION,
    RATIO,
    Object,
    rounded,
    significant,
    vector,
)
from .objects_heights import geoid_object, height_object
from .objects_parameters import parameters_objects
from .objects_tests import observations_objects

if TYPE_CHECKING:
    from ..adjust.precision import Pair
    from ..networks.covariances import Floats


def dump(thing: Object) -> str:
    """Return an object as JSON, keys sorted, ended by a line break.

    Examples
    --------
    >>> print(dump({"b": 1.0, "a": None}), end="")
    {
      "a": null,
      "b": 1.0
    }
    """
    return json.dumps(thing, sort_keys=True, indent=2, allow_nan=False) + "\n"


def adjust_object(judged: Judged, heading: Heading | None = None) -> Object:
    """Return an adjustment as the object of `brasscap/adjust/1`.

    Parameters
    ----------
    judged : Judged
    heading : Heading, optional
        Its findings are those of the input.
    """
    adjustment = judged.adjustment
    return {
        "schema": "brasscap/adjust/1",
        "datum": adjustment.datum.mode,
        "held": list(adjustment.datum.held),
        "frame": judged.network.frame.describe(),
        **geoid_object(judged),
        "verdict": judged.verdict,
        "units": {"length": "m"},
        "dimension": judged.dimension,
        "tests_from": judged.network.options.tests_from,
        "variance_factor": variance_factor_object(judged),
        "marks": marks_objects(judged),
        "observations": observations_objects(judged),
        "parameters": parameters_objects(judged),
        "known_minus_survey": known_objects(judged),
        "observations_count": adjustment.observations_count,
        "unknowns_count": adjustment.unknowns_count,
        "iterations": adjustment.iterations,
        "reciprocal_condition": float(f"{adjustment.reciprocal_condition:.1e}"),
        "findings": findings_objects(heading.findings if heading else ()),
    }


def variance_factor_object(judged: Judged) -> Object:
    """Return the test of the variance factor."""
    factor = judged.variance_factor
    return {
        "value": rounded(factor.value, RATIO),
        "vtpv": rounded(factor.vtpv, RATIO),
        "degrees_of_freedom": factor.degrees_of_freedom,
        "lower": rounded(factor.lower, RATIO),
        "upper": rounded(factor.upper, RATIO),
        "confidence": factor.confidence,
        "verdict": factor.verdict,
    }


def marks_objects(judged: Judged) -> list[Object]:
    """Return the adjusted marks, held ones with a covariance of zeros."""
    network = judged.network
    grid, geodetic = judged.grid, _geodetic(judged)
    return [
        {
            "station": name,
            **_coordinates(
                judged, i, grid[i], None if geodetic is None else geodetic[i]
            ),
            **height_object(judged, i),
            **_use(judged, i),
            **_precision(judged, i),
        }
        for i, name in enumerate(network.marks.name)
    ]


def _geodetic(judged: Judged) -> "Floats | None":
    """Return latitude, longitude and height of all marks; None in a local job."""
    frame = judged.network.frame
    if frame.kind != "geodetic":
        return None
    return cast(GeodeticFrame, frame).geodetic(judged.marks.xyz)


def _coordinates(
    judged: Judged, i: int, grid: "Floats", geodetic: "Floats | None"
) -> Object:
    xyz = judged.marks.xyz[i]
    plan, up = judged.estimated[i]
    north, east, height = vector(grid, POSITION)
    made: Object = {"north_m": north, "east_m": east, "height_m": height}
    if geodetic is not None:
        geodetic = np.where([plan, plan, up], geodetic, np.nan)
        xyz = np.where(plan and up, xyz, np.nan)
        made["x_m"], made["y_m"], made["z_m"] = vector(xyz, POSITION)
        made["latitude_deg"] = rounded(geodetic[0], ANGLE)
        made["longitude_deg"] = rounded(geodetic[1], ANGLE)
        made["ellipsoidal_height_m"] = rounded(geodetic[2], POSITION)
    return made


def _use(judged: Judged, mark: int) -> Object:
    known = judged.network.known
    rows = np.flatnonzero(known.mark == mark)
    plan = next((known.use_plan[i] for i in rows if known.components[i, 0]), "")
    height = next((known.use_height[i] for i in rows if known.components[i, 2]), "")
    return {"use_plan": plan, "use_height": height}


def _precision(judged: Judged, i: int) -> Object:
    marks = judged.marks
    estimated = judged.adjustment.estimated[i]
    covariance = [
        [
            significant(float(value)) if estimated[j] and estimated[k] else None
            for k, value in enumerate(row)
        ]
        for j, row in enumerate(marks.covariance[i])
    ]
    return {
        "covariance_enu_m2": covariance,
        "covariance_kind": "stated",
        "checked": bool(judged.all_checked[i]),
        "checked_plan": bool(judged.checked[i, 0]),
        "checked_height": bool(judged.checked[i, 1]),
        "ellipse": _ellipse(
            marks.semi_major[i],
            marks.semi_minor[i],
            marks.azimuth[i],
            judged.network.options.confidence,
            marks.multipliers.kind,
        ),
        "circle_mm": rounded(1000 * marks.circle[i], 4),
        "height_limit_mm": rounded(1000 * marks.height_limit[i], 4),
    }


def _ellipse(
    major: float, minor: float, azimuth: float, probability: float, kind: str
) -> Object:
    turn = float(np.degrees(azimuth)) % 180 if isfinite(azimuth) else float("nan")
    return {
        "semi_major_mm": rounded(1000 * major, 4),
        "semi_minor_mm": rounded(1000 * minor, 4),
        "azimuth_deg": rounded(turn, 3),
        "probability": probability,
        "kind": kind,
    }


def known_objects(judged: Judged) -> list[Object]:
    """Return known minus survey for the known marks that are not held."""
    known = judged.known
    return [
        {
            "station": name,
            "use": control_use(judged, int(known.known_row[i])),
            "difference_enu_mm": vector(1000 * known.difference[i], 4),
            "sd_difference_enu_mm": vector(1000 * known.sd[i], 4),
            "limit_enu_mm": vector(1000 * known.limit[i], 4),
            "test": rounded(float(known.test[i]), RATIO),
            "verdict": known.verdict[i],
        }
        for i, name in enumerate(known.station)
    ]


def findings_objects(findings: Sequence[Finding]) -> list[Object]:
    """Return findings, the query's name and its answer with them."""
    keys = (
        "slug",
        "verdict",
        "about",
        "file",
        "row",
        "line",
        "column",
        "booked",
        "against",
        "likely",
        "mend",
        "query",
        "answered_by",
    )
    return [{key: getattr(finding, key) for key in keys} for finding in findings]


def check_object(
    findings: Sequence[Finding], tables: Sequence[tuple[str, int]]
) -> Object:
    """Return what `check` found as the object of `brasscap/check/1`."""
    open_ones = [finding for finding in findings if finding.is_open]
    faults = sum(finding.verdict == "fault" for finding in open_ones)
    verdict = "fails" if faults else "query" if open_ones else "meets"
    return {
        "schema": "brasscap/check/1",
        "verdict": verdict,
        "tables": dict(tables),
        "faults_count": faults,
        "open_queries_count": len(open_ones) - faults,
        "findings": findings_objects(findings),
    }


def pair_object(judged: Judged, pair: "Pair", sentence: str) -> Object:
    """Return two marks as the object of `brasscap/show-pair/1`."""
    return {
        "schema": "brasscap/show-pair/1",
        "kind": "pair",
        "from": pair.start,
        "to": pair.end,
        "datum": judged.adjustment.datum.mode,
        "slope_distance_m": rounded(pair.slope_distance, POSITION),
        "ellipsoid_distance_m": rounded(pair.ellipsoid_distance, POSITION),
        "grid_distance_m": rounded(pair.grid_distance, POSITION),
        "ground_distance_m": rounded(pair.level_distance, POSITION),
        "azimuth_deg": rounded(float(np.degrees(pair.azimuth)) % 360, 8),
        "height_difference_m": rounded(pair.height_difference, POSITION),
        "covariance_enu_m2": [
            [significant(float(value)) for value in row] for row in pair.covariance
        ],
        "covariance_kind": "stated",
        "sd_distance_mm": rounded(1000 * pair.sd_distance, 4),
        "ellipse": _ellipse(
            pair.semi_major,
            pair.semi_minor,
            pair.ellipse_azimuth,
            judged.network.options.confidence,
            pair.multipliers.kind,
        ),
        "sentence": sentence,
    }
