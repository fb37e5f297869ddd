"""The known marks against the survey, as a plain object for JSON."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..networks import Finding
from .content_control import verdict_of
from .content_likeness import likeness_objects
from .objects import findings_objects
from .objects_figures import RATIO, Object, rounded, significant, vector

if TYPE_CHECKING:
    from ..adjust.judge.control import Control
    from ..adjust.judge.control_agreement import Agreement
    from ..adjust.judge.control_rows import ControlRow

_MM = 4


def control_object(control: "Control", findings: Sequence[Finding] = ()) -> Object:
    """Return the known marks as the object of `brasscap/control/1`.

    Parameters
    ----------
    control : Control
    findings : sequence of Finding
        Of the input.
    """
    adjustment = control.adjustment
    return {
        "schema": "brasscap/control/1",
        "datum": adjustment.datum.mode,
        "held": list(adjustment.datum.held),
        "units": {"length": "m"},
        "confidence": adjustment.network.options.confidence,
        "verdict": verdict_of(control),
        "marks": [_mark(control, row) for row in control.rows],
        "together": [_agreement(one) for one in control.together],
        "subsets": [_agreement(one) for one in control.subsets],
        "findings": findings_objects(findings),
    }


def _mark(control: "Control", row: "ControlRow") -> Object:
    names = control.adjustment.network.marks.name
    moved = row.farthest >= 0
    size = float(np.linalg.norm(row.move)) if moved else float("nan")
    strained = moved and row.pair[0] >= 0
    return {
        "station": row.station,
        "part": row.part,
        "use": row.use,
        "difference_enu_mm": vector(1000 * row.difference, _MM),
        "sd_difference_enu_mm": vector(1000 * row.sd, _MM),
        "limit_enu_mm": vector(1000 * row.limit, _MM),
        "test": rounded(row.test, RATIO),
        "verdict": row.verdict,
        "moves_mm": rounded(1000 * size, _MM),
        "moves_station": names[row.farthest] if moved else "",
        "strains_ppm": rounded(1e6 * row.distortion, _MM) if strained else None,
        "strains_pair": [names[k] for k in row.pair] if strained else [],
        "cannot_be_told_from": list(row.twins),
        "likeness": likeness_objects(row.likeness),
    }


def _agreement(one: "Agreement") -> Object:
    return {
        "stations": list(one.stations),
        "part": one.part,
        "statistic": significant(one.statistic),
        "limit": significant(one.limit),
        "degrees_of_freedom": one.degrees_of_freedom,
        "probability": significant(one.probability),
        "verdict": one.verdict,
    }
