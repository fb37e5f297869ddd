"""Estimated parameters as plain objects for JSON."""

import numpy as np

from .judged import Judged
from .objects_figures import RATIO, Object, rounded, significant

_DEGREE, _ARCSEC = 180 / np.pi, 3600 * 180 / np.pi
_LENGTH = (("mm", 1000.0), ("mm", 1000.0))
_UNITS: dict[str, tuple[tuple[str, float], tuple[str, float]]] = {
    "orientation": (("deg", _DEGREE), ("arcsec", _ARCSEC)),
    "vector turn": (("arcsec", _ARCSEC), ("arcsec", _ARCSEC)),
    "undulation": (("m", 1.0), ("mm", 1000.0)),
    "distance scale": (("ppm", 1e6), ("ppm", 1e6)),
    "vector scale": (("ppm", 1e6), ("ppm", 1e6)),
    "undulation shift": (("m", 1.0), ("mm", 1000.0)),
    "undulation tilt": (("ppm", 1e6), ("ppm", 1e6)),
    "refraction": (("ratio", 1.0), ("ratio", 1.0)),
}
"""Of kinds that are no small length the unit of the value, and that of the sd."""


def parameters_objects(judged: Judged) -> list[Object]:
    """Return every estimated parameter, the unit of its figures in their keys.

    ``needed`` is null where it is not asked: an orientation belongs to its round, and
    a parameter with a prior is tested as an observation.
    """
    found = judged.parameters
    return [
        {
            "name": name,
            "kind": kind,
            **_sizes(judged, i, kind),
            "statistic": rounded(float(found.statistic[i]), RATIO),
            "probability": significant(float(found.probability[i])),
            "needed": {"yes": True, "no": False}.get(found.needed[i]),
        }
        for i, (name, kind) in enumerate(zip(found.name, found.kind, strict=True))
    ]


def _sizes(judged: Judged, i: int, kind: str) -> Object:
    found = judged.parameters
    (unit, scale), (small, small_scale) = _UNITS.get(kind, _LENGTH)
    value = float(found.value[i])
    if kind == "orientation":
        value %= 2 * np.pi
    return {
        f"value_{unit}": significant(scale * value),
        f"sd_{small}": significant(small_scale * float(found.sd[i])),
        f"prior_{unit}": significant(scale * float(found.prior[i])),
        f"prior_sd_{small}": significant(small_scale * float(found.prior_sd[i])),
    }
