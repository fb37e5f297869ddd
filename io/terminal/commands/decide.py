"""``decide``: a choice written down with its reason, in decisions.csv."""

from pathlib import Path
from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, nearest, wrong
from brasscap.io.tables.actions import ACTIONS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from brasscap.answer import Answer
    from brasscap.io.tables.cell_changes import Refused
    from brasscap.io.tables.job import Job
    from brasscap.io.tables.load import Loaded
    from brasscap.io.tables.table import Table
    from brasscap.networks import Finding
    from brasscap.networks.queries import Query
    from brasscap.progress import Progress

_TOLD = 8
"""Open queries that are named where none is near."""

COMMAND = Command(
    "ACTION KIND NAME [VALUE]",
    3,
    4,
    (
        Option("--reason", "why; needed", "TEXT"),
        Option(
            "--who", "initials; needed unless job.toml states [job] who", "INITIALS"
        ),
        Option("--evidence", "a file; a copy of it is kept in evidence/", "FILE"),
        Option("--answers", "the query that this answers", "QUERY"),
        Option("--supersedes", "the earlier decision that this replaces", "DECISION"),
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
    from brasscap.io.kept_evidence import keep_evidence
    from brasscap.io.tables.reading import read_folder
    from brasscap.networks import InputError
    from brasscap.reports.document import Document, Facts, Paragraph, Section
    from brasscap.steps import require_job

    require_job(request.folder)
    progress("reading the tables")
    reading = read_folder(request.folder)
    if reading.job is None:
        raise InputError([f for f in reading.findings if f.file == "job.toml"])
    piece = _evidence(request)
    row = decision_row(request, reading.job, reading.tables)
    query = _check_query(request, row["answers_query"], progress)
    if query and row["action"] == "accept" and not row["value"]:
        # The register is read by people: a name alone says nothing to them.
        row["value"] = f"{query.slug}, {query.about}"
    row["evidence"] = keep_evidence(request.folder, piece) if piece else ""
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
    if not any(c.isalnum() for c in reason) or reason == "TEXT":
        raise wrong(
            f"decide: {reason} is no reason: write what you saw, in words, for whoever "
            "reads it in ten years; nothing was written"
        )
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
        "answers_query": name if kind == "query" else request.values.get("answers", ""),
        "supersedes": _superseded(request, tables),
    }
    _check(job, tables, row)
    taken = set(tables["decisions"].word("decision")) if "decisions" in tables else ()
    return row | {"decision": short_name("\x1f".join(row.values()), taken)}


def _superseded(request: Request, tables: "Mapping[str, Table]") -> str:
    """Return the decision that is replaced; empty for none.

    Raises
    ------
    CommandError
        There is no such decision.
    """
    name = request.values.get("supersedes", "")
    known = (
        tables["decisions"].word("decision").tolist() if "decisions" in tables else []
    )
    if name and name not in known:
        raise wrong(
            f"decide: --supersedes {name!r} names no decision{nearest(name, known)} "
            f"({', '.join(known) or 'there are none yet'}); nothing was written"
        )
    return name


def _check(job: "Job", tables: "Mapping[str, Table]", row: dict[str, str]) -> None:
    """Raise where the decision could not be carried out on these tables."""
    from dataclasses import replace

    from brasscap.io.tables.cell_changes import Refused
    from brasscap.io.tables.deciding import try_decision
    from brasscap.io.tables.decisions import Decision, read_decisions
    from brasscap.networks import InputError

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
    earlier = tuple(
        replace(one, in_force=False) if one.name == row["supersedes"] else one
        for one in earlier
    )
    try:
        try_decision(job, tables, earlier, new)
    except Refused as refused:
        if refused.slug in ("out-of-range", "number-too-large"):
            raise InputError([_impossible(new.text, refused)]) from None
        likely = f" (did you mean {refused.likely}?)" if refused.likely else ""
        raise wrong(
            f"decide {new.text}: expected {refused.against}{likely}; "
            f"{refused.mend}; nothing was written"
        ) from None


def _impossible(decision: str, refused: "Refused") -> "Finding":
    """Return the fault of a value that no table may hold either."""
    from brasscap.networks import Finding

    return Finding(
        refused.slug,
        "fault",
        f"decide {decision}",
        booked=decision,
        against=refused.against,
        likely=refused.likely,
        mend=f"{refused.mend}; nothing was written",
    )


def _check_query(request: Request, name: str, progress: "Progress") -> "Query | None":
    """Return the query that a decision answers; None where it answers none.

    The results are looked at only where the tables raise no query of that name.

    Raises
    ------
    CommandError
        Nobody asked it.
    """
    from brasscap.networks import InputError
    from brasscap.networks.queries import input_queries
    from brasscap.steps import read_job
    from brasscap.topo_findings import shot_findings

    if not name:
        return None
    try:
        loaded = read_job(request, progress)
    except InputError as error:
        asked = input_queries(error.findings)
        return _asked(name, asked, "the input; with its faults nothing else is known")
    asked = input_queries((*loaded.findings, *shot_findings(loaded)))
    if name not in {query.name for query in asked}:
        asked = _of_results(request, loaded, progress) or asked
    return _asked(name, asked, "this job")


def _of_results(
    request: Request, loaded: "Loaded", progress: "Progress"
) -> "list[Query]":
    """Return all queries of a job; none where it has no solution."""
    from brasscap.networks import NoSolution
    from brasscap.queries import all_queries
    from brasscap.steps import adjusted

    for mode in ("constrained", "minimal"):
        try:
            made = adjusted(request, loaded, mode, progress, keep=False)
        except NoSolution:
            continue
        return list(all_queries(request, loaded, made.adjustment, progress).all)
    return []


def _asked(name: str, asked: "list[Query]", where: str) -> "Query":
    """Return the query of a name, or say which open ones are nearest."""
    from difflib import get_close_matches

    for query in asked:
        if query.name == name and query.state != "gone":
            return query
    names = [query.name for query in asked if query.state == "open"]
    near = get_close_matches(name.upper(), names, n=3, cutoff=0.5)
    told = ", ".join(near or names[:_TOLD]) or "none"
    more = f" and {len(names) - _TOLD} more" if not near and len(names) > _TOLD else ""
    word = "nearest open ones" if near else "open ones"
    raise wrong(
        f"decide: there is no query {name!r} ({word} of {where}: {told}{more}); "
        "nothing was written; all of them:  brasscap"
    )


def _evidence(request: Request) -> Path | None:
    """Return the file given as evidence; None without one.

    Raises
    ------
    CommandError
        There is no such file.
    """
    given = request.values.get("evidence")
    if given is None:
        return None
    for path in (
        Path(given),
        request.folder / given,
        request.folder / "evidence" / given,
    ):
        if path.is_file():
            return path
    raise wrong(f"--evidence {given}: there is no such file; nothing was written")
