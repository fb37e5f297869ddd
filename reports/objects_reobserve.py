"""A crew's plan as a plain object for JSON."""

from collections.abc import Sequence

from ..adjust.design.standing import blind_of, over_count
from ..networks import Finding
from ..networks.clock import clock_of
from .crew_plan import (
    Offered,
    Reobserve,
    checked_by,
    last_state,
    state_before,
    worst_seen,
)
from .objects import findings_objects
from .objects_figures import RATIO, Object, rounded
from .words_reobserve import not_worth

_MM = 4


def reobserve_object(made: Reobserve, findings: Sequence[Finding] = ()) -> Object:
    """Return the object of `brasscap/reobserve/1`.

    Parameters
    ----------
    made : Reobserve
    findings : sequence of Finding
        Of the input.
    """
    return {
        "schema": "brasscap/reobserve/1",
        "datum": made.adjustment.datum.mode,
        "held": list(made.adjustment.datum.held),
        "units": {"length": "m"},
        "purpose": made.purpose,
        "order": list(made.order),
        "specification": made.specification,
        "before": _standing(made, 0),
        "after": _standing(made, len(made.plan.order)),
        "jobs": [_job(made, place) for place in range(len(made.plan.order))],
        "back": clock_of(made.plan.day.back),
        "not_worth": [_left(one, why) for one, why in not_worth(made)],
        "assumed": list(made.assumed),
        "findings": findings_objects(findings),
    }


def _standing(made: Reobserve, place: int) -> Object:
    state = made.state if not place else last_state(made)
    return {
        "unchecked_count": len(blind_of(state)),
        "over_limit_count": over_count(state) if made.specification else None,
        "largest_hidden_mm": rounded(1000 * worst_seen(made, state), _MM),
    }


def _job(made: Reobserve, place: int) -> Object:
    one = made.offers[made.plan.order[place]]
    visits = [v for v in made.plan.day.visits if v.task == place]
    step = made.plan.steps[place]
    names = made.adjustment.network.marks.name
    sizes = [worst_seen(made, s) for s in (state_before(made, place), step.state)]
    checked = [step.state.hypotheses[k] for k in checked_by(made, place)]
    return {
        "order": place + 1,
        "proposal": one.proposal,
        "kind": one.kind,
        "from": one.stations[0],
        "to": one.stations[-1] if len(one.stations) > 1 else "",
        "stations": list(one.stations),
        "start": clock_of(visits[0].begin),
        "end": clock_of(visits[0].end),
        "note": one.note,
        "visits": [
            {
                "team": v.team + 1,
                "station": names[v.mark],
                "leave": clock_of(v.leave),
                "arrive": clock_of(v.arrive),
                "ready": clock_of(v.ready),
                "down": clock_of(v.down),
            }
            for v in visits
        ],
        "worth": rounded(step.worth, RATIO),
        "buys": {
            "failures_removed_count": int(step.scores.failures[0]),
            "unchecked_removed": [f"{h.kind} {h.name}" for h in checked],
            "suspect_groups_parted_count": int(step.scores.parted[0]),
            "smallest_detectable_mm": [rounded(1000 * s, _MM) for s in sizes],
            "worst_pair_ratio": rounded(float(step.scores.pair[0]), RATIO),
            "unseen_movement_ratio": rounded(float(step.scores.exposed[0]), RATIO),
        },
    }


def _left(one: Offered, why: str) -> Object:
    return {
        "proposal": one.proposal,
        "kind": one.kind,
        "stations": list(one.stations),
        "minutes": rounded(one.minutes, 1),
        "why": why,
    }
