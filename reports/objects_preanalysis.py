"""A plan as it would be worth, as a plain object for JSON."""

from collections.abc import Sequence

import numpy as np

from ..adjust.design.standing import blind_of, over_count, sizes_of
from ..networks import Finding
from ..networks.clock import clock_of
from .content_preanalysis import Preanalysis, buys_of
from .objects import findings_objects
from .objects_figures import ANGLE, Object, rounded
from .rounding import Units

_MM = 4
_ORDER = ("meets", "query", "unchecked", "fails")


def preanalysis_object(made: Preanalysis, findings: Sequence[Finding] = ()) -> Object:
    """Return the object of `brasscap/preanalysis/1`.

    Parameters
    ----------
    made : Preanalysis
    findings : sequence of Finding
        Of the input.
    """
    hypotheses = made.state.hypotheses
    sizes = sizes_of(made.state, made.lambda0)
    heights = [k for k, one in enumerate(hypotheses) if one.kind == "set-up height"]
    return {
        "schema": "brasscap/preanalysis/1",
        "datum": made.adjustment.datum.mode,
        "held": list(made.adjustment.datum.held),
        "units": {"length": "m"},
        "verdict": max(made.verdicts, key=_ORDER.index),
        "specification": made.specification,
        "over_limit_count": over_count(made.state) if made.specification else None,
        "unchecked": [
            f"{hypotheses[k].kind} {hypotheses[k].name}" for k in blind_of(made.state)
        ],
        "marks": _marks(made),
        "set_ups": [
            {
                "set_up": hypotheses[k].name,
                "smallest_detectable_mm": rounded(1000 * float(sizes[k]), _MM),
            }
            for k in heights
        ],
        "work": [
            {
                "name": one.name,
                "kind": one.kind,
                "stations": list(one.stations),
                "minutes": rounded(one.minutes, 1),
                "without_it": buys,
            }
            for one, buys in zip(made.work, buys_of(made, Units()), strict=True)
        ],
        "back": clock_of(made.day.back) if made.day else "",
        "days": [[made.work[k].name for k in some] for some in made.days or ()],
        "assumed": list(made.assumed),
        "findings": findings_objects(findings),
    }


def _marks(made: Preanalysis) -> list[Object]:
    from ..adjust.precision import mark_precision

    found = mark_precision(made.adjustment)
    return [
        {
            "station": name,
            "semi_major_mm": rounded(1000 * float(found.semi_major[m]), _MM),
            "semi_minor_mm": rounded(1000 * float(found.semi_minor[m]), _MM),
            "azimuth_deg": rounded(float(np.degrees(found.azimuth[m])), ANGLE),
            "height_limit_mm": rounded(1000 * float(found.height_limit[m]), _MM),
        }
        for m, name in enumerate(made.adjustment.network.marks.name)
        if found.estimated[m].any()
    ]
