"""Field tests as plain objects for JSON."""

from typing import TYPE_CHECKING

from .objects_figures import RATIO, Object, rounded

if TYPE_CHECKING:
    from ..adjust.follow.field_tests import FieldTests, PartTest
    from ..networks.field_tests import FieldSets

_MM = 4


def field_tests_objects(
    found: "FieldTests | None", sets: "FieldSets | None"
) -> list[Object]:
    """Return the field tests as the key ``field_tests`` of `brasscap/topo/1`.

    Parameters
    ----------
    found : FieldTests or None
    sets : FieldSets or None
        What it is of.
    """
    if found is None or sets is None:
        return []
    return [
        {
            "test": one.name,
            "series_count": one.series,
            "sets_count": one.sets,
            "lacks": list(one.lacks),
            "parts": [_part(part) for part in one.parts],
            "sets": [
                _set(found, sets, i)
                for i in range(len(sets))
                if sets.test.number[i] == k
            ],
            "against_the_one_before": [
                {
                    "earlier": other.earlier,
                    "part": other.part,
                    "variance_ratio": rounded(other.ratio, RATIO),
                    "lower": rounded(other.lower, RATIO),
                    "upper": rounded(other.upper, RATIO),
                    "verdict": other.verdict,
                }
                for other in found.campaigns
                if other.later == one.name
            ],
        }
        for k, one in enumerate(found.tests)
    ]


def _part(part: "PartTest") -> Object:
    return {
        "part": part.part,
        "degrees_of_freedom": part.degrees_of_freedom,
        "sd_mm": rounded(1000 * part.sd, _MM),
        "stated_mm": rounded(1000 * part.stated, _MM),
        "limit_mm": rounded(1000 * part.limit, _MM),
        "test": rounded(part.test, RATIO),
        "verdict": part.verdict,
    }


def _set(found: "FieldTests", sets: "FieldSets", i: int) -> Object:
    misfits = found.misfits
    return {
        "series": sets.series.word(i).split("\0")[1],
        "set": sets.name[i],
        "distance_misfit_mm": rounded(1000 * misfits.distance[i], _MM),
        "distance_limit_mm": rounded(1000 * misfits.limit_distance[i], _MM),
        "rise_misfit_mm": rounded(1000 * misfits.rise[i], _MM),
        "rise_limit_mm": rounded(1000 * misfits.limit_rise[i], _MM),
        "off": bool(misfits.off[i]),
        "replaced": bool(sets.replaced[i]),
    }
