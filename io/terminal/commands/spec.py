"""``spec``: whether it meets the specification."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, wrong

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.progress import Progress

COMMAND = Command(
    "",
    0,
    0,
    (
        Option(
            "--spec", "one of job.toml, or a standard's own; all if not said", "NAME"
        ),
        Option("--pairs", "all, adjacent, or a file of pairs, instead of its own", "P"),
        Option("--worst", "how many lines to show; 10 if not said", "N"),
        Option("--per-mark", "each mark by its worst pair"),
        Option("--statement", "a draft of what to write, for the licensed person"),
    ),
    example="brasscap spec --spec alta-nsps-2026 --pairs corners.csv",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Hold the solutions against what is asked; nothing is changed or written."""
    from brasscap.answer import Answer
    from brasscap.reports.content_spec import Held, spec_document
    from brasscap.reports.objects_spec import spec_object
    from brasscap.specifying import compliance, record_words, specifications
    from brasscap.steps import exit_code, head, read_job

    worst = _count(request.values.get("worst", "10"))
    loaded = read_job(request, progress)
    wanted = request.values.get("spec", "")
    stated = specifications(loaded, wanted, request.values.get("pairs", ""))
    held = Held(
        tuple(compliance(request, loaded, stated, progress)),
        worst,
        "per-mark" in request.values,
        "statement" in request.values,
        record_words(loaded),
    )
    heading = head(request, loaded)
    return Answer(
        spec_document(held, heading),
        spec_object(held, heading.findings),
        exit_code(held.verdicts, loaded, request),
    )


def _count(text: str) -> int:
    if not text.isdecimal() or not int(text):
        raise wrong(f"--worst {text}: a whole number of lines, 1 or more")
    return int(text)
