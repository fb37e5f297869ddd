"""``check``: is the input sound? Every fault and query of every file, in one go."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.progress import Progress

COMMAND = Command(
    "",
    0,
    0,
    (Option("--only", "findings on these subjects, comma between", "SUBJECTS"),),
    example="brasscap check --only heights,names",
)


def more() -> str:
    """Return the subjects, for ``--help``."""
    from textwrap import fill

    from brasscap.subjects import SUBJECTS

    indent = "  "
    words = fill(
        ", ".join(SUBJECTS), 72, initial_indent=indent, subsequent_indent=indent
    )
    return f"subjects of --only\n{words}"


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
    from brasscap.subjects import slugs_of
    from brasscap.topo_findings import shot_findings

    only = request.values.get("only")
    wanted = None if only is None else slugs_of(only)
    require_job(request.folder)
    try:
        loaded = read_job(request, progress)
        findings, tables, job = loaded.findings, loaded.tables, loaded.job
        findings = (*findings, *shot_findings(loaded))
    except InputError as error:
        findings = error.findings
        reading = read_folder(request.folder)
        tables, job = reading.tables, reading.job or Job()
    sizes = [(name, len(table)) for name, table in sorted(tables.items())]
    shown = [f for f in findings if wanted is None or f.slug in wanted]
    faults = sum(f.verdict == "fault" for f in shown)
    queries = sum(f.verdict == "query" and f.is_open for f in shown)
    verdict = "fault" if faults else "query" if queries else "meets"
    return Answer(
        check_document(shown, sizes, Heading(job.title)),
        check_object(shown, sizes),
        code_of([verdict], queries, request.strict),
    )
