"""What is to be said about topo/ where the whole input is looked at."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from brasscap.io.tables.load import Loaded
    from brasscap.networks import Finding


def shot_findings(loaded: "Loaded") -> "tuple[Finding, ...]":
    """Return the findings of a job's shots, faults too; none without topo/."""
    from brasscap.io.tables.topo import has_topo
    from brasscap.io.tables.topo_load import load_topo
    from brasscap.networks import InputError

    if not has_topo(loaded.folder):
        return ()
    try:
        return load_topo(loaded).findings
    except InputError as error:
        return tuple(error.findings)
