"""``decide``: a choice written down with its reason, in decisions.csv."""

from pathlib import Path
from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, nearest, wrong

if TYPE_CHECKING:
    from collections.abc import Mapping

    from brasscap.answer import Answer
    from brasscap.io.tables.table import Table
    from brasscap.progress import Progress

ACTIONS = {
    "leave-out": "do not use it",
    "bring-back": "use it again",
    "hold": "hold a known mark exactly",
    "weight": "let a known mark move within its uncertainty",
    "check-only": "only compare a known mark",
    "rename": "VALUE is the name that is meant",
    "reverse": "start and end were exchanged",
    "value": "VALUE replaces what is booked: COLUMN=VALUE",
    "unit": "VALUE is the unit that is meant: COLUMN=UNIT",
    "reading": "VALUE is how it was read: vertical, slant …",
    "multiplier": "VALUE multiplies standard deviations: plan=N, height=N",
    "criteria": "the change of a test or specification stands",
    "accept": "answers a query and changes nothing",
}
"""What a decision can do: the closed list, each in words."""

_TABLES = {
    "baseline": ("baselines", "baseline"),
    "set-up": ("set_ups", "set_up"),
    "set-up height": ("set_ups", "set_up"),
    "known mark": ("control", "station"),
    "known mark plan": ("control", "station"),
    "known mark height": ("control", "station"),
    "position": ("positions", ""),
    "session": ("baselines", "session"),
    "group": ("", ""),
    "mark": ("stations", "station"),
    "antenna": ("antennas", "antenna"),
    "query": ("", ""),
    "criteria": ("", ""),
}
"""Kind of thing to the table and column that name it."""

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
    (*ACTIONS,),
    'brasscap decide leave-out baseline B11 --who AB --reason "antenna knocked over"',
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Add a row to decisions.csv."""
    from brasscap.answer import Answer
    from brasscap.io.decisions import append_decision
    from brasscap.io.tables.reading import read_folder
    from brasscap.reports.document import Document, Facts, Paragraph, Section
    from brasscap.steps import require_job

    require_job(request.folder)
    progress("reading the tables")
    reading = read_folder(request.folder)
    who = request.values.get("who") or (reading.job.who if reading.job else "")
    row = decision_row(request, reading.tables, who)
    append_decision(request.folder, row)
    what = " ".join(w for w in request.words if w)
    facts = [(k.replace("_", " "), v) for k, v in row.items() if v]
    answered = f"; query {row['answers_query']} is answered" * bool(
        row["answers_query"]
    )
    document = Document(
        f"decision {row['decision']}: {what}{answered}",
        (
            Section("", (Facts(tuple(facts)),)),
            Section("", (Paragraph("next: brasscap run", "next"),)),
        ),
    )
    return Answer(document, {"schema": "brasscap/decide/1", **row})


def decision_row(
    request: Request, tables: "Mapping[str, Table]", who: str
) -> dict[str, str]:
    """Return the row to add: column to text.

    Raises
    ------
    CommandError
        Without a reason, without initials, about something that is in no table.
    """
    from brasscap.io.decisions import COLUMNS
    from brasscap.networks.findings import short_name
    from brasscap.steps import time_utc

    action, kind, name, value = (*request.words, "")[:4]
    kind = kind.replace("known-mark", "known mark").replace("-height", " height")
    reason = request.values.get("reason", "").strip()
    if not reason:
        raise wrong("decide needs a reason: --reason TEXT; nothing was written")
    if not who:
        raise wrong(
            "decide: who decides? give --who INITIALS, or state [job] who in job.toml; "
            "nothing was written"
        )
    answers = name if kind == "query" else request.values.get("answers", "")
    row = dict.fromkeys(COLUMNS, "") | {
        "when_utc": time_utc(request),
        "who": who,
        "action": action,
        "about_kind": kind,
        "about": _known(kind, name, tables),
        "value": _value(action, value),
        "reason": reason,
        "evidence": _evidence(request),
        "answers_query": answers,
    }
    taken = set(tables["decisions"].word("decision")) if "decisions" in tables else ()
    return row | {"decision": short_name("\x1f".join(row.values()), taken)}


def _known(kind: str, name: str, tables: "Mapping[str, Table]") -> str:
    """Return the name, if a table has it; a kind without a table passes."""
    if kind not in _TABLES:
        raise wrong(
            f"decide: there is no kind {kind!r}{nearest(kind, [*_TABLES])} "
            f"(one of {', '.join(_TABLES)})"
        )
    table, column = _TABLES[kind]
    if not table:
        return name
    if table not in tables:
        raise wrong(f"decide: {kind} {name}: the job has no {table}.csv")
    column = column or tables[table].key
    names = sorted({str(n) for n in tables[table].word(column) if n})
    if column and name not in names:
        raise wrong(f"decide: {table}.csv has no {kind} {name!r}{nearest(name, names)}")
    return name


def _value(action: str, value: str) -> str:
    wants = "VALUE" in ACTIONS[action]
    if wants and not value:
        raise wrong(f"decide {action} needs a value: {ACTIONS[action]}")
    if value and not wants and action != "criteria":
        raise wrong(f"decide {action} takes no value, but {value!r} was given")
    return value


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
