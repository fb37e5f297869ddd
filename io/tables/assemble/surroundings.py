"""The job around the shots: its network, its tables, its marks by every name."""

from collections.abc import Mapping
from dataclasses import dataclass

from ....networks.network import Network
from ..job import Job
from ..table import Table


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What of the job the shots are read with."""

    job: Job
    network: Network
    tables: Mapping[str, Table]
    mark: Mapping[str, int]
    """Every name of a mark, the aliases too, to its number."""


def surroundings(
    job: Job, network: Network, tables: Mapping[str, Table]
) -> Surroundings:
    """Return the job around the shots, with every name by which a mark is booked.

    Parameters
    ----------
    job : Job
    network : Network
    tables : mapping of str to Table
        With decisions applied.
    """
    mark = {name: k for k, name in enumerate(network.marks.name)}
    if "names" in tables:
        table = tables["names"]
        pairs = zip(table.word("name_used"), table.word("station"), strict=True)
        mark |= {used: mark[at] for used, at in pairs if at in mark and used}
    return Surroundings(job, network, tables, mark)
