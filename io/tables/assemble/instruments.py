"""What a sight is worth: from its own row, else from its instrument, else a fault."""

from collections.abc import Mapping, Sequence

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.findings import Finding
from ..spelling import nearest
from ..table import Table

_COLUMNS = {
    "direction": ("sd_direction", "sd_direction_arcsec"),
    "zenith angle": ("sd_zenith", "sd_zenith_arcsec"),
    "angle": ("sd_angle", "sd_angle_arcsec"),
    "azimuth": ("sd_azimuth", "sd_azimuth_arcsec"),
    "slope distance": ("sd_distance", "sd_distance_mm"),
    "horizontal distance": ("sd_distance", "sd_distance_mm"),
}


def instrument_rows(
    table: Table, set_up_row: Ints, tables: Mapping[str, Table]
) -> tuple[Ints, list[str]]:
    """Return the row of instruments.csv of every pointing, −1 for none, and the name.

    The row with the pointing's prism, else the one without a prism.

    Parameters
    ----------
    table : Table
        total_station.
    set_up_row : ndarray of int, shape (n,)
        Rows of set_ups.csv.
    tables : mapping of str to Table
    """
    names = [""] * len(table)
    booked: Sequence[object] = ()
    if "set_ups" in tables:
        booked = list(tables["set_ups"].word("instrument"))
    for i in np.flatnonzero(set_up_row >= 0).tolist():
        names[i] = str(booked[set_up_row[i]])
    instruments = tables.get("instruments")
    number: dict[tuple[str, str], int] = {}
    if instruments is not None:
        prism_of = instruments.word("prism")
        for k, name in enumerate(instruments.word("instrument")):
            number[str(name), str(prism_of[k])] = k
    prisms = table.word("prism")
    rows = [
        number.get((name, str(prisms[i])), number.get((name, ""), -1)) if name else -1
        for i, name in enumerate(names)
    ]
    return np.array(rows, dtype=np.int64), names


def of_instrument(instruments: Table | None, column: str, rows: Ints) -> Floats:
    """Return a column of instruments.csv for rows of it; NaN where there is none."""
    values = np.full(len(rows), np.nan)
    if instruments is not None:
        known = rows >= 0
        values[known] = instruments.number(column)[rows[known]]
    return values


def sd_of(
    kind: str,
    table: Table,
    instruments: Table | None,
    rows: Ints,
    length: Floats,
) -> Floats:
    """Return (n,) standard deviations of one kind, m or rad; NaN where none is stated.

    A distance is worth √(a² + (b·D)²), a constant and a part in proportion that are
    independent (common practice, no source). A row that states ``sd_distance_mm``
    states all of it, but for its own ppm. An angle is the difference of two
    directions, √2 times the instrument's. The instrument's angles are those of the
    mean of two faces (ISO 17123-3); a pointing in one face is taken as stated.

    Parameters
    ----------
    kind : str
    table : Table
        total_station.
    instruments : Table or None
    rows : ndarray of int, shape (n,)
        Row of instruments.csv, −1 for none.
    length : ndarray, shape (n,)
        Of the sight, m; for distances.
    """
    column = _COLUMNS[kind][0]
    own = table.number(column)
    if column == "sd_distance":
        stated = np.isfinite(own)
        constant = np.where(stated, own, of_instrument(instruments, column, rows))
        ppm = table.number("sd_distance_ppm")
        other = of_instrument(instruments, "sd_distance_ppm", rows)
        ppm = np.where(stated | np.isfinite(ppm), ppm, other)
        return np.asarray(np.hypot(constant, np.nan_to_num(ppm) * 1e-6 * length))
    if kind == "azimuth":
        return own
    if kind == "angle":
        direction = of_instrument(instruments, "sd_direction", rows)
        return np.where(np.isfinite(own), own, np.sqrt(2) * direction)
    return np.where(np.isfinite(own), own, of_instrument(instruments, column, rows))


def without_sd(
    kind: str,
    table: Table,
    lacking: Bools,
    names: list[str],
    instruments: Table | None,
) -> list[Finding]:
    """Return the faults of sights that nothing says the worth of.

    Parameters
    ----------
    kind : str
    table : Table
    lacking : ndarray of bool, shape (n,)
    names : list of str
        Instrument of every row.
    instruments : Table or None
    """
    known = list(instruments.word("instrument")) if instruments is not None else []
    header = _COLUMNS[kind][1]
    found = []
    for i in np.flatnonzero(lacking).tolist():
        name = names[i]
        against = f"{header} above 0 in the row, or of its instrument"
        likely = ""
        if name and name not in known:
            against += f"; {name} is not in instruments.csv"
            likely = nearest(name, known)
        found.append(
            table.finding(
                "sd-missing",
                "fault",
                i,
                (_COLUMNS[kind][0],),
                against=against,
                likely=likely,
                mend="take it from the instrument's calibration or data sheet into "
                "instruments.csv",
            )
        )
    return found
