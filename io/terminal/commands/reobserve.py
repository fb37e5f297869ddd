"""``reobserve``: what now, with this crew and these hours."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.progress import Progress
    from brasscap.reobserving import Reobserving
    from brasscap.reports.content_reobserve import Reobserve

COMMAND = Command(
    "",
    0,
    0,
    (
        Option("--hours", "how long, instead of [crew] hours", "H"),
        Option("--receivers", "how many, instead of [crew] receivers", "N"),
        Option("--from", "mark where the day starts and ends", "STATION"),
        Option(
            "--purpose",
            "what matters most; spec if not said",
            "WHAT",
            False,
            ("spec", "reliability", "audit"),
        ),
        Option(
            "--datum",
            "the solution that is looked at; constrained if not said",
            "MODE",
            False,
            ("minimal", "constrained"),
        ),
    ),
    example="brasscap reobserve --hours 4 --receivers 2",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Plan a crew's hours; nothing of the job is changed."""
    from brasscap.answer import Answer
    from brasscap.reobserving import reobserving
    from brasscap.reports.content_reobserve import reobserve_document
    from brasscap.reports.objects_reobserve import reobserve_object
    from brasscap.steps import adjusted, head, read_job

    loaded = read_job(request, progress)
    mode = request.values.get("datum", "constrained")
    adjustment = adjusted(request, loaded, mode, progress, keep=False).adjustment
    made = in_words(reobserving(request, loaded, adjustment, progress))
    heading = head(request, loaded)
    return Answer(
        reobserve_document(made, heading), reobserve_object(made, heading.findings)
    )


def in_words(made: "Reobserving") -> "Reobserve":
    """Return a plan with its candidates in words."""
    from brasscap.adjust.judge.limits import noncentrality
    from brasscap.reports.content_reobserve import Offered, Reobserve

    names = made.adjustment.network.marks.name
    return Reobserve(
        made.adjustment,
        made.specification.name if made.specification else "",
        tuple(
            Offered(
                one.proposal,
                one.kind,
                tuple(names[mark] for mark in one.observable.marks),
                one.task.minutes,
                one.note,
                one.blocked,
            )
            for one in made.offers
        ),
        made.state,
        made.plan,
        made.crew,
        tuple(made.choice.order),
        made.assumed,
        noncentrality(made.choice.alpha, made.choice.power),
        made.purpose,
    )
