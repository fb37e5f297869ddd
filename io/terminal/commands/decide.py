"""``decide``: a choice written down with its reason, in decisions.csv."""

from pathlib import Path
from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, nearest, wrong
from brasscap.io.tables.actions import ACTIONS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from brasscap.answer import Answer
    from brasscap.io.tables.job import Job
    from brasscap.io.tables.table import Table
    from brasscap.progress import Progress

COMMAND = Command(
    "ACTION KIND NAME [VALUE]",
    3,
    4,
    (
        Option("--reason", "why; needed", "TEXT"),
        Option(
            "--who", "initials; needed unless job.toml states [job] who", "INITIALS"
        ),
        Option("--evidence", "a file in the job's evidence/ folder", "FILE"),
        Option("--answers", "the query that this answers", "QUERY"),
    ),
    ACTIONS,
    'brasscap decide leave-out baseline B11 --who AB --reason "antenna knocked over"',
)


def more() -> str:
    """Return the actions, for ``--help``: the page of ``brasscap help decide``."""
    from textwrap import fill

    from brasscap.commands.help import topics

    pages = topics()["decide"].split("\n\n")[1:]
    return "actions\n" + "\n".join(
        fill(page, 80, initial_indent="  ", subsequent_indent="    ") for page in pages
    )


def run(request: Request, progress: "Progress") -> "Answer":
    """Add a row to decisions.csv."""
    from brasscap.answer import Answer
    from brasscap.io.decisions import append_decision
    from brasscap.io.tables.reading import read_folder
    from brasscap.networks import InputError
    from brasscap.reports.document import Document, Facts, Paragraph, Section
    from brasscap.steps import require_job

    require_job(request.folder)
    progress("reading the tables")
    reading = read_folder(request.folder)
    if reading.job is None:
        raise InputError([f for f in reading.findings if f.file == "job.toml"])
    row = decision_row(request, reading.job, reading.tables)
    _check_query(request, row["answers_query"])
    append_decision(request.folder, row)
    facts = [(k.replace("_", " "), v) for k, v in row.items() if v]
    said = f"decision {row['decision']}: {' '.join(w for w in request.words if w)}"
    if row["answers_query"]:
        said += f"; query {row['answers_query']} is answered"
    document = Document(
        said,
        (
            Section("", (Facts(tuple(facts)),)),
            Section("", (Paragraph("next: brasscap run", "next"),)),
        ),
    )
    return Answer(document, {"schema": "brasscap/decide/1", **row})


def decision_row(
    request: Request, job: "Job", tables: "Mapping[str, Table]"
) -> dict[str, str]:
    """Return the row to add: column to text.

    Raises
    ------
    CommandError
        Without a reason, without initials, or where it cannot be carried out.
    """
    from brasscap.io.decisions import COLUMNS
    from brasscap.networks.findings import short_name
    from brasscap.steps import time_utc

    action, kind, name, value = (*request.words, "")[:4]
    reason = request.values.get("reason", "").strip()
    who = request.values.get("who") or job.who
    if not reason:
        raise wrong("decide needs a reason: --reason TEXT; nothing was written")
    if not who:
        raise wrong(
            "decide: who decides? give --who INITIALS, or state [job] who in job.toml; "
            "nothing was written"
        )
    row = dict.fromkeys(COLUMNS, "") | {
        "when_utc": time_utc(request),
        "who": who,
        "action": action,
        "about_kind": kind,
        "about": name,
        "value": value,
        "reason": reason,
        "evidence": _evidence(request),
        "answers_query": name if kind == "query" else request.values.get("answers", ""),
    }
    _check(job, tables, row)
    taken = set(tables["decisions"].word("decision")) if "decisions" in tables else ()
    return row | {"decision": short_name("\x1f".join(row.values()), taken)}


def _check(job: "Job", tables: "Mapping[str, Table]", row: dict[str, str]) -> None:
    """Raise where the decision could not be carried out on these tables."""
    from brasscap.io.tables.cell_changes import Refused
    from brasscap.io.tables.deciding import try_decision
    from brasscap.io.tables.decisions import Decision, read_decisions

    earlier = read_decisions(tables["decisions"], []) if "decisions" in tables else ()
    new = Decision(
        "",
        row["action"],
        row["about_kind"],
        row["about"],
        row["value"],
        row["reason"],
        row["who"],
        answers_query=row["answers_query"],
    )
    try:
        try_decision(job, tables, earlier, new)
    except Refused as refused:
        likely = f" (did you mean {refused.likely}?)" if refused.likely else ""
        raise wrong(
            f"decide {new.text}: expected {refused.against}{likely}; "
            f"{refused.mend}; nothing was written"
        ) from None


def _check_query(request: Request, name: str) -> None:
    """Raise where a decision answers a query that nobody asked."""
    from brasscap.networks import InputError
    from brasscap.progress import Progress
    from brasscap.steps import read_job

    if not name:
        return
    try:
        findings = read_job(request, Progress("off")).findings
    except InputError as error:
        findings = error.findings
    names = [f.query for f in findings if f.query]
    if name not in names:
        raise wrong(
            f"decide: there is no query {name!r}{nearest(name, names)} (of this input: "
            f"{', '.join(names) or 'none'}); nothing was written"
        )


def _evidence(request: Request) -> str:
    """Return the name of the evidence, relative to the job's folder."""
    given = request.values.get("evidence")
    if given is None:
        return ""
    kept = request.folder / "evidence"
    for path in (Path(given), request.folder / given, kept / given):
        if path.is_file() and path.resolve().is_relative_to(kept.resolve()):
            return path.resolve().relative_to(request.folder.resolve()).as_posix()
    raise wrong(
        f"--evidence {given}: no such file in {kept}; copy it there first, so that it "
        "stays with the job"
    )
