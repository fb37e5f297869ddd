"""Where the page's map draws marks, names and scale: placed once, when it is made."""

from typing import TYPE_CHECKING, Any

import numpy as np

from ..drawing_labels import place_labels
from ..drawing_view import WIDTH, DrawnMark, View, exaggeration, round_down, view

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ...adjust import Adjustment
    from ...networks.covariances import Floats

NAMED_AT_MOST = 60
"""Marks up to which every one of them is named on the map."""


def map_object(
    adjustment: "Adjustment",
    places: "Floats",
    lines: "Sequence[tuple[int, int]]",
) -> dict[str, Any]:
    """Return the places of marks and names in the drawing, and its scales.

    Parameters
    ----------
    adjustment : Adjustment
    places : ndarray, shape (m, 2)
        East and north, m; NaN where a mark has no place.
    lines : sequence of (int, int)
        Marks that are joined.
    """
    marks = [_drawn(adjustment, i, places[i]) for i in range(len(places))]
    seen = view(marks)
    at = {i: seen.at(m.east, m.north) for i, m in enumerate(marks) if m.placed}
    known = set(adjustment.network.known.mark.tolist())
    named = [i for i in at if len(at) <= NAMED_AT_MOST or i in known]
    segments = [(at[a], at[b]) for a, b in lines if a in at and b in at]
    labels = place_labels(
        [marks[i].name for i in named], [at[i] for i in named], segments, WIDTH
    )
    factor = exaggeration(marks, seen.scale)
    return {
        "wide": WIDTH,
        "tall": round(seen.height, 1),
        "at": [[round(v, 1) for v in at[i]] if i in at else None
               for i in range(len(marks))],
        "labels": [[one.text, round(one.x, 1), round(one.y, 1), one.to]
                   for one in labels],
        "scale": seen.scale,
        "factor": factor,
        "bars": _bars(seen, factor),
    }  # fmt: skip


def _drawn(adjustment: "Adjustment", mark: int, place: "Floats") -> DrawnMark:
    from ...adjust.precision.ellipses import ellipse

    covariance = adjustment.covariance(np.array([mark]), np.array([mark]))[0]
    major, minor, azimuth = ellipse(covariance[:2, :2])
    return DrawnMark(
        adjustment.network.marks.name[mark],
        float(place[0]),
        float(place[1]),
        "new",
        True,
        2.5 * float(major),
        2.5 * float(minor),
        float(azimuth),
        "",
        "",
    )


def _bars(seen: View, factor: float) -> list[list[Any]]:
    """Return length in the drawing and words of both scale bars."""
    ground = round_down(190 / seen.scale)
    small = round_down(100 / (seen.scale * factor))
    said = f"{ground / 1000:g} km" if ground >= 1000 else f"{ground:g} m"
    return [
        [round(ground * seen.scale, 1), f"{said} on the ground"],
        [round(small * seen.scale * factor, 1), f"{small * 1000:g} mm of an ellipse"],
    ]
