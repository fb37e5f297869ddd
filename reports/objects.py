"""Results as plain objects for JSON: SI with the unit in the key, angles in degrees.

Keys are sorted when written, and every figure has a fixed number of digits, so the
same input gives the same bytes. The keys of a schema number never change.
"""

import json
from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from ..networks import Finding, GeodeticFrame
from .content_marks import control_use
from .heading import Heading
from .judged import Judged

if TYPE_CHECKING:
    from ..adjust.precision import Pair
    from ..networks.covariances import Floats

Object = dict[str, Any]

_POSITION, _SMALL, _ANGLE, _RATIO, _SIGNIFICANT = 6, 7, 11, 6, 9


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


def rounded(value: float, digits: int) -> float | None:
    """Return a value of a fixed number of decimals; None for what cannot be judged.

    Examples
    --------
    >>> rounded(-1e-9, 6), rounded(float("nan"), 6)
    (0.0, None)
    """
    return round(float(value), digits) + 0.0 if isfinite(value) else None


def significant(value: float) -> float | None:
    """Return a value of nine significant digits, for variances and probabilities."""
    return float(f"{value:.{_SIGNIFICANT}g}") + 0.0 if isfinite(value) else None


def _vector(values: "Floats", digits: int) -> list[float | None]:
    return [rounded(float(value), digits) for value in values]


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
        "verdict": judged.verdict,
        "units": {"length": "m"},
        "tests_from": judged.network.options.tests_from,
        "variance_factor": variance_factor_object(judged),
        "marks": marks_objects(judged),
        "observations": observations_objects(judged),
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
        "value": rounded(factor.value, _RATIO),
        "vtpv": rounded(factor.vtpv, _RATIO),
        "degrees_of_freedom": factor.degrees_of_freedom,
        "lower": rounded(factor.lower, _RATIO),
        "upper": rounded(factor.upper, _RATIO),
        "confidence": factor.confidence,
        "verdict": factor.verdict,
    }


def marks_objects(judged: Judged) -> list[Object]:
    """Return the adjusted marks, held ones with a covariance of zeros."""
    network = judged.network
    grid = network.frame.grid(judged.marks.xyz)
    return [
        {
            "station": name,
            **_coordinates(judged, i, grid[i]),
            **_use(judged, i),
            **_precision(judged, i),
        }
        for i, name in enumerate(network.marks.name)
    ]


def _coordinates(judged: Judged, i: int, grid: "Floats") -> Object:
    frame, xyz = judged.network.frame, judged.marks.xyz[i]
    north, east, height = _vector(grid, _POSITION)
    made: Object = {"north_m": north, "east_m": east, "height_m": height}
    if frame.kind == "geodetic":
        geodetic = cast(GeodeticFrame, frame).geodetic(xyz[None])[0]
        made["x_m"], made["y_m"], made["z_m"] = _vector(xyz, _POSITION)
        made["latitude_deg"] = rounded(geodetic[0], _ANGLE)
        made["longitude_deg"] = rounded(geodetic[1], _ANGLE)
        made["ellipsoidal_height_m"] = rounded(geodetic[2], _POSITION)
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
        "checked": bool(judged.checked[i].all()),
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


def observations_objects(judged: Judged) -> list[Object]:
    """Return every test: what it is about, its figures, its verdict."""
    tests, residuals = judged.tests, _residuals(judged)
    return [
        {
            "kind": tests.kind[i],
            "name": tests.name[i],
            "about": tests.about[i],
            "row": int(tests.row[i]),
            "components": int(tests.tests.components[i]),
            "redundancy": rounded(float(tests.redundancy[i]), _RATIO),
            **residuals.get((tests.kind[i], int(tests.edge[i])), {"residual_m": None}),
            **_basis(judged, i),
            "family_probability": significant(float(tests.family_probability[i])),
            **_sizes(judged, i),
            "verdict": tests.verdict[i],
        }
        for i in range(len(tests.name))
    ]


def _basis(judged: Judged, i: int) -> Object:
    basis = judged.tests.basis
    return {
        "statistic": rounded(float(basis.statistic[i]), _RATIO),
        "limit": rounded(float(basis.limit[i]), _RATIO),
        "test": rounded(float(basis.test[i]), _RATIO),
        "probability": significant(float(basis.probability[i])),
        "tests": {
            name: {
                "statistic": rounded(float(some.statistic[i]), _RATIO),
                "limit": rounded(float(some.limit[i]), _RATIO),
                "test": rounded(float(some.test[i]), _RATIO),
            }
            for name, some in (
                ("stated", judged.tests.tests.stated),
                ("estimated", judged.tests.tests.estimated),
            )
        },
    }


