"""A job folder becomes a network, or every fault that prevents it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path

from ...networks.errors import InputError
from ...networks.findings import Finding, name_queries
from ...networks.network import Network
from .assemble import build_network, survey
from .assemble.free_stations import with_free_stations
from .assemble.polar import control_rows
from .checks.circles import check_circles
from .checks.faces import check_faces
from .checks.frames_named import check_frames_named
from .checks.kinds import check_kinds
from .checks.marks import check_control, check_marks
from .checks.names import check_names
from .checks.planned_work import check_specified, check_work
from .checks.readings import check_readings
from .checks.realtime import check_positions
from .checks.runs import check_runs
from .checks.swapped import check_swapped
from .checks.variances import check_variances
from .deciding import Decided, decide
from .decisions import Decision, read_decisions
from .job import Job
from .reading import Reading, first_of_each_file, read_folder
from .table import Table
from .told_once import told_once

MOST_TOLD = 500
"""Findings of one file, of what the tables say together as well; the rest is counted.
Faults and open queries come before what is answered or only noted."""


@dataclass(frozen=True, slots=True)
class Loaded:
    """A job that can be computed."""

    folder: Path
    job: Job
    """With the decisions on criteria and multipliers applied."""
    network: Network
    findings: tuple[Finding, ...]
    """Queries, with their names and answers, and notes."""
    input_hash: str
    decisions: tuple[Decision, ...]
    """All of them, in the order in which they were written down."""
    tables: Mapping[str, Table]
    """As they are used, with decisions applied; ``booked`` is as written."""
    computed_hash: str = ""
    """Of what bears on the figures: an answer to a query does not."""
    answers: Mapping[str, str] = field(default_factory=dict)
    """Query to the decision in force that answers it."""
    tried: tuple[Decision, ...] = ()
    """All that were applied: those booked, and those that a command tries."""
    files: tuple[str, ...] = ()
    """Names of the files that rows of the tables stand in."""


def load(
    folder: Path, *, check_only: bool = False, more: Sequence[Decision] = ()
) -> Loaded:
    """Return the network of a job folder, with decisions applied.

    Parameters
    ----------
    folder : Path
    check_only : bool, optional
        Also add the notes that matter to ``check`` alone: what each real-time
        position is good for.
    more : sequence of Decision, optional
        Tried after those that are booked, and kept nowhere; ``decisions`` of the
        result are those booked.

    Returns
    -------
    Loaded

    Raises
    ------
    InputError
        Some fault is left; it carries all findings of all files.
    """
    reading = read_folder(folder)
    findings = list(reading.findings)
    if reading.job is None:
        raise InputError(name_queries(findings))
    decisions: tuple[Decision, ...] = ()
    if "decisions" in reading.tables:
        decisions = read_decisions(reading.tables["decisions"], findings)
    tried = (*decisions, *more)
    decided = decide(reading.job, reading.tables, tried, findings)
    # What a decision has mended was told of the cell as booked, not as it is now.
    findings = [_mended(finding, decided) for finding in findings]
    network = _network(reading, decided, findings, check_only=check_only)
    told = told_once(_without_left_out(findings, decided), reading.tables)
    named = tuple(first_of_each_file(name_queries(told, decided.answers), MOST_TOLD))
    if network is None or any(f.verdict == "fault" for f in named):
        raise InputError(named)
    return Loaded(
        folder,
        decided.job,
        network,
        named,
        reading.input_hash,
        decisions,
        dict(decided.tables),
        _computed_hash(reading, tried),
        decided.answers,
        tried,
        _files(decided.tables),
    )


def _files(tables: Mapping[str, Table]) -> tuple[str, ...]:
    """Return the names of the files that rows stand in."""
    return tuple(
        sorted({str(name) for table in tables.values() for name in set(table.file)})
    )


def _computed_hash(reading: Reading, decisions: tuple[Decision, ...]) -> str:
    """Return the hash of the tables and of the decisions that change their use."""
    changes = [
        (d.action, d.about_kind, d.about, d.value)
        for d in decisions
        if d.in_force and d.action != "accept"
    ]
    return sha256(repr((reading.field_hash, changes)).encode()).hexdigest()


def _network(
    reading: Reading, decided: Decided, findings: list[Finding], *, check_only: bool
) -> Network | None:
    left_out = {name: names != "" for name, names in decided.left_out.items()}
    tables, left_out = control_rows(decided.tables, left_out)
    tables = with_free_stations(tables)
    findings += check_kinds(decided.job, tables)
    findings += check_frames_named(decided.job, tables)
    findings += check_readings(tables) + check_variances(tables)
    surveyed = survey(
        reading.folder, decided.job, tables, left_out, reading.matrices, findings
    )
    if surveyed is None:
        return None
    findings += check_swapped(surveyed) + check_circles(surveyed)
    findings += check_faces(surveyed) + check_runs(surveyed)
    network = build_network(surveyed, findings)
    findings += check_marks(network, tables) + check_names(network, tables)
    findings += check_work(network, tables, decided.job)
    if check_only:
        findings += check_control(network)
        findings += check_positions(network, tables)
        findings += check_specified(reading.folder, network, decided.job)
    return network


def _mended(finding: Finding, decided: Decided) -> Finding:
    """Return a finding about a cell, as a note if a decision gives another value."""
    cell = finding.file, finding.row, finding.column
    decision = decided.mended.get(cell, "")
    if not decision or finding.verdict == "note":
        return finding
    return replace(finding, verdict="note", mend=f"mended by decision {decision}")


def _without_left_out(findings: list[Finding], decided: Decided) -> list[Finding]:
    """Return the findings, those about rows that are left out made notes."""
    by_row: dict[tuple[str, int], str] = {}
    for name, decisions in decided.left_out.items():
        if name not in decided.tables:
            # One reading of a row: what is said of the row still holds.
            continue
        table = decided.tables[name]
        for i, decision in enumerate(decisions):
            if decision:
                by_row[str(table.file[i]), int(table.row[i])] = str(decision)
    told = []
    for finding in findings:
        out = by_row.get((finding.file, finding.row), "") if finding.row else ""
        if out and finding.verdict != "note":
            text = f"left out by decision {out}"
            finding = replace(finding, verdict="note", mend=text)
        told.append(finding)
    return told
