"""``preanalysis``: whether a design will do, before anybody goes out."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.progress import Progress

COMMAND = Command(
    "",
    0,
    0,
    (
        Option("--sessions", "a plan in the shape of proposed.csv, instead", "FILE"),
        Option("--receivers", "how many, instead of [crew] receivers", "N"),
        Option("--start", "when, local clock, instead of [crew] start", "HH:MM"),
        Option("--hours", "how long, instead of [crew] hours", "H"),
        Option("--from", "mark where the day starts and ends", "STATION"),
    ),
    example="brasscap preanalysis --sessions plan.csv --receivers 3",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Observe the plan without errors and judge what it would be worth."""
    from brasscap.adjust.judge.limits import noncentrality
    from brasscap.answer import Answer
    from brasscap.preplanning import preplanned
    from brasscap.reports.content_preanalysis import (
        Preanalysis,
        WorkWords,
        preanalysis_document,
    )
    from brasscap.reports.objects_preanalysis import preanalysis_object
    from brasscap.steps import exit_code, head, read_job

    loaded = read_job(request, progress)
    made = preplanned(request, loaded, progress)
    network = made.adjustment.network
    options = network.options
    found = Preanalysis(
        made.adjustment,
        made.specification.name if made.specification else "",
        made.state,
        tuple(
            WorkWords(
                one.planned.name,
                one.planned.kind,
                tuple(network.marks.name[mark] for mark in one.planned.marks),
                one.minutes,
            )
            for one in made.work
        ),
        made.without,
        made.crew,
        made.day,
        made.days,
        made.assumed,
        made.before,
        noncentrality(options.outlier_alpha, options.power),
    )
    heading = head(request, loaded)
    return Answer(
        preanalysis_document(found, heading),
        preanalysis_object(found, heading.findings),
        exit_code(found.verdicts, loaded, request),
    )
