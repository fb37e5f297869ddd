"""A job folder made into the result that a record keeps: at issue, and to verify."""

from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from brasscap.adjust.follow.topo import Topo
    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress
    from brasscap.reports.judged import Judged


class Rebuilt(NamedTuple):
    """What one folder of tables comes to, nothing reused."""

    loaded: "Loaded"
    constrained: "Judged"
    minimal: "Judged | None"
    topo: "Topo | None"
    """None where the job has no topographic day."""
    result: dict[str, Any]
    """The object of ``result.json``."""


def rebuilt(folder: Path, progress: "Progress") -> Rebuilt:
    """Read, adjust and judge a job folder from nothing but its files.

    Raises
    ------
    InputError, NoSolution, MissingPart
    """
    from brasscap.reports.objects_record import record_result

    loaded = loaded_job(folder, progress)
    constrained = _judged(loaded, "constrained", progress)
    minimal = _minimal(loaded, progress)
    topo = _topo(loaded, constrained, progress)
    result = record_result(constrained, minimal, topo)
    return Rebuilt(loaded, constrained, minimal, topo, result)


def loaded_job(folder: Path, progress: "Progress") -> "Loaded":
    """Return the job in a folder as every command reads it."""
    from brasscap.arguments import Request
    from brasscap.steps import read_job

    return read_job(Request("record", (), {"job": str(folder)}), progress)


def _judged(loaded: "Loaded", mode: str, progress: "Progress") -> "Judged":
    from brasscap.adjust import estimate
    from brasscap.io.results import as_kept
    from brasscap.reports.judged import judge

    progress(f"adjusting, {mode}")
    return judge(as_kept(estimate(loaded.network, mode, progress=progress)))


def _minimal(loaded: "Loaded", progress: "Progress") -> "Judged | None":
    """Return the minimal solution; None where nothing can be held for one."""
    from brasscap.networks import NoSolution

    try:
        return _judged(loaded, "minimal", progress)
    except NoSolution:
        return None


def _topo(
    loaded: "Loaded", constrained: "Judged", progress: "Progress"
) -> "Topo | None":
    """Return the job's shots, judged on its control; None where it has none."""
    from brasscap.io.tables.topo import has_topo
    from brasscap.topo_exporting import judged_day

    if not has_topo(loaded.folder):
        return None
    progress("judging the shots")
    return judged_day(loaded, constrained.adjustment)
