"""What is estimated: space, plan or heights; inferred where job.toml is silent."""

from collections.abc import Mapping

from ....networks.findings import Finding
from ..job import Job
from ..spelling import nearest
from ..table import Table
from .names import MarkNames

_PLACES = ("latitude", "north", "x")
_HEIGHTS = ("height", "ellipsoidal_height", "x")


def dimension_of(job: Job, tables: Mapping[str, Table], findings: list[Finding]) -> str:
    """Return ``space``, ``plan`` or ``height``, and say so where it is inferred.

    Heights alone where there are levels and nothing that sees the plan; plan alone
    where neither an observation nor a known mark brings a height. Jobs of vectors
    and positions stay as they are: whatever the observations reach.

    Parameters
    ----------
    job : Job
    tables : mapping of str to Table
    findings : list of Finding
        A note is added where the dimension is inferred, a fault for a table that
        has no part in the one that is stated.
    """
    if job.network.dimension:
        findings += _not_in(job, tables)
        return job.network.dimension
    sights, levels = _filled(tables, "total_station"), _filled(tables, "levels")
    if not (sights or levels):
        return ""
    vectors = _filled(tables, "baselines")
    plan = sights or vectors or _booked(tables, "positions", _PLACES)
    height = levels or vectors or _booked(tables, "positions", _HEIGHTS)
    if not plan:
        found, why = "height", "levels only: nothing observes the plan"
    elif not height and not _booked(tables, "control", _HEIGHTS):
        found, why = "plan", "no known height, no levels, no vectors"
    elif not height and not _sees_heights(tables["total_station"]):
        found, why = "plan", "no zenith angle, slope distance, level or vector"
    else:
        found, why = "space", "plan and heights are observed"
    findings.append(
        Finding(
            "dimension-inferred",
            "note",
            "the network",
            file="job.toml",
            column="dimension",
            booked="[network] dimension is not stated",
            against=f"taken as {found}: {why}",
            mend=f'state [network] dimension = "{found}"',
        )
    )
    return found


def _not_in(job: Job, tables: Mapping[str, Table]) -> list[Finding]:
    """Return the faults of tables that have no part in the stated dimension."""
    stated = job.network.dimension
    useless = {"plan": ["levels"], "height": ["total_station"]}.get(stated, [])
    if stated != "space" and job.frame.kind == "geodetic":
        # East, north and up are not the axes of a vector there.
        useless.append("baselines")
    return [
        Finding(
            "kind-not-in-dimension",
            "fault",
            f"{len(tables[name])} rows of {name}.csv",
            file=str(tables[name].file[0]),
            booked=f"{len(tables[name])} rows",
            against=f'[network] dimension = "{stated}": they are not part of it',
            mend=f'state dimension = "space", or move {name}.csv to evidence/',
        )
        for name in useless
        if _filled(tables, name)
    ]


def _filled(tables: Mapping[str, Table], name: str) -> bool:
    return name in tables and len(tables[name]) > 0


def _booked(tables: Mapping[str, Table], name: str, columns: tuple[str, ...]) -> bool:
    return name in tables and any(tables[name].has(c).any() for c in columns)


def _sees_heights(table: Table) -> bool:
    return bool((table.has("zenith") | table.has("slope_distance")).any())


def held_names(job: Job, names: MarkNames) -> list[Finding]:
    """Return the faults of holding a mark, or an azimuth to one, that is none.

    Parameters
    ----------
    job : Job
    names : MarkNames
    """
    stated = {
        "minimal_station": job.network.minimal_station,
        "minimal_azimuth_to": job.network.minimal_azimuth_to,
    }
    return [
        Finding(
            "unknown-name",
            "fault",
            f"[network] {key}",
            file="job.toml",
            column=key,
            booked=f"{key} = {name!r}",
            against=f"the {len(names.names)} names of stations.csv",
            likely=nearest(name, names.names),
            mend="name a mark of the job, or leave the key out",
        )
        for key, name in stated.items()
        if name and names.find(name) < 0
    ]
