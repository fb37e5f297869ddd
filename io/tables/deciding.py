"""Decisions applied: the tables as they are to be used, and what is left out.

The tables themselves stay as booked; every change makes a new one in memory.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from ...networks.findings import Finding
from .assemble.names import mark_names
from .cell_changes import Refused, read_as, with_value, with_word
from .decisions import Decision
from .job import Job
from .job_changes import with_criterion, with_multiplier
from .spelling import nearest
from .subjects import Rows, concerned, control_rows, rows_named
from .table import Table, Words


@dataclass(frozen=True, slots=True)
class Decided:
    """A job after its decisions."""

    job: Job
    tables: Mapping[str, Table]
    left_out: Mapping[str, Words] = field(default_factory=dict)
    """Table to (n,) the decision that leaves the row out; empty = it is in use. One
    reading of a pointing: under ``total_station: direction``."""
    mended: Mapping[tuple[str, int, str], str] = field(default_factory=dict)
    """File, row and header of a cell to the decision that gives it another value."""
    answers: Mapping[str, str] = field(default_factory=dict)
    """Query to the decision that answers it."""


def decide(
    job: Job,
    tables: Mapping[str, Table],
    decisions: tuple[Decision, ...],
    findings: list[Finding],
) -> Decided:
    """Return job and tables with the decisions in force applied, in their order.

    Parameters
    ----------
    job : Job
    tables : mapping of str to Table
    decisions : tuple of Decision
    findings : list of Finding
        Decisions that cannot be carried out are added here.

    Returns
    -------
    Decided
    """
    state = Decided(job, tables)
    for decision in decisions:
        if not decision.in_force:
            continue
        try:
            state = _ACTIONS[decision.action](state, decision)
        except KeyError:
            # The schema of the table has told the unknown action.
            continue
        except Refused as refused:
            findings.append(_refusal(tables["decisions"], decision, refused))
            continue
        if decision.answers_query:
            answers = {**state.answers, decision.answers_query: decision.name}
            state = replace(state, answers=answers)
    return state


def _refusal(table: Table, decision: Decision, refused: Refused) -> Finding:
    return table.finding(
        refused.slug,
        "fault",
        decision.position,
        ("action", "about_kind", "about", "value"),
        against=refused.against,
        likely=refused.likely,
        mend=refused.mend,
    )


def _leave_out(state: Decided, decision: Decision) -> Decided:
    return _mark_left_out(state, decision, decision.name)


def _bring_back(state: Decided, decision: Decision) -> Decided:
    return _mark_left_out(state, decision, "")


def _mark_left_out(state: Decided, decision: Decision, by: str) -> Decided:
    left_out = dict(state.left_out)
    rows = concerned(state.tables, decision.about_kind, decision.about)
    for name, some in rows.items():
        column = left_out.get(name)
        if column is None:
            table = state.tables[name.partition(":")[0]]
            column = np.full(len(table), "", dtype=object)
        left_out[name] = column.copy()
        left_out[name][some] = by
    return replace(state, left_out=left_out)


def _use(word: str) -> Callable[[Decided, Decision], Decided]:
    """Return the action that gives known marks a use."""

    def act(state: Decided, decision: Decision) -> Decided:
        if decision.value:
            raise Refused(
                "no value: a standard deviation is changed by a decision of its own",
                "brasscap decide value 'known mark' NAME 'sd_north_mm=…'",
            )
        table = state.tables.get("control")
        rows = control_rows(state.tables, decision.about_kind, decision.about)
        assert table is not None
        for column, some in rows.items():
            table = with_word(table, column, some, word)
        return _with_table(state, table)

    return act


def _rename(state: Decided, decision: Decision) -> Decided:
    kind, new = decision.about_kind, decision.value
    marks = mark_names(state.tables)
    if marks.find(new) < 0:
        raise Refused(
            f"a mark of the job as the new name, not {new!r}",
            "name a mark of stations.csv as the value",
            likely=nearest(new, marks.names),
        )
    if kind in ("set-up", "position"):
        table, rows = rows_named(state.tables, kind, decision.about)
        return _with_table(state, with_word(table, "station", rows, new))
    if kind not in ("mark", "station", "name"):
        raise Refused(
            "station, set-up or position as the kind of thing",
            "brasscap decide value baseline NAME 'to_station=…'  for one end",
        )
    return _rename_everywhere(state, decision)


_NAMING_MARKS = (
    "station",
    "from_station",
    "to_station",
    "horizon_at",
    "target_station",
    "back_station",
)


def _rename_everywhere(state: Decided, decision: Decision) -> Decided:
    """Use another name wherever one is booked; stations.csv stays as it is."""
    old, new, changed = decision.about, decision.value, False
    for name, table in state.tables.items():
        if name in ("stations", "decisions"):
            continue
        for column in _NAMING_MARKS:
            rows = np.flatnonzero(table.word(column) == old)
            if len(rows):
                table, changed = with_word(table, column, rows, new), True
        state = _with_table(state, table)
    if not changed:
        raise Refused(
            f"a name that some table uses; none uses {old!r}",
            "compare the name with the tables",
        )
    return state


def _reverse(state: Decided, decision: Decision) -> Decided:
    if decision.about_kind not in ("baseline", "levelled run", "level difference"):
        raise Refused(
            "baseline or levelled run as the kind of thing",
            "only a vector and a run have a direction",
        )
    table, rows = rows_named(state.tables, decision.about_kind, decision.about)
    columns = dict(table.columns)
    for start, end in (
        ("from_set_up", "to_set_up"),
        ("from_station", "to_station"),
        ("height_used_from", "height_used_to"),
    ):
        for one, other in ((start, end), (end, start)):
            if one in table.columns or other in table.columns:
                numbers = one.startswith("height")
                source = table.number(other) if numbers else table.word(other)
                own = table.number(one) if numbers else table.word(one)
                columns[one] = own.copy()
                columns[one][rows] = source[rows]
    return _with_table(state, replace(table, columns=columns))


def _value(state: Decided, decision: Decision) -> Decided:
    table, rows = rows_named(state.tables, decision.about_kind, decision.about)
    table, column = with_value(table, rows, decision.value)
    return _mend(_with_table(state, table), table, rows, column, decision)


def _unit(state: Decided, decision: Decision) -> Decided:
    table, rows = rows_named(state.tables, decision.about_kind, decision.about)
    table, column = read_as(table, rows, decision.value)
    return _mend(_with_table(state, table), table, rows, column, decision)


def _mend(
    state: Decided, table: Table, rows: Rows, column: str, decision: Decision
) -> Decided:
    mended = dict(state.mended)
    for i in rows.tolist():
        header = table.file_headers.get(str(table.file[i]), table.header)
        key = str(table.file[i]), int(table.row[i]), header.get(column, column)
        mended[key] = decision.name
    return replace(state, mended=mended)


def _reading(state: Decided, decision: Decision) -> Decided:
    readings = ("vertical", "slant", "fixed pole")
    if decision.about_kind != "set-up" or decision.value not in readings:
        raise Refused(
            f"a set-up, and one of {', '.join(readings)} as the value",
            "brasscap decide reading set-up NAME slant",
            likely=nearest(decision.value, readings),
        )
    table, rows = rows_named(state.tables, "set-up", decision.about)
    table = with_word(table, "reading", rows, decision.value)
    if decision.value == "slant":
        table = with_word(table, "measured_to", rows, "slant mark")
    elif "measured_to" in table.columns:
        slant = rows[table.word("measured_to")[rows] == "slant mark"]
        table = with_word(table, "measured_to", slant, "reference point")
    return _with_table(state, table)


def _multiplier(state: Decided, decision: Decision) -> Decided:
    return replace(state, job=with_multiplier(state.job, decision))


def _criteria(state: Decided, decision: Decision) -> Decided:
    return replace(state, job=with_criterion(state.job, decision))


def _accept(state: Decided, decision: Decision) -> Decided:
    if not decision.answers_query:
        raise Refused("the query that is accepted", "fill answers_query")
    return state


def _with_table(state: Decided, table: Table) -> Decided:
    return replace(state, tables={**state.tables, table.name: table})


_ACTIONS: Mapping[str, Callable[[Decided, Decision], Decided]] = {
    "leave-out": _leave_out,
    "bring-back": _bring_back,
    "hold": _use("held"),
    "weight": _use("weighted"),
    "check-only": _use("check-only"),
    "rename": _rename,
    "reverse": _reverse,
    "value": _value,
    "unit": _unit,
    "reading": _reading,
    "multiplier": _multiplier,
    "criteria": _criteria,
    "accept": _accept,
}


def try_decision(
    job: Job,
    tables: Mapping[str, Table],
    earlier: tuple[Decision, ...],
    decision: Decision,
) -> None:
    """Carry out one more decision after those that stand, to see whether it can be.

    Raises
    ------
    Refused
        Says what was expected and what would mend it.
    """
    state = decide(job, tables, earlier, [])
    _ACTIONS[decision.action](state, decision)
