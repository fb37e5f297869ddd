"""``reliability``: what blunder could hide, and what it would do unseen."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, wrong

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.judge.external import Reliability
    from brasscap.answer import Answer
    from brasscap.progress import Progress

BY = ("observation", "set-up", "tripod", "antenna", "session", "mark")
COMMAND = Command(
    "",
    0,
    0,
    (
        Option(
            "--by", "one table, whole; all in short if not said", "THING", False, BY
        ),
        Option("--only", "what nothing checks", "WHAT", False, ("unchecked",)),
        Option(
            "--plant",
            "put a blunder in and see: kind, name, direction, size, unit",
            "BLUNDER",
        ),
        Option(
            "--datum",
            "the solution that is looked at; constrained if not said",
            "MODE",
            False,
            ("minimal", "constrained"),
        ),
    ),
    example='brasscap reliability --plant "set-up O11 height 30 mm"',
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Look for what could hide; nothing is changed or written."""
    from brasscap.adjust.judge.planting import plant
    from brasscap.answer import Answer
    from brasscap.planting import read_blunder
    from brasscap.queries import Known, all_queries, with_own_queries
    from brasscap.reports.content_reliability import Hidden, reliability_document
    from brasscap.reports.objects_reliability import reliability_object
    from brasscap.steps import adjusted, exit_code, head, read_job

    by, said = request.values.get("by", ""), request.values.get("plant")
    if said is not None and (by or "only" in request.values):
        raise wrong("--plant is an exercise of its own; leave --by and --only away")
    blunder = read_blunder(said) if said is not None else None
    loaded = read_job(request, progress)
    mode = request.values.get("datum", "constrained")
    adjustment = adjusted(request, loaded, mode, progress, keep=False).adjustment
    progress("looking for what could hide")
    found = hidden_in(adjustment)
    hidden = Hidden(
        adjustment,
        found,
        by,
        "only" in request.values,
        plant(adjustment, blunder) if blunder else None,
    )
    heading = head(request, loaded)
    shown = hidden.planted.verdict if hidden.planted else hidden.verdict
    answer = Answer(
        reliability_document(hidden, heading),
        reliability_object(hidden, heading.findings) | {"queries": []},
        exit_code([shown], loaded, request),
    )
    if blunder or mode != "constrained":
        return answer
    queries = all_queries(
        request, loaded, adjustment, progress, known=Known(hidden=found)
    )
    return with_own_queries(request, loaded, answer, queries, shown)


def hidden_in(adjustment: "Adjustment") -> "dict[str, Reliability]":
    """Return what could hide, by what could be wrong."""
    from brasscap.adjust.judge import hypotheses
    from brasscap.adjust.judge.external import reliability

    return {
        "set-up": reliability(adjustment, hypotheses.set_ups(adjustment)),
        "tripod": reliability(adjustment, hypotheses.equipment(adjustment, "tripod")),
        "antenna": reliability(adjustment, hypotheses.equipment(adjustment, "antenna")),
        "session": reliability(adjustment, hypotheses.sessions(adjustment)),
        "observation": reliability(adjustment, hypotheses.observations(adjustment)),
    }


def unlimited_in(adjustment: "Adjustment") -> "dict[str, Reliability]":
    """Return what nothing checks and what it moves, of set-ups and observations."""
    from brasscap.adjust.judge.blind import blind_observations, blind_set_ups
    from brasscap.adjust.judge.external import unlimited

    return {
        "set-up": unlimited(adjustment, blind_set_ups(adjustment)),
        "observation": unlimited(adjustment, blind_observations(adjustment)),
    }
