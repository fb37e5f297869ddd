"""``control``: each known mark against the survey and the others."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress

COMMAND = Command(
    "",
    0,
    0,
    (
        Option("--subsets", "which of at most 8 known marks agree among themselves"),
        Option(
            "--datum",
            "constrained: each mark in use left out in turn (if not said); minimal: "
            "all against one",
            "MODE",
            False,
            ("minimal", "constrained"),
        ),
    ),
    example="brasscap control --subsets",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Compare the known marks; nothing is changed or written."""
    from brasscap.adjust.judge.control import control
    from brasscap.answer import Answer
    from brasscap.queries import Known, all_queries, with_own_queries
    from brasscap.reports.content_control import control_document, verdict_of
    from brasscap.reports.objects_control import control_object
    from brasscap.steps import adjusted, exit_code, head, read_job

    loaded = read_job(request, progress)
    mode = request.values.get("datum", "constrained")
    made = adjusted(request, loaded, mode, progress, keep=False)
    progress("leaving known marks out")
    found = control(made.adjustment, subsets="subsets" in request.values)
    heading = head(request, loaded)
    premise = _premise(request, loaded, made.adjustment, progress)
    answer = Answer(
        control_document(found, heading, premise=premise),
        control_object(found, heading.findings) | {"queries": [], "premise": premise},
        exit_code([verdict_of(found)], loaded, request),
    )
    if mode != "constrained":
        return answer
    queries = all_queries(
        request, loaded, made.adjustment, progress, known=Known(control=found)
    )
    return with_own_queries(request, loaded, answer, queries, verdict_of(found))


def _premise(
    request: Request,
    loaded: "Loaded",
    adjustment: "Adjustment",
    progress: "Progress",
) -> str:
    """Return that the survey fails by itself, before any known mark is compared."""
    from brasscap.adjust.judge import variance_factor_test
    from brasscap.networks import NoSolution
    from brasscap.reports.content_control import premise_words
    from brasscap.steps import adjusted

    if adjustment.datum.mode != "minimal":
        try:
            made = adjusted(request, loaded, "minimal", progress, keep=False)
        except NoSolution:
            return ""
        adjustment = made.adjustment
    return premise_words(variance_factor_test(adjustment))
