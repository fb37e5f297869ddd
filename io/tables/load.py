"""A job folder becomes a network, or every fault that prevents it."""

from dataclasses import dataclass
from pathlib import Path

from ...networks.errors import InputError
from ...networks.findings import Finding, name_queries
from ...networks.network import Network
from .assemble import build_network, survey
from .decisions import Decision
from .job import Job
from .reading import read_folder
from .table import Table


@dataclass(frozen=True, slots=True)
class Loaded:
    """A job that can be computed."""

    folder: Path
    job: Job
    network: Network
    findings: tuple[Finding, ...]
    """Queries, with their names and answers, and notes."""
    input_hash: str
    decisions: tuple[Decision, ...]
    tables: dict[str, Table]


def load(folder: Path, *, check_only: bool = False) -> Loaded:
    """Return the network of a job folder, with decisions applied."""
    reading = read_folder(folder)
    findings = list(reading.findings)
    network = None
    if reading.job is not None:
        surveyed = survey(
            folder, reading.job, reading.tables, {}, reading.matrices, findings
        )
        if surveyed is not None:
            network = build_network(surveyed, findings)
    named = tuple(name_queries(findings))
    if reading.job is None or network is None:
        raise InputError(named)
    if any(f.verdict == "fault" for f in named):
        raise InputError(named)
    return Loaded(
        folder, reading.job, network, named, reading.input_hash, (), reading.tables
    )
