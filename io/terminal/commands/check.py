"""``check``: is the input sound? Every fault and query of every file, in one go."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request

if TYPE_CHECKING:
    from collections.abc import Sequence

    from brasscap.answer import Answer
    from brasscap.networks import Finding
    from brasscap.progress import Progress

COMMAND = Command(
    "",
    0,
    0,
    (Option("--only", "findings whose name contains one of these words", "WORDS"),),
    example="brasscap check --only heights,names",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Read everything, adjust nothing, write nothing."""
    from brasscap.answer import Answer, code_of
    from brasscap.io.tables.job import Job
    from brasscap.io.tables.reading import read_folder
    from brasscap.networks import InputError
    from brasscap.reports.content_check import check_document
    from brasscap.reports.heading import Heading
    from brasscap.reports.objects import check_object
    from brasscap.steps import read_job, require_job

    require_job(request.folder)
    try:
        loaded = read_job(request, progress)
        findings, tables, job = loaded.findings, loaded.tables, loaded.job
    except InputError as error:
        findings = error.findings
        reading = read_folder(request.folder)
        tables, job = reading.tables, reading.job or Job()
    sizes = [(name, len(table)) for name, table in sorted(tables.items())]
    shown = chosen(findings, request.values.get("only", ""))
    faults = sum(f.verdict == "fault" for f in shown)
    queries = sum(f.verdict == "query" and f.is_open for f in shown)
    verdict = "fault" if faults else "query" if queries else "meets"
    return Answer(
        check_document(shown, sizes, Heading(job.title)),
        check_object(shown, sizes),
        code_of([verdict], queries, request.strict),
    )


def chosen(findings: "Sequence[Finding]", words: str) -> "list[Finding]":
    """Return the findings whose slug has one of some words, comma between them.

    Examples
    --------
    >>> from brasscap.networks import Finding
    >>> [f.slug for f in chosen([Finding("height-of-zero", "query", "")], "heights")]
    ['height-of-zero']
    """
    wanted = [word.strip().rstrip("s") for word in words.split(",") if word.strip()]
    return [f for f in findings if not wanted or any(w in f.slug for w in wanted)]
