"""Repeats, loops and sessions as a plain object for JSON."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..networks import Finding
from .objects import findings_objects
from .objects_figures import Object, rounded, significant

if TYPE_CHECKING:
    from ..adjust.judge.closures import Closures
    from ..adjust.judge.trivial import Treatment
    from ..networks.traverses import Traverse

_MM = 4
_ARCSEC = np.pi / 180 / 3600


def loops_object(
    found: "Closures",
    treatments: "Sequence[Treatment]",
    findings: Sequence[Finding] = (),
    max_sides: int = 0,
) -> Object:
    """Return the closures as the object of `brasscap/loops/1`.

    Parameters
    ----------
    found : Closures
    treatments : sequence of Treatment
    findings : sequence of Finding
        Of the input.
    max_sides : int, optional
        Loops of more vectors are left out; 0 = none.
    """
    network = found.network
    return {
        "schema": "brasscap/loops/1",
        "units": {"length": "m"},
        "verdict": found.verdict,
        "loops": [
            _loop(found, i)
            for i, loop in enumerate(found.loops)
            if not 0 < max_sides < len(loop.members)
        ],
        "loops_count": len(found.loops),
        "sessions": [_session(found, i) for i in range(len(found.sessions))],
        "treatments": [_treatment(one) for one in treatments],
        "hints": [
            {
                "kind": hint.kind,
                "name": hint.name,
                "loops_over_count": hint.over,
                "loops_within_count": hint.within,
            }
            for hint in found.hints
        ],
        "traverses": [_traverse(found, one) for one in found.traverses],
        "spreads": [_spread(found, i) for i in range(len(found.spreads))],
        "reciprocals": [
            {
                "stations": [network.marks.name[m] for m in (one.first, one.second)],
                "length_m": rounded(one.length, 3),
                "coefficient": rounded(one.coefficient, 6),
                "sd_coefficient": rounded(one.sd, 6),
            }
            for one in found.reciprocals
        ],
        "findings": findings_objects(findings),
    }


def _traverse(found: "Closures", one: "Traverse") -> Object:
    name = found.network.marks.name
    exact = one.ratio if one.ratio < 1e9 else float("nan")
    return {
        "marks": [name[mark] for mark in one.marks],
        "back": name[one.back],
        "onward": name[one.onward] if one.onward >= 0 else "",
        "angular_arcsec": rounded(one.angular / _ARCSEC, _MM),
        "sd_angular_arcsec": rounded(one.sd_angular / _ARCSEC, _MM),
        "north_mm": rounded(one.north * 1000, _MM),
        "east_mm": rounded(one.east * 1000, _MM),
        "linear_mm": rounded(one.linear * 1000, _MM),
        "length_m": rounded(one.length, 3),
        "ratio": rounded(exact, 0),
        "angles_count": one.angles,
        "angular_class": one.angular_class,
        "verdict": "unchecked",
    }


def _spread(found: "Closures", i: int) -> Object:
    one = found.spreads[i]
    length = one.kind.endswith("distance")
    in_mm = [x * 1000 if length else np.nan for x in (one.spread, one.stated)]
    in_arcsec = [np.nan if length else x / _ARCSEC for x in (one.spread, one.stated)]
    return {
        "kind": one.kind,
        "at": found.network.node_name(one.node),
        "readings_count": one.readings,
        "degrees_of_freedom": one.freedom,
        "spread_mm": rounded(in_mm[0], _MM),
        "stated_mm": rounded(in_mm[1], _MM),
        "spread_arcsec": rounded(in_arcsec[0], _MM),
        "stated_arcsec": rounded(in_arcsec[1], _MM),
        "statistic": significant(one.statistic),
        "verdict": found.spread_verdicts[i],
    }


def _loop(found: "Closures", i: int) -> Object:
    loop, tests, network = found.loops[i], found.tests, found.network
    levelled = len(loop.misclosure) == 1
    names = network.vectors.name
    if levelled and network.levels is not None:
        names = network.levels.name
    misclosure = np.full(3, np.nan)
    misclosure[3 - len(loop.misclosure) :] = loop.misclosure
    return {
        "kind": loop.kind,
        "members": [names[member] for member in loop.members],
        "signs": list(loop.signs),
        "marks": [network.marks.name[mark] for mark in dict.fromkeys(loop.marks)],
        "set_ups": [network.set_ups.name[s] for s in loop.set_ups],
        "length_m": rounded(loop.length, 3),
        "misclosure_enu_mm": [rounded(x * 1000, _MM) for x in misclosure],
        "limit_enu_mm": [rounded(x * 1000, _MM) for x in tests.limit_enu[i]],
        "components": len(loop.misclosure),
        "statistic": significant(float(tests.statistic[i])),
        "limit": significant(float(tests.limit[i])),
        "test": rounded(float(tests.test[i]), 6),
        "probability": significant(float(tests.probability[i])),
        "verdict": tests.verdict[i],
    }


def _session(found: "Closures", i: int) -> Object:
    session, network = found.sessions[i], found.network
    names = network.vectors.name
    return {
        "session": session.name,
        "found_from": session.found_from,
        "receivers": [network.node_name(node) for node in session.nodes],
        "vectors": [names[v] for v in session.vectors],
        "independent": [names[v] for v in session.independent],
        "trivial": [names[v] for v in session.trivial],
        "correlated": session.correlated,
    }


def _treatment(treatment: "Treatment") -> Object:
    factor = treatment.variance_factor
    made: Object = {
        "treatment": treatment.name,
        "lawful": treatment.lawful,
        "vectors_count": treatment.vectors,
        "degrees_of_freedom_taken_off": treatment.taken_off,
        "largest_semi_major_mm": rounded(treatment.semi_major * 1000, _MM),
        "reason": treatment.reason,
        "variance_factor": None,
    }
    if factor is not None:
        made["variance_factor"] = {
            "value": rounded(factor.value, 6),
            "vtpv": rounded(factor.vtpv, 6),
            "degrees_of_freedom": factor.degrees_of_freedom,
            "lower": rounded(factor.lower, 6),
            "upper": rounded(factor.upper, 6),
            "confidence": factor.confidence,
            "verdict": factor.verdict,
        }
    return made