_SCALE = {"m": ("mm", 1000.0), "rad": ("arcsec", 3600 * 180 / np.pi), "own": ("own", 1)}
"""Unit of a reading's own value in a key, and how many of it there are."""


def _sizes(judged: Judged, i: int) -> Object:
    """Return shift and smallest detectable blunder, the unit in the key."""
    tests, measure = judged.tests.tests, judged.tests.measure[i]
    smallest = float(tests.smallest_detectable[i])
    if measure != "enu":
        unit, scale = _SCALE[measure]
        return {
            f"shift_value_{unit}": significant(scale * float(tests.shift[i, 0])),
            f"sd_shift_value_{unit}": significant(scale * float(tests.sd_shift[i, 0])),
            f"smallest_detectable_{unit}": significant(scale * smallest),
        }
    return {
        "shift_enu_mm": _vector(1000 * tests.shift[i], 4),
        "sd_shift_enu_mm": _vector(1000 * tests.sd_shift[i], 4),
        "smallest_detectable_mm": rounded(1000 * smallest, 4),
        "smallest_detectable_enu_mm": _vector(
            1000 * tests.smallest_detectable_enu[i], 4
        ),
    }


def _residuals(judged: Judged) -> dict[tuple[str, int], Object]:
    """Return kind and number of each observation to its residual."""
    tests = judged.tests
    measures = dict(zip(tests.kind, tests.measure, strict=True))
    return {
        (kind, number): _residual(measures.get(kind, "enu"), residual)
        for kind, residuals in judged.adjustment.residuals.items()
        for number, residual in enumerate(residuals)
    }


def _residual(measure: str, residual: "Floats") -> Object:
    if measure == "enu":
        return {"residual_m": _vector(residual, _SMALL)}
    unit, scale = {"m": ("m", 1.0)}.get(measure, _SCALE[measure])
    return {f"residual_{unit}": significant(scale * float(residual.flat[0]))}


def known_objects(judged: Judged) -> list[Object]:
    """Return known minus survey for the known marks that are not held."""
    known = judged.known
    return [
        {
            "station": name,
            "use": control_use(judged, int(known.known_row[i])),
            "difference_enu_mm": _vector(1000 * known.difference[i], 4),
            "sd_difference_enu_mm": _vector(1000 * known.sd[i], 4),
            "limit_enu_mm": _vector(1000 * known.limit[i], 4),
            "test": rounded(float(known.test[i]), _RATIO),
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


def show_object(judged: Judged, kind: str, name: str) -> Object:
    """Return one mark, baseline or set-up as the object of `brasscap/show/1`."""
    made: Object = {
        "schema": "brasscap/show/1",
        "kind": kind,
        "name": name,
        "datum": judged.adjustment.datum.mode,
        "observations": [
            one
            for one in observations_objects(judged)
            if one["name"] == name and str(one["kind"]).startswith(_prefix(kind))
        ],
    }
    if kind == "mark":
        at = judged.network.marks.name.index(name)
        made["mark"] = marks_objects(judged)[at]
    return made


def _prefix(kind: str) -> str:
    return {"mark": "known mark"}.get(kind, kind)


def pair_object(judged: Judged, pair: "Pair", sentence: str) -> Object:
    """Return two marks as the object of `brasscap/show-pair/1`."""
    return {
        "schema": "brasscap/show-pair/1",
        "kind": "pair",
        "from": pair.start,
        "to": pair.end,
        "datum": judged.adjustment.datum.mode,
        "slope_distance_m": rounded(pair.slope_distance, _POSITION),
        "ellipsoid_distance_m": rounded(pair.ellipsoid_distance, _POSITION),
        "grid_distance_m": rounded(pair.grid_distance, _POSITION),
        "ground_distance_m": rounded(pair.level_distance, _POSITION),
        "azimuth_deg": rounded(float(np.degrees(pair.azimuth)) % 360, 8),
        "height_difference_m": rounded(pair.height_difference, _POSITION),
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
