"""``adjust``: best coordinates, and what they are worth."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, wrong
from brasscap.workers import OPTIONS, workers_asked

if TYPE_CHECKING:
    from brasscap.adjust.cluster import Workers
    from brasscap.answer import Answer
    from brasscap.progress import Progress

COMMAND = Command(
    "[minimal | constrained | free]",
    0,
    1,
    (
        Option(
            "--over",
            "marks a free network is laid on: known, all, or names with commas",
            "LIST",
        ),
        Option("--trial", "what was tried on a trial page, adjusted in full", "FILE"),
        *OPTIONS,
    ),
    ("minimal", "constrained", "free"),
    "brasscap adjust minimal",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Adjust, judge, keep the result."""
    mode = request.words[0] if request.words else "constrained"
    if request.values.get("over") is not None and mode != "free":
        raise wrong("--over is for adjust free; the other modes hang on known marks")
    if "trial" in request.values:
        if {"workers", "scheduler"} & {*request.values}:
            raise wrong("a trial is not shared: leave --workers and --scheduler out")
        return _trial(request, progress)
    # The workers stay until all is judged: they solve for what tests ask.
    with workers_asked(request, progress) as workers:
        return _answered(request, progress, mode, workers)


def _answered(
    request: Request, progress: "Progress", mode: str, workers: "Workers | None"
) -> "Answer":
    from brasscap.answer import Answer
    from brasscap.large_jobs import with_full_tables
    from brasscap.reports.content import adjust_document
    from brasscap.reports.judged import judge
    from brasscap.reports.objects import adjust_object
    from brasscap.steps import adjusted, exit_code, head, read_for_result

    over = request.values.get("over")
    loaded = read_for_result(request, progress)
    names = (
        over if over in (None, "known", "all") else [*map(str.strip, over.split(","))]
    )
    made = adjusted(request, loaded, mode, progress, names, workers=workers)
    progress("testing")
    judged = judge(made.adjustment)
    heading, notes = with_full_tables(head(request, loaded), loaded, judged, progress)
    # Of a million marks the object is larger than the memory: only if asked for.
    asked = "json" in request.values
    return Answer(
        adjust_document(judged, heading),
        adjust_object(judged, heading) if asked else {},
        exit_code([judged.verdict], loaded, request),
        made.notes + notes,
    )


def _trial(request: Request, progress: "Progress") -> "Answer":
    """Adjust what was tried on a page; nothing is kept."""
    from dataclasses import replace
    from pathlib import Path

    from brasscap.answer import Answer
    from brasscap.reports.content import adjust_document
    from brasscap.reports.document import Paragraph, Section
    from brasscap.reports.judged import judge
    from brasscap.reports.objects import adjust_object
    from brasscap.steps import exit_code, head
    from brasscap.trial_confirming import tried

    mode = request.words[0] if request.words else ""
    if mode == "free":
        raise wrong("--trial is for adjust minimal and adjust constrained")
    made = tried(request, Path(request.values["trial"]), mode, progress)
    judged, heading = judge(made.adjustment), head(request, made.loaded)
    document = adjust_document(judged, heading)
    said = Section(
        "A trial: nothing of the job is changed. To decide so:",
        tuple(Paragraph(line) for line in made.decide),
    )
    return Answer(
        replace(document, sections=(*document.sections, said)),
        adjust_object(judged, heading),
        exit_code([judged.verdict], made.loaded, request),
    )
