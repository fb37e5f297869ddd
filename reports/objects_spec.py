"""Specifications held against the solutions, as a plain object for JSON."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ..networks import Finding
from ..networks.specifications import MEASURES, accuracy_class
from .content_spec import Held, solutions_of
from .objects import findings_objects
from .objects_figures import RATIO, Object, rounded
from .words_spec import worst_of

if TYPE_CHECKING:
    from ..adjust import Adjustment
    from ..adjust.precision.compliance import Compliance

_MM = 4


def spec_object(held: Held, findings: Sequence[Finding] = ()) -> Object:
    """Return the object of `brasscap/spec/1`.

    Parameters
    ----------
    held : Held
    findings : sequence of Finding
        Of the input.
    """
    return {
        "schema": "brasscap/spec/1",
        "units": {"length": "m"},
        "verdict": worst_of(held.verdicts),
        "solutions": [_solution(one) for one in solutions_of(held)],
        "specifications": [_specification(one) for one in held.lines],
        "findings": findings_objects(findings),
    }


def _solution(adjustment: "Adjustment") -> Object:
    from ..adjust.judge import variance_factor_test

    factor = variance_factor_test(adjustment)
    return {
        "datum": adjustment.datum.mode,
        "variance_factor": rounded(factor.value, RATIO),
        "variance_factor_verdict": factor.verdict,
        "degrees_of_freedom": factor.degrees_of_freedom,
    }


def _specification(one: "Compliance") -> Object:
    stated = one.specification
    return {
        "name": stated.name,
        "kind": stated.kind,
        "part": one.part,
        "of": "marks" if one.of_marks else "pairs",
        "measure": MEASURES[stated.kind] if one.part == "plan" else "height",
        "confidence": stated.confidence,
        "source": stated.source,
        "from_memory": stated.from_memory,
        "datum": one.adjustment.datum.mode,
        "held": list(one.adjustment.datum.held),
        "covariance_kind": one.multipliers.kind,
        "multiplier_ellipse": rounded(one.multipliers.ellipse, RATIO),
        "multiplier_one_direction": rounded(one.multipliers.height, RATIO),
        "precision": worst_of(one.precision),
        "reliability": worst_of(one.reliability),
        "lines": [_line(one, int(k)) for k in one.order()],
        "averages": _averages(one),
    }


def _averages(one: "Compliance") -> list[Object]:
    """Return one local accuracy a mark: the average over its neighbours."""
    if one.specification.kind != "local accuracy":
        return []
    from ..adjust.precision.compliance import averages

    made, names = averages(one), one.adjustment.network.marks.name
    at_95 = one.specification.confidence == 0.95
    return [
        {
            "station": names[mark],
            "neighbours": int(made.neighbours[k]),
            "average_mm": rounded(1000 * float(made.average[k]), _MM),
            "worst_mm": rounded(1000 * float(made.worst[k]), _MM),
            "accuracy_class": accuracy_class(float(made.average[k])) if at_95 else "",
        }
        for k, mark in enumerate(made.mark.tolist())
    ]


def _line(one: "Compliance", k: int) -> Object:
    names = one.adjustment.network.marks.name
    first, second = one.pairs[k].tolist()
    value, limit, also = (float(x[k]) for x in (one.value, one.limit, one.also))
    by = int(one.by[k])
    effect = float(one.effect[k])
    hypothesis = one.hypotheses[by] if by >= 0 else None
    measure = MEASURES[one.specification.kind] if one.part == "plan" else "circle"
    at_95 = one.specification.confidence == 0.95
    classed = at_95 and value == value and measure == "circle"
    return {
        "from": names[first] if first >= 0 else "",
        "to": names[second],
        "distance_m": rounded(float(one.distance[k]), _MM),
        "value_mm": rounded(1000 * value, _MM),
        "value_by_cubic_mm": rounded(1000 * float(one.cubic[k]), _MM),
        "limit_mm": rounded(1000 * limit, _MM),
        "limit_also_stated_mm": rounded(1000 * also, _MM),
        "share_ratio": rounded(value / limit, RATIO) if limit > 0 else None,
        "accuracy_class": accuracy_class(value) if classed else "",
        "precision": one.precision[k],
        "unseen_blunder_moves_mm": rounded(1000 * effect, _MM),
        "moved_at_most": bool(one.at_most[k]),
        "moved_by_any_amount": effect == float("inf"),
        "by": f"{hypothesis.kind} {hypothesis.about}" if hypothesis else "",
        "reliability": one.reliability[k],
    }
