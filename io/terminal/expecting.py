"""What work is expected to be worth, and how long it takes, before it is done."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.io.tables.load import Loaded
    from brasscap.io.tables.table import Table
    from brasscap.networks import Network


MINUTES = {"baseline": 45.0, "levelling run": 30.0, "total-station round": 30.0}
"""On the marks, where neither proposal nor [crew.log_min] says (common practice)."""


RUN_MINUTES = 60.0
"""A kilometre, out and back, where [crew.log_min] does not say (common practice)."""


def expected_sds(
    loaded: "Loaded", adjustment: "Adjustment", kind: str, length: float, row: int = -1
) -> tuple[float, float]:
    """Return what an observation is expected to be worth, plan and height, m.

    The proposal's own figures, else [planned.KIND], else the middle of what the job
    has of that kind.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    kind : str
        As proposed.csv calls it.
    length : float
        Between its marks, m.
    row : int, optional
        Of proposed.csv; −1 for none.
    """
    from brasscap.adjust.causes.fresh import usual_sds

    table = loaded.tables.get("proposed")
    made = planned_sds(loaded, table, kind, length, row)
    plan, height = usual_sds(adjustment)
    return (
        made[0] if made[0] == made[0] else plan,
        made[1] if made[1] == made[1] else height,
    )


def planned_sds(
    loaded: "Loaded", table: "Table | None", kind: str, length: float, row: int = -1
) -> tuple[float, float]:
    """Return the sds that a row states, else [planned.KIND], plan and height, m.

    Of a levelling run the second; NaN where nothing is stated.

    Parameters
    ----------
    loaded : Loaded
    table : Table or None
        proposed.csv, or a plan in its shape.
    kind : str
    length : float
        Between its marks, m.
    row : int, optional
        −1 for none.
    """
    from brasscap.adjust.design.crew import RECEIVED

    tied = (*RECEIVED, "position")
    stated = loaded.job.planned.get(kind)
    if stated is None:
        stated = loaded.job.planned.get("baseline", {}) if kind in tied else {}
    made = []
    for part in ("plan", "height"):
        own = float("nan")
        if row >= 0 and table is not None:
            own = float(table.number(f"sd_{part}")[row])
        if own != own and f"sd_{part}_mm" in stated:
            ppm = stated.get(f"sd_{part}_ppm", 0.0)
            own = stated[f"sd_{part}_mm"] / 1000 + ppm * 1e-6 * length
        made.append(own)
    per_km = stated.get("sd_mm_per_sqrt_km")
    levels = loaded.job.levels.sd_per_sqrt_km
    if kind == "levelling run" and made[1] != made[1]:
        each = per_km / 1000 if per_km is not None else levels
        made[1] = made[1] if each is None else each * (length / 1000) ** 0.5
    return made[0], made[1]


def angular_sds(
    loaded: "Loaded", network: "Network"
) -> tuple[float, float, float, float]:
    """Return sd of direction and zenith (rad), distance (m, m per m) of a round."""
    import numpy as np

    stated = loaded.job.planned.get("total-station round", {})
    usual = {
        some.kind: float(np.median(some.sd[some.used]))
        for some in network.sights
        if some.used.any()
    }
    second = np.pi / 180 / 3600
    direction = stated.get("sd_direction_arcsec", 0) * second
    zenith = stated.get("sd_zenith_arcsec", 0) * second
    distance = stated.get("sd_distance_mm", 0) / 1000
    return (
        direction or usual.get("direction", usual.get("angle", 5 * second)),
        zenith or usual.get("zenith angle", 5 * second),
        distance or usual.get("slope distance", 0.003),
        stated.get("sd_distance_ppm", 0) * 1e-6,
    )


def log_minutes(loaded: "Loaded", kind: str) -> float:
    """Return the minutes on the marks for a kind of work."""
    stated = loaded.job.crew.get("log_min", {})
    if kind in stated or kind in MINUTES:
        return float(stated.get(kind, MINUTES.get(kind)))
    return float(stated.get("baseline", MINUTES["baseline"]))


def work_minutes(loaded: "Loaded", kind: str, length: float) -> float:
    """Return the minutes on the marks for a kind of work of a length, m.

    A levelling run is walked: it takes longer the longer it is.
    """
    minutes = log_minutes(loaded, kind)
    if kind == "levelling run" and kind not in loaded.job.crew.get("log_min", {}):
        return max(minutes, RUN_MINUTES * length / 1000)
    return minutes
