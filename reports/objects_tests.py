"""Blunder tests as plain objects for JSON."""

from typing import TYPE_CHECKING

import numpy as np

from .judged import Judged
from .objects_figures import RATIO, SMALL, Object, rounded, significant, vector

if TYPE_CHECKING:
    from ..networks.covariances import Floats


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
            "redundancy": rounded(float(tests.redundancy[i]), RATIO),
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
        "statistic": rounded(float(basis.statistic[i]), RATIO),
        "limit": rounded(float(basis.limit[i]), RATIO),
        "test": rounded(float(basis.test[i]), RATIO),
        "probability": significant(float(basis.probability[i])),
        "tests": {
            name: {
                "statistic": rounded(float(some.statistic[i]), RATIO),
                "limit": rounded(float(some.limit[i]), RATIO),
                "test": rounded(float(some.test[i]), RATIO),
            }
            for name, some in (
                ("stated", judged.tests.tests.stated),
                ("estimated", judged.tests.tests.estimated),
            )
        },
    }


_SCALE = {
    "m": ("mm", 1000.0),
    "rad": ("arcsec", 3600 * 180 / np.pi),
    "ratio": ("ppm", 1e6),
    "coefficient": ("ratio", 1.0),
}
"""Unit of a reading's own value in a key, and how many of it there are."""


def _sizes(judged: Judged, i: int) -> Object:
    """Return shift and smallest detectable blunder, the unit in the key.

    A reading has its own value besides; its east, north, up are null.
    """
    tests, measure = judged.tests.tests, judged.tests.measure[i]
    smallest = float(tests.smallest_detectable[i])
    no = float("nan") if measure != "enu" else 1.0
    made: Object = {
        "shift_enu_mm": vector(no * 1000 * tests.shift[i], 4),
        "sd_shift_enu_mm": vector(no * 1000 * tests.sd_shift[i], 4),
        "smallest_detectable_mm": rounded(no * 1000 * smallest, 4),
        "smallest_detectable_enu_mm": vector(
            no * 1000 * tests.smallest_detectable_enu[i], 4
        ),
    }
    if measure == "enu":
        return made
    unit, scale = _SCALE[measure]
    return made | {
        f"shift_value_{unit}": significant(scale * float(tests.shift[i, 0])),
        f"sd_shift_value_{unit}": significant(scale * float(tests.sd_shift[i, 0])),
        f"smallest_detectable_{unit}": significant(scale * smallest),
    }


def _residuals(judged: Judged) -> dict[tuple[str, int], Object]:
    """Return kind and number of each observation to its residual."""
    tests = judged.tests
    edges = zip(tests.kind, tests.edge.tolist(), strict=True)
    measures = dict(zip(edges, tests.measure, strict=True))
    return {
        (kind, number): _residual(measures.get((kind, number), "enu"), residual)
        for kind, residuals in judged.adjustment.residuals.items()
        for number, residual in enumerate(residuals)
    }


def _residual(measure: str, residual: "Floats") -> Object:
    if measure in ("enu", "m"):
        some = residual if measure == "enu" else np.ravel(residual)[:1]
        return {"residual_m": vector(some, SMALL)}
    unit, scale = _SCALE[measure]
    value = significant(scale * float(np.ravel(residual)[0]))
    return {"residual_m": None, f"residual_{unit}": value}
