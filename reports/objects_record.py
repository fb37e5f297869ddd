"""The result that a record keeps: positions, precision, verdicts, rounded once.

Lengths are kept to 1e-6 m and ratios to 1e-4, finer than anything that is printed
and coarser than what another computer, or another library, makes of the same sums.
"""

from typing import TYPE_CHECKING

import numpy as np

from .judged import Judged
from .objects_figures import Object, rounded, vector
from .objects_record_topo import record_topo

if TYPE_CHECKING:
    from ..adjust.follow.topo import Topo
    from ..networks.covariances import Floats

RESOLUTION = {"m": 1e-6, "ratio": 1e-4}
"""One unit of the last recorded digit: of keys that end in ``_m``, of all others."""

_M, _RATIO = 6, 4


def record_result(
    constrained: Judged, minimal: Judged | None, topo: "Topo | None" = None
) -> Object:
    """Return the solutions of a job as the object of `brasscap/record-result/1`.

    Parameters
    ----------
    constrained : Judged
        The solution that is issued.
    minimal : Judged, optional
        None where nothing can be held for one.
    topo : Topo, optional
        The shots that hang on the constrained solution.
    """
    solutions = [one for one in (minimal, constrained) if one is not None]
    result = {
        "schema": "brasscap/record-result/1",
        "resolution": dict(RESOLUTION),
        "frame": constrained.network.frame.describe(),
        "verdict": constrained.verdict,
        "solutions": [_solution(judged) for judged in solutions],
    }
    return result if topo is None else result | {"topo": record_topo(topo)}


def _solution(judged: Judged) -> Object:
    datum, factor = judged.adjustment.datum, judged.variance_factor
    return {
        "datum": datum.mode,
        "held": list(datum.held),
        "verdict": judged.verdict,
        "variance_factor": {
            "value": rounded(factor.value, _RATIO),
            "vtpv": rounded(factor.vtpv, _RATIO),
            "degrees_of_freedom": factor.degrees_of_freedom,
            "lower": rounded(factor.lower, _RATIO),
            "upper": rounded(factor.upper, _RATIO),
            "verdict": factor.verdict,
        },
        "marks": [_mark(judged, i) for i in range(len(judged.network.marks))],
        "tests": _tests(judged),
        "known": [
            {
                "station": name,
                "test": rounded(float(judged.known.test[i]), _RATIO),
                "verdict": judged.known.verdict[i],
            }
            for i, name in enumerate(judged.known.station)
        ],
    }


def _mark(judged: Judged, i: int) -> Object:
    plan, up = judged.estimated[i]
    north, east, height = vector(judged.grid[i], _M)
    sd = np.sqrt(np.diagonal(judged.marks.covariance[i]))
    made: Object = {
        "station": judged.network.marks.name[i],
        "north_m": north,
        "east_m": east,
        "height_m": height,
        "checked_plan": bool(judged.checked[i, 0]),
        "checked_height": bool(judged.checked[i, 1]),
        "covariance_kind": "stated",
    }
    made |= dict(
        zip(("sd_east_m", "sd_north_m", "sd_up_m"), vector(sd, _M), strict=True)
    )
    made |= _correlations(judged, i, sd)
    if judged.network.frame.kind == "geodetic":
        xyz = np.where(plan and up, judged.marks.xyz[i], np.nan)
        made |= dict(zip(("x_m", "y_m", "z_m"), vector(xyz, _M), strict=True))
    if judged.heights is not None:
        made["height_above_geoid_m"] = rounded(float(judged.heights.height[i]), _M)
    return made


def _correlations(judged: Judged, i: int, sd: "Floats") -> Object:
    """Return correlations; null where an sd is too small for one to mean anything."""
    ways, made = ("east", "north", "up"), {}
    for j, k in ((0, 1), (0, 2), (1, 2)):
        shows = min(sd[j], sd[k]) >= 100 * RESOLUTION["m"]
        value = judged.marks.covariance[i, j, k] / (sd[j] * sd[k]) if shows else np.nan
        made[f"correlation_{ways[j]}_{ways[k]}"] = rounded(float(value), _RATIO)
    return made


def _tests(judged: Judged) -> list[Object]:
    tests = judged.tests
    return [
        {
            "kind": kind,
            "name": tests.name[i],
            "test": rounded(float(tests.basis.test[i]), _RATIO),
            "verdict": tests.verdict[i],
        }
        for i, kind in enumerate(tests.kind)
    ]
