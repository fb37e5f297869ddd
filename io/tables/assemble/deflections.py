"""Deflections of the vertical: where instruments see from the plumb line."""

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.findings import Finding
from .geoid import Geoid
from .sights import Pointings

_ARCSEC = np.pi / 180 / 3600
_FEW = 8


def plumb_lines(
    geoid: Geoid,
    pointings: Pointings | None,
    names: tuple[str, ...],
    findings: list[Finding],
) -> Floats | None:
    """Return (m, 2) the deflections that the sights are computed with, rad; or None.

    A mark without one is taken as if it had none. That is said, and it is a query
    where an instrument stood there while other instruments' marks have theirs.

    Parameters
    ----------
    geoid : Geoid
    pointings : Pointings or None
    names : tuple of str
        Of the marks.
    findings : list of Finding
        Extended here.
    """
    if geoid.deflection is None or pointings is None:
        return None
    stood = np.unique(pointings.at.mark[pointings.usable])
    stood = stood[stood >= 0]
    known: Bools = np.isfinite(geoid.deflection[:, 0] + geoid.deflection[:, 1])
    used, lacking = stood[known[stood]], stood[~known[stood]]
    if not len(used) or not (geoid.deflection[used] != 0).any():
        return None
    findings.append(_used(geoid, geoid.deflection, used, names))
    if len(lacking):
        findings.append(_lacking(geoid, lacking, names))
    deflection: Floats = np.where(known[:, None], geoid.deflection, 0.0)
    return deflection


def _used(
    geoid: Geoid, deflection: Floats, used: Ints, names: tuple[str, ...]
) -> Finding:
    """Return the note of what was used, and what it is worth.

    A zenith angle is read from the plumb line, which leans by the deflection from
    the normal of the ellipsoid (Vanicek and Krakiwsky, Geodesy; from memory).
    """
    size = np.hypot(*deflection[used].T)
    most = int(size.argmax())
    how = "the slope of the grid" if geoid.source != "table" else "geoid.csv"
    return Finding(
        "deflections-used",
        "note",
        f"instruments over {len(used)} marks",
        booked=f"deflections of the vertical from {how}",
        against=f"the largest is {size[most] / _ARCSEC:.1f}″, at {names[used[most]]}: "
        f"worth up to {size[most] * 1e5:.1f} mm in height for 100 m of sight",
    )


def _lacking(geoid: Geoid, lacking: Ints, names: tuple[str, ...]) -> Finding:
    few = ", ".join(names[m] for m in lacking[:_FEW].tolist())
    more = f" and {len(lacking) - _FEW} more" if len(lacking) > _FEW else ""
    table = geoid.source == "table"
    return Finding(
        "deflection-missing",
        "query",
        f"{few}{more}",
        file="geoid.csv" if table else "job.toml",
        column="deflection_north_arcsec" if table else "geoid",
        booked="no deflection of the vertical",
        against="other marks under an instrument have one; here the plumb line is "
        "taken as the normal of the ellipsoid",
        mend="add it to geoid.csv, or accept"
        if table
        else "give the mark an approximate position inside the grid, or accept",
    )
