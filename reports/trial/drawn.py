"""Where the page's map draws marks, names and scale: placed once, when it is made."""

from typing import TYPE_CHECKING, Any

import numpy as np

from ..drawing_labels import place_labels
from ..drawing_view import WIDTH, DrawnMark, View, exaggeration, round_down, view

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ...adjust import Adjustment
    from ...networks.covariances import Floats, Ints

NAMED_AT_MOST = 60
"""Marks up to which every one of them is named on the map."""


def map_object(
    adjustment: "Adjustment",
    places: "Floats",
    lines: "Sequence[tuple[int, int]]",
    shown: "Ints",
) -> dict[str, Any]:
    """Return the places of marks and names in the drawing, and its scales.

    Parameters
    ----------
    adjustment : Adjustment
    places : ndarray, shape (m, 2)
        East and north, m; NaN where a mark has no place.
    lines : sequence of (int, int)
        Marks that are joined.
    shown : ndarray of int
        Marks that are drawn.
    """
    marks = _drawn(adjustment, places, shown)
    place = {int(mark): k for k, mark in enumerate(shown)}
    seen = view(marks)
    at = {i: seen.at(m.east, m.north) for i, m in enumerate(marks) if m.placed}
    known = {place.get(mark) for mark in adjustment.network.known.mark.tolist()}
    named = [i for i in at if len(at) <= NAMED_AT_MOST or i in known]
    ends = [(place.get(a, -1), place.get(b, -1)) for a, b in lines]
    segments = [(at[a], at[b]) for a, b in ends if a in at and b in at]
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


def _drawn(
    adjustment: "Adjustment", places: "Floats", shown: "Ints"
) -> list[DrawnMark]:
    from ...adjust.precision.ellipses import ellipse

    covariance = adjustment.covariance(shown, shown)[:, :2, :2]
    major, minor, azimuth = ellipse(np.nan_to_num(covariance))
    names = adjustment.network.marks.name
    return [
        DrawnMark(
            names[mark],
            float(places[mark, 0]),
            float(places[mark, 1]),
            "new",
            True,
            2.5 * float(major[k]),
            2.5 * float(minor[k]),
            float(azimuth[k]),
            "",
            "",
        )
        for k, mark in enumerate(shown.tolist())
    ]


def _bars(seen: View, factor: float) -> list[list[Any]]:
    """Return length in the drawing and words of both scale bars."""
    ground = round_down(190 / seen.scale)
    small = round_down(100 / (seen.scale * factor))
    said = f"{ground / 1000:g} km" if ground >= 1000 else f"{ground:g} m"
    return [
        [round(ground * seen.scale, 1), f"{said} on the ground"],
        [round(small * seen.scale * factor, 1), f"{small * 1000:g} mm of an ellipse"],
    ]
