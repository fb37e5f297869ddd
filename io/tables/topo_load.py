"""A job's topo/ becomes shots, or every fault that prevents it."""

from collections.abc import Mapping
from dataclasses import dataclass

from ...networks.errors import InputError
from ...networks.findings import Finding, name_queries
from ...networks.shots import Bases, Shots
from .assemble.shots import build_shots, surroundings
from .checks.shots import check_shot_rows
from .load import Loaded
from .topo import TopoTables, first_told, read_topo


@dataclass(frozen=True, slots=True)
class LoadedTopo:
    """Shots that can be judged, and the tables that they come from."""

    shots: Shots
    bases: Bases
    tables: TopoTables
    findings: tuple[Finding, ...]
    """Queries, with their names and answers, and notes."""


def load_topo(loaded: Loaded) -> LoadedTopo:
    """Return the shots of a job.

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
    if read.shots is None:
        raise InputError(_named(findings, loaded))
    around = surroundings(loaded.job, loaded.network, loaded.tables)
    shots, stood = build_shots(read.shots, around, findings)
    findings += check_shot_rows(read.shots, shots, stood.bases)
    named = _named(first_told(findings), loaded)
    if any(f.verdict == "fault" for f in named):
        raise InputError(named)
    return LoadedTopo(shots, stood.bases, read, tuple(named))


def _named(findings: list[Finding], loaded: Loaded) -> list[Finding]:
    return name_queries(findings, _answers(loaded))


def _answers(loaded: Loaded) -> Mapping[str, str]:
    return {d.answers_query: d.name for d in loaded.decisions if d.answers_query}
