"""Orthometric heights to ellipsoidal ones, by the undulations of the job."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ....networks.covariances import Floats, Ints
from ....networks.findings import Finding
from ..job import FrameSection
from ..table import Table
from .geoid import Geoid
from .places import Places


def ellipsoidal(
    places: Places,
    table: Table,
    mark: Ints,
    geoid: Geoid,
    findings: list[Finding],
) -> tuple[Places, Floats]:
    """Return the places with orthometric heights made ellipsoidal, h = H + N.

    Parameters
    ----------
    places : Places
    table : Table
    mark : ndarray of int, shape (n,)
        Marks of the rows, −1 where unknown.
    geoid : Geoid
    findings : list of Finding
        Rows without an undulation are added here.

    Returns
    -------
    places : Places
    sd : ndarray, shape (n,)
        Standard deviation of the undulation in each row's height, m; 0 for none.
    """
    sd = np.zeros(len(table))
    waiting = np.isfinite(places.orthometric)
    both = waiting & np.isfinite(places.natural[:, 2])
    for i in np.flatnonzero(both).tolist():
        findings.append(_two_heights(table, i, places, geoid, int(mark[i])))
    rows = np.flatnonzero(waiting & ~both & (mark >= 0))
    n_of = geoid.undulation[mark[rows]]
    findings.extend(_without(table, rows[np.isnan(n_of)], geoid))
    natural = places.natural.copy()
    natural[rows, 2] = places.orthometric[rows] + n_of
    sd[rows] = geoid.sd[mark[rows]]
    return replace(places, natural=natural), sd


def _without(table: Table, rows: Ints, geoid: Geoid) -> list[Finding]:
    against = {
        "none": "geoid = none: no way from a height above the geoid to the ellipsoid",
        "table": "geoid = table: the mark has no undulation in geoid.csv",
    }.get(geoid.source, f"{geoid.source} has no undulation there")
    mend = {
        "none": "state [frame] geoid = table and give geoid.csv, or geoid = FILE with "
        "geoid_sd_mm; or give ellipsoidal_height_m",
        "table": "add the mark's undulation to geoid.csv",
    }.get(geoid.source, "use a geoid grid that covers the job")
    slug = "geoid-not-stated" if geoid.source == "none" else "undulation-missing"
    return [
        table.finding(slug, "fault", int(i), ("height",), against=against, mend=mend)
        for i in rows
    ]


def _two_heights(
    table: Table, i: int, places: Places, geoid: Geoid, mark: int
) -> Finding:
    gap = places.natural[i, 2] - places.orthometric[i]
    text = f"their difference, the undulation, would be {gap:.3f} m"
    if mark >= 0 and np.isfinite(geoid.undulation[mark]):
        text += f"; the geoid says {geoid.undulation[mark]:.3f} m"
    return table.finding(
        "height-twice",
        "query",
        i,
        ("ellipsoidal_height", "height"),
        against=f"one height a row; the ellipsoidal one is used. {text}",
        mend="accept, or take one of the two out",
    )


def height_datums(
    section: FrameSection, tables: Mapping[str, Table], findings: list[Finding]
) -> None:
    """Add the faults of heights above different datums, and of none stated."""
    own = section.height_datum
    silent: list[tuple[Table, int]] = []
    for name in ("control", "positions"):
        if name not in tables:
            continue
        table = tables[name]
        for i in np.flatnonzero(table.has("height")).tolist():
            datum = str(table.word("height_datum")[i])
            if datum and own and datum.casefold() != own.casefold():
                findings.append(_another_datum(table, i, own))
            own = own or datum
            if not datum and not section.height_datum:
                silent.append((table, i))
    if silent and section.kind == "geodetic":
        table, i = silent[0]
        findings.append(
            table.finding(
                "height-datum-not-stated",
                "query",
                i,
                ("height", "height_datum"),
                against=f"{len(silent)} heights, above which datum?",
                mend="fill height_datum, or state it in [frame]",
            )
        )


def _another_datum(table: Table, i: int, own: str) -> Finding:
    return table.finding(
        "height-datum-differs",
        "fault",
        i,
        ("height", "height_datum"),
        against=f"{own}, the height datum of the job",
        mend="bring the height over to one datum, or leave the row out",
    )
