"""What a flat site neglects in zenith angles: how far a level line falls away.

Over a distance D the earth falls away by D²/2R and refraction lifts the ray by
k·D²/2R (Gauss; in every textbook of levelling). Verticals of a flat site are parallel,
so neither is applied, unless the job states a refraction: then the whole of D²/2R is
left.
"""

import numpy as np

from ....networks.covariances import Floats, Ints
from ....networks.findings import Finding
from ....networks.network import Network
from ..job import Job, Refraction
from ..table import Table
from .site_axes import EARTH_M, NEGLECTED_M


def flat_sights(
    network: Network, table: Table | None, job: Job, rough: Floats
) -> list[Finding]:
    """Return the query of the longest zenith angle of a flat site, if it shows.

    Parameters
    ----------
    network : Network
    table : Table or None
        total_station.csv.
    job : Job
    rough : ndarray, shape (m, 3)
        Where the marks roughly are, for sights without a distance, m.
    """
    rows, length = _zeniths(network, rough)
    if table is None or network.dimension != "space":
        return []
    where = {int(row): i for i, row in enumerate(table.row)}
    return flat_query(
        table, np.array([where[int(row)] for row in rows], dtype=int), length, job
    )


def flat_query(table: Table, rows: Ints, length: Floats, job: Job) -> list[Finding]:
    """Return the query of the longest of some sights, if its curvature shows.

    Parameters
    ----------
    table : Table
        total_station.csv.
    rows : ndarray of int, shape (n,)
        Of the zenith angles.
    length : ndarray, shape (n,)
        Of their sights, m; NaN where unknown.
    job : Job
    """
    if job.frame.kind != "local" or job.frame.earth != "flat":
        return []
    if not np.isfinite(length).any():
        return []
    k = int(np.nanargmax(length))
    falls = float(length[k]) ** 2 / (2 * EARTH_M)
    usual = job.refraction.coefficient if job.refraction.stated else _USUAL
    left = falls if job.refraction.stated else (1 - usual) * falls
    if left <= NEGLECTED_M:
        return []
    return [
        table.finding(
            "curvature-neglected",
            "query",
            int(rows[k]),
            ("zenith",),
            against=f"[frame] earth = flat: over {length[k]:.0f} m a level line falls "
            f"away by {1000 * falls:.0f} mm, which is not applied; "
            + _refraction_words(job.refraction, usual * falls, left),
            mend="state earth = curved, latitude_deg and reference_height_m"
            + _less_words(job.refraction, (1 - _USUAL) * falls),
        )
    ]


_USUAL = Refraction().coefficient


def _less_words(stated: Refraction, left: float) -> str:
    """Return how less is left where a refraction is stated."""
    if not (stated.stated and stated.coefficient > 0):
        return ", or accept"
    less = f"{1000 * left:.0f} mm"
    return f"; or [refraction] coefficient = 0 and sd = 0, which leaves {less}"


def _refraction_words(stated: Refraction, bend: float, left: float) -> str:
    if stated.stated:
        how = f"{stated.coefficient:g} stated in [refraction] is, {1000 * bend:.0f} mm"
        return f"the coefficient {how}, so that heights are {1000 * left:.0f} mm off"
    return (
        f"nor is refraction, about {1000 * bend:.0f} mm the other way: "
        f"{1000 * left:.0f} mm of height are neglected"
    )


def _zeniths(network: Network, rough: Floats) -> tuple[Ints, Floats]:
    """Return the rows of the zenith angles in use and their lengths, m."""
    some = [one for one in network.sights if one.kind == "zenith angle"]
    if not some:
        return np.zeros(0, dtype=int), np.zeros(0)
    booked = _booked(network)
    rows, lengths = [], []
    for one in some:
        used = np.flatnonzero(one.used)
        ends = (network.mark_of(node[used]) for node in (one.at, one.to))
        start, end = (rough[mark] for mark in ends)
        apart = np.linalg.norm(end - start, axis=1)
        own = np.array([booked.get(int(row), np.nan) for row in one.row[used]])
        rows.append(one.row[used])
        lengths.append(np.where(np.isfinite(own), own, apart))
    return np.concatenate(rows), np.concatenate(lengths)


def _booked(network: Network) -> dict[int, float]:
    """Return the distance booked in each row of the table, m."""
    booked: dict[int, float] = {}
    for one in network.sights:
        if one.kind.endswith("distance"):
            booked |= dict(zip(one.row.tolist(), one.value.tolist(), strict=True))
    return booked
