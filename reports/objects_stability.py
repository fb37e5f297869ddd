"""Two epochs compared, as a plain object for JSON."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from .judged import worst
from .objects_figures import RATIO, Object, rounded, significant, vector

if TYPE_CHECKING:
    from ..adjust.follow.congruency import Congruency
    from ..adjust.follow.moved_marks import Movement
    from ..adjust.follow.stability import Part, Stability

_MM = 4


def stability_object(
    found: "Stability", records: Sequence[str], notes: Sequence[Mapping[str, str]] = ()
) -> Object:
    """Return the object of `brasscap/stability/1`.

    Parameters
    ----------
    found : Stability
    records : sequence of str
        The two records as they were named.
    notes : sequence of mapping
        ``verdict`` and ``text`` of what weakens the comparison.
    """
    return {
        "schema": "brasscap/stability/1",
        "records": list(records),
        "units": {"length": "m"},
        "confidence": found.confidence,
        "power": found.power,
        "scale": {
            "kind": found.scale.kind,
            "variance": rounded(found.scale.variance, RATIO),
            "degrees_of_freedom": found.scale.degrees_of_freedom,
            "words": found.scale_words,
        },
        "verdict": overall(found, notes),
        "notes": [dict(note) for note in notes],
        "parts": [_part(part) for part in found.parts],
        "only_first": list(found.only_first),
        "only_second": list(found.only_second),
    }


def overall(found: "Stability", notes: Sequence[Mapping[str, str]]) -> str:
    """Return the verdict: what was found, never better than its weakest premise."""
    verdicts = {part.verdict for part in found.parts} or {"unchecked"}
    return worst(verdicts | {note["verdict"] for note in notes})


def _part(part: "Part") -> Object:
    return {
        "part": part.part,
        "refused": part.refused,
        "presumed_stable": list(part.presumed),
        "together": _test(part.together),
        "after": _test(part.after),
        "steps": [
            {
                "station": step.station,
                "statistic": significant(step.statistic),
                "limit": significant(step.limit),
                "degrees_of_freedom": step.degrees_of_freedom,
                "falls_by": significant(step.falls_by),
                "cannot_be_told_from": list(step.twins),
            }
            for step in part.steps
        ],
        "marks": [_mark(part.part, mark) for mark in part.marks],
        "verdict": part.verdict,
        "words": part.words,
    }


def _test(test: "Congruency | None") -> Object | None:
    if test is None:
        return None
    return {
        "statistic": significant(test.statistic),
        "limit": significant(test.limit),
        "degrees_of_freedom": test.degrees_of_freedom,
        "test": rounded(test.test, RATIO),
        "verdict": test.verdict,
    }


def _mark(part: str, mark: "Movement") -> Object:
    made: Object = {
        "station": mark.station,
        "role": mark.role,
        "test": rounded(mark.test, RATIO),
        "least_detectable_mm": rounded(1000 * mark.least, _MM),
        "covariance_mm2": [vector(1e6 * row, _MM) for row in mark.covariance],
        "verdict": mark.verdict,
    }
    ways = ("east", "north") if part == "plan" else ("up",)
    for k, way in enumerate(ways):
        made[f"{way}_mm"] = rounded(1000 * float(mark.move[k]), _MM)
        made[f"limit_{way}_mm"] = rounded(1000 * float(mark.limit[k]), _MM)
    return made
