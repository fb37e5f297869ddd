"""A job's topo/ becomes shots, or every fault that prevents it."""

from dataclasses import dataclass

import numpy as np

from ...networks.errors import InputError
from ...networks.findings import Finding, name_queries
from ...networks.shots import Bases, PolarShots, Shots
from ...networks.topo_day import Day
from .assemble.bases import no_bases
from .assemble.constructions import build_checks, build_constructions, point_numbers
from .assemble.field_tests import build_field_sets
from .assemble.polar import build_polar
from .assemble.shots import build_shots, no_shots
from .assemble.surroundings import Surroundings, surroundings
from .checks.shots import check_shot_rows
from .load import Loaded
from .table import Table
from .topo import TopoTables, first_told, read_topo


@dataclass(frozen=True, slots=True)
class LoadedTopo:
    """Shots that can be judged, and the tables that they come from."""

    day: Day
    tables: TopoTables
    findings: tuple[Finding, ...]
    """Queries, with their names and answers, and notes."""


def load_topo(loaded: Loaded) -> LoadedTopo:
    """Return the shots of a job, polar ones too, and what is made from them.

    Parameters
    ----------
    loaded : Loaded
        The job's control network.

    Raises
    ------
    InputError
        Some fault is left in topo/; it carries all findings of all its files.
    """
    read = read_topo(loaded.folder)
    findings = list(read.findings)
    around = surroundings(loaded.job, loaded.network, loaded.tables)
    polar = build_polar(around, findings)
    shots, bases = _shots(read, around, polar, findings)
    roots = shots.name if polar is None else (*shots.name, *polar.name)
    _twice(shots, polar, loaded, findings)
    number = point_numbers(roots, read.constructions, findings)
    constructions = build_constructions(
        read.constructions, number, len(roots), findings
    )
    checks = build_checks(read.checks, number, findings)
    sets = build_field_sets(read.field_test, loaded.job.topo, findings)
    answers = {d.answers_query: d.name for d in loaded.decisions if d.answers_query}
    named = name_queries(first_told(findings), answers)
    if any(f.verdict == "fault" for f in named):
        raise InputError(named)
    day = Day(shots, bases, polar, constructions, checks, sets)
    return LoadedTopo(day, read, tuple(named))


def _shots(
    read: TopoTables,
    around: Surroundings,
    polar: PolarShots | None,
    findings: list[Finding],
) -> tuple[Shots, Bases]:
    if read.shots is not None:
        shots, stood = build_shots(read.shots, around, findings)
        findings.extend(check_shot_rows(read.shots, shots, stood.bases))
        return shots, stood.bases
    if polar is not None:
        # All shots are polar ones: a topo/ without shots is then no fault.
        findings[:] = [f for f in findings if f.slug != "no-shots"]
    return no_shots(), no_bases()


def _twice(
    shots: Shots, polar: PolarShots | None, loaded: Loaded, findings: list[Finding]
) -> None:
    """Tell polar shots that have the name of another shot."""
    if polar is None:
        return
    known = set(shots.name)
    table: Table = loaded.tables["total_station"]
    pointing = table.word("pointing")
    for i in np.flatnonzero(table.has("code")).tolist():
        if pointing[i] in known:
            findings.append(
                table.finding(
                    "duplicate-name",
                    "fault",
                    i,
                    ("pointing",),
                    against="each shot once; topo/ has one of this name",
                    mend="rename one of them",
                )
            )
