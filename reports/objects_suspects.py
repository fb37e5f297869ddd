"""Causes, groups and steps as a plain object for JSON."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..networks import Finding
from .content_weights import components_object
from .objects import findings_objects
from .objects_figures import RATIO, Object, rounded, significant
from .words_suspects import named_in_row, parting_words
from .words_weights import Weighed

if TYPE_CHECKING:
    from ..adjust.causes import Suspects
    from ..adjust.causes.parting import Parting
    from ..networks.likeness import Likeness

_WAYS = {"e": "east", "n": "north", "u": "up"}
_VALUES = {
    "m": ("value_mm", 1000.0),
    "rad": ("value_arcsec", 3600 * 180 / np.pi),
    "ratio": ("value_ppm", 1e6),
    "factor": ("value_ratio", 1.0),
    "own": ("value_own", 1.0),
}


def suspects_object(
    found: "Suspects",
    partings: "Mapping[int, Parting]",
    findings: Sequence[Finding] = (),
    likeness: "Sequence[Likeness]" = (),
    about: Sequence[int] | None = None,
    weighed: Weighed | None = None,
) -> Object:
    """Return the causes as the object of `brasscap/suspects/1`.

    Parameters
    ----------
    found : Suspects
    partings : mapping of int to Parting
        What would part the causes of a group, by the group's number.
    findings : sequence of Finding
        Of the input.
    likeness : sequence of Likeness
        What the first cause's size is like.
    about : sequence of int, optional
        Places of the causes to list; all when not given.
    weighed : Weighed, optional
        Standard deviations as they are judged.
    """
    factor = found.variance_factor
    places = range(len(found)) if about is None else about
    return {
        "schema": "brasscap/suspects/1",
        "units": {"length": "m"},
        "datum": found.adjustment.datum.mode,
        "held": list(found.adjustment.datum.held),
        "verdict": weighed.weights.overall(found) if weighed else found.overall,
        "answer": found.answer,
        "variance_factor": {
            "value": rounded(factor.value, RATIO),
            "vtpv": significant(factor.vtpv),
            "degrees_of_freedom": factor.degrees_of_freedom,
            "lower": rounded(factor.lower, RATIO),
            "upper": rounded(factor.upper, RATIO),
            "confidence": factor.confidence,
            "verdict": factor.verdict,
        },
        "enough_to_leave_out": found.enough,
        "tried_count": found.tried,
        "causes": [_cause(found, k, likeness if k == 0 else ()) for k in places],
        "groups": [
            {
                "group": n + 1,
                "named": [m + 1 for m in named_in_row(group)],
                "members": [m + 1 for m in group.members],
                "wider": [w + 1 for w in group.wider],
                "explains_more": [m + 1 for m in group.more],
                "parts": [p + 1 for p in group.parts],
                "parted_by": (
                    parting_words(found, partings[n]) if n in partings else None
                ),
            }
            for n, group in enumerate(found.groups)
        ],
        "steps": [_step(found, n) for n in range(len(found.search.steps))],
        "stopped": found.search.stopped,
        "unchecked": list(found.unchecked),
        "simulation": _simulation(found),
        "started_from": [found.made.causes[k].words for k in found.search.started],
        "standard_deviations": components_object(weighed) if weighed else None,
        "findings": findings_objects(findings),
    }


def _cause(found: "Suspects", k: int, likeness: "Sequence[Likeness]") -> Object:
    return {
        "rank": k + 1,
        "group": int(found.group[k]) + 1,
        "kind": found.kind[k],
        "about": list(found.about[k]),
        "words": found.words[k],
        "size": _size(found, k),
        "statistic": significant(float(found.statistic[k])),
        "limit": rounded(float(found.limit[k]), RATIO),
        "test": significant(float(found.test[k])),
        "test_beside_first": significant(float(found.test_beside_first[k])),
        "components": int(found.components[k]),
        "probability": significant(float(found.basis.probability[k])),
        "family_probability": significant(float(found.family_probability[k])),
        "family_limits": _family_limits(found, k),
        "variance_factor_without": significant(float(found.variance_factor_without[k])),
        "verdict": found.verdict[k],
        "nothing_for_being_larger": bool(found.wider[k]),
        "likeness": [
            {
                "words": like.words,
                "size_mm": [significant(1000 * float(one)) for one in like.size],
                "off_mm": significant(1000 * like.off),
                "chance": significant(like.chance),
                "chance_of_any": significant(like.chance_of_any),
                "names_tried_count": like.names_tried,
            }
            for like in likeness
        ],
    }


def _simulation(found: "Suspects") -> Object | None:
    """Return how the chance over all causes was counted; null where computed."""
    made = found.simulation
    if made is None:
        return None
    return {
        "draws_count": made.draws,
        "seed": made.seed,
        "confidence": made.confidence,
    }


def _family_limits(found: "Suspects", k: int) -> list[float | None]:
    made = found.simulation
    if made is None:
        return []
    return [significant(float(made.lower[k])), significant(float(made.upper[k]))]


def _size(found: "Suspects", k: int) -> Object:
    """Return the amounts with the unit in the key; null where one is not seen."""
    measure, size, sd = found.measure[k], found.size[k], found.sd_size[k]
    if not measure:
        return {}
    if measure in _VALUES:
        key, scale = _VALUES[measure]
        return {
            key: significant(float(size[0]) * scale),
            f"sd_{key}": significant(float(sd[0]) * scale),
        }
    made: Object = {}
    for n, way in enumerate(measure):
        made[f"{_WAYS[way]}_mm"] = significant(float(size[n]) * 1000)
        made[f"sd_{_WAYS[way]}_mm"] = significant(float(sd[n]) * 1000)
    return made


def _step(found: "Suspects", n: int) -> Object:
    step = found.search.steps[n]
    rank = {int(number): k + 1 for k, number in enumerate(found.number.tolist())}
    causes = found.made.causes
    return {
        "step": n + 1,
        "accepted": rank.get(step.accepted),
        "accepted_words": causes[step.accepted].words,
        "cannot_be_told_from": [causes[c].words for c in step.group[1:]],
        "larger": [causes[c].words for c in step.larger],
        "test": significant(step.test),
        "given_up": [causes[c].words for c in step.given_up],
        "model": [causes[c].words for c in step.model],
        "variance_factor": significant(step.variance_factor),
        "degrees_of_freedom": step.degrees_of_freedom,
    }
