"""What could hide, as a plain object for JSON."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..networks import Finding
from .content_reliability import Hidden, of_mark, rows_of
from .objects import findings_objects
from .objects_figures import RATIO, Object, rounded, significant, vector

if TYPE_CHECKING:
    from ..adjust.judge.external import Reliability
    from ..adjust.judge.planting import Planted
    from ..networks.covariances import Floats

_MM = 4
_ARCSEC = 3600 * 180 / np.pi


def reliability_object(hidden: Hidden, findings: Sequence[Finding] = ()) -> Object:
    """Return what could hide as the object of `brasscap/reliability/1`.

    Parameters
    ----------
    hidden : Hidden
    findings : sequence of Finding
        Of the input.
    """
    adjustment = hidden.adjustment
    options = adjustment.network.options
    wanted = [by for by in hidden.found if hidden.by in ("", "mark", by)]
    return {
        "schema": "brasscap/reliability/1",
        "datum": adjustment.datum.mode,
        "held": list(adjustment.datum.held),
        "units": {"length": "m"},
        "outlier_alpha": options.outlier_alpha,
        "power": options.power,
        "verdict": hidden.verdict,
        "causes": [
            _cause(hidden, by, int(i))
            for by in wanted
            for i in rows_of(hidden.found[by], only_unchecked=hidden.only_unchecked)
        ],
        "marks": _marks(hidden),
        "planted": _planted(hidden.planted) if hidden.planted else None,
        "findings": findings_objects(findings),
    }


def _cause(hidden: Hidden, by: str, i: int) -> Object:
    found = hidden.found[by]
    one, names = found.hypotheses[i], hidden.adjustment.network.marks.name
    made: Object = {
        "by": by,
        "kind": one.kind,
        "name": one.name,
        "about": one.about,
        "components": len(one.axes),
        "unchecked_directions_count": int(found.null_count[i]),
        "checked": not bool(found.unchecked[i]),
        "bias_to_noise": rounded(float(found.bias_to_noise[i]), RATIO),
        "moves_by_any_amount": [names[k] for k in found.unlimited(i)],
        **_smallest(found, i),
    }
    for part, word in enumerate(("plan", "height")):
        size, mark = (column[i] for column in found.worst(part))
        made[f"effect_{word}_mm"] = rounded(1000 * float(size), _MM)
        made[f"effect_{word}_at"] = names[mark] if mark >= 0 else ""
    return made


def _smallest(found: "Reliability", i: int) -> Object:
    """Return the smallest that shows, in the one unit that it has."""
    size, measure = float(found.smallest_detectable[i]), found.hypotheses[i].measure
    nothing = float("nan")
    reading = found.hypotheses[i].axes == ("value",)
    along: Floats = (
        found.along[i] if measure == "m" and not reading else np.full(3, nothing)
    )
    return {
        "smallest_detectable_mm": rounded(
            1000 * size if measure == "m" else nothing, _MM
        ),
        "smallest_detectable_arcsec": rounded(
            _ARCSEC * size if measure == "rad" else nothing, _MM
        ),
        "smallest_detectable_own": significant(size if measure == "own" else nothing),
        "smallest_detectable_enu_mm": vector(1000 * along, _MM),
    }


def _marks(hidden: Hidden) -> list[Object]:
    made = []
    for mark, name in enumerate(hidden.adjustment.network.marks.name):
        one: Object = {"station": name}
        for part, word in enumerate(("plan", "height")):
            worst = of_mark(hidden, mark, part)
            one[f"effect_{word}_mm"] = rounded(1000 * worst.size, _MM)
            one[f"effect_{word}_by"] = _named(hidden, worst.by) if worst.by else None
            one[f"{word}_moved_by_any_amount_by"] = [
                _named(hidden, key) for key in worst.unlimited
            ]
        made.append(one)
    return made


def _named(hidden: Hidden, key: tuple[str, int]) -> Object:
    one = hidden.found[key[0]].hypotheses[key[1]]
    return {"kind": one.kind, "name": one.name}


def _planted(planted: "Planted") -> Object:
    blunder, tests = planted.blunder, planted.tests
    angle = blunder.kind in ("direction", "angle", "azimuth", "zenith angle")
    before = {
        (planted.tests_before.kind[i], planted.tests_before.name[i]): float(test)
        for i, test in enumerate(planted.tests_before.basis.test)
    }
    caught = {*planted.caught_by, *planted.grown}
    rows = dict.fromkeys((*planted.caught_by, *planted.at))
    return {
        "kind": blunder.kind,
        "name": blunder.name,
        "axis": blunder.axis,
        "size_mm": None if angle else rounded(1000 * blunder.size, _MM),
        "size_arcsec": rounded(_ARCSEC * blunder.size, _MM) if angle else None,
        "caught": planted.caught,
        "verdict": planted.verdict,
        "variance_factor_before": rounded(planted.factor_before.value, RATIO),
        "variance_factor": rounded(planted.factor.value, RATIO),
        "variance_factor_verdict": planted.factor.verdict,
        "tests": [
            {
                "kind": tests.kind[i],
                "name": tests.name[i],
                "test_before": rounded(
                    before.get((tests.kind[i], tests.name[i]), float("nan")), RATIO
                ),
                "test": rounded(float(tests.basis.test[i]), RATIO),
                "verdict": tests.verdict[i],
                "caught": i in caught,
                "about_the_planted": i in planted.at,
            }
            for i in rows
        ],
        "known_marks_caught": [planted.known.station[i] for i in planted.known_caught],
        "marks": [
            {"station": name, "moved_enu_mm": vector(1000 * planted.moved[i], _MM)}
            for i, name in enumerate(planted.after.network.marks.name)
        ],
    }
