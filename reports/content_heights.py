"""Heights above the geoid beside those above the ellipsoid."""

from typing import TYPE_CHECKING

import numpy as np

from .content_marks import worst_marks
from .document import Column, Row, Table
from .judged import Judged
from .rounding import Units
from .worst_rows import Shown

if TYPE_CHECKING:
    from ..networks import Undulations


def heights_table(
    judged: Judged, units: Units, only: int | None = None
) -> Table | None:
    """Return both heights of every mark; None where the geoid is not known.

    Parameters
    ----------
    judged : Judged
    units : Units
    only : int, optional
        The one mark to show.
    """
    found, stated = judged.heights, judged.network.undulations
    if found is None or stated is None:
        return None
    columns = (
        Column("station", number=False),
        Column(f"ellipsoidal height ({units.unit})"),
        Column(f"geoid undulation ({units.unit})"),
        Column(f"orthometric height ({units.unit})"),
        Column(f"its sd ({units.small_unit})"),
    )
    ellipsoidal = np.where(judged.estimated[:, 1], judged.grid[:, 2], np.nan)
    names = judged.network.marks.name
    shown = worst_marks(judged) if only is None else Shown(np.array([only]))
    rows = tuple(
        Row(
            (
                names[i],
                units.coordinate(float(ellipsoidal[i])),
                units.coordinate(float(found.undulation[i])),
                units.coordinate(float(found.height[i])) or "not known",
                units.small(float(found.sd[i])),
            )
        )
        for i in shown.rows.tolist()
    )
    return Table(heights_caption(judged, stated), columns, rows, shown.note)


def heights_caption(judged: Judged, stated: "Undulations") -> str:
    """Return which heights these are, by which geoid, and what of it was estimated."""
    datum = f" above {stated.height_datum}" if stated.height_datum else ""
    model = f"geoid {stated.model}" if stated.model else "no geoid model"
    common = {0: "", 1: ", a shift of the undulations estimated"}.get(
        len(stated.estimated), ", shift and tilt of the undulations estimated"
    )
    found = judged.heights
    worth = ", sd of the ellipsoidal height alone: none is stated for the undulation"
    if found is not None and (found.sd_undulation > 0).any():
        worth = ", sd with that of the undulation"
    elif common:
        worth = ", sd with what was estimated"
    return f"orthometric heights{datum}: {model}{common}{worth} (one stated sd)"
