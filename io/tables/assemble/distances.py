"""Distances: prism constant and atmosphere, taken on where the instrument did not."""

import numpy as np

from ....networks.atmosphere import group_refractivity, velocity_correction
from ....networks.covariances import Bools, Floats, Ints
from ....networks.findings import Finding
from ..table import Table
from .instruments import of_instrument

KINDS = ("slope_distance", "horizontal_distance")


def corrected_distances(
    table: Table,
    instruments: Table | None,
    rows: Ints,
    usable: Bools,
    findings: list[Finding],
) -> tuple[Floats, Floats]:
    """Return slope and horizontal distances with prism constant and atmosphere, m.

    The prism constant is what is added to the distance. The atmosphere is the first
    velocity correction; without a booked vapour pressure the air is taken as dry,
    which is said (0.4 ppm for 10 hPa). What is not said to be applied is taken as
    applied, and that is a query.

    Parameters
    ----------
    table : Table
        total_station.
    instruments : Table or None
    rows : ndarray of int, shape (n,)
        Row of instruments.csv; −1 for none.
    usable : ndarray of bool, shape (n,)
    findings : list of Finding
        Extended here.
    """
    slope, level = (table.number(kind) for kind in KINDS)
    measured = usable & (np.isfinite(slope) | np.isfinite(level))
    constant = _constant(table, measured, findings)
    ppm = _index(table, instruments, rows, measured, findings)
    made = []
    for distance in (slope, level):
        full = distance + constant
        reference, air = ppm
        velocity = velocity_correction(full, reference, air)
        made.append(full + np.where(np.isfinite(reference), velocity, 0.0))
    return made[0], made[1]


def _constant(table: Table, measured: Bools, findings: list[Finding]) -> Floats:
    """Return what is to be added to each distance for its prism, m."""
    said = table.word("prism_constant_applied")
    constant = table.number("prism_constant")
    to_do = measured & (said == "no")
    for i in np.flatnonzero(to_do & np.isnan(constant)).tolist():
        findings.append(
            table.finding(
                "prism-constant-missing",
                "fault",
                i,
                ("prism_constant_applied", "prism_constant", "prism"),
                against="prism_constant_mm, for it is not applied yet",
                mend="take it from the prism's calibration; it is what is added to "
                "the distance",
            )
        )
    silent = measured & (said == "") & (constant != 0) & np.isfinite(constant)
    for i in np.flatnonzero(silent).tolist():
        findings.append(
            table.finding(
                "prism-constant-not-stated",
                "fault",
                i,
                ("prism_constant", "prism_constant_applied"),
                against="yes or no: has the instrument added the constant?",
                mend="look into the instrument's settings; a wrong guess moves every "
                f"distance by {constant[i] * 1000:.1f} mm",
            )
        )
    unsaid = measured & (said == "") & np.isnan(constant) & table.has("prism")
    slug = "prism-constant-not-stated"
    findings.extend(_taken_as_applied(table, unsaid, slug, "prism_constant"))
    return np.where(to_do, np.nan_to_num(constant), 0.0)


def _index(
    table: Table,
    instruments: Table | None,
    rows: Ints,
    measured: Bools,
    findings: list[Finding],
) -> tuple[Floats, Floats]:
    """Return refractivity of reference and of the air, ppm; NaN where applied."""
    said = table.word("atmosphere_applied")
    to_do = measured & (said == "no")
    unsaid = measured & (said == "") & (table.has("prism") | table.has("pressure"))
    slug = "atmosphere-not-stated"
    findings.extend(_taken_as_applied(table, unsaid, slug, "atmosphere"))
    wave = of_instrument(instruments, "carrier_wavelength_um", rows)
    reference = of_instrument(instruments, "reference_index_ppm", rows)
    warm, pressure = table.number("temperature"), table.number("pressure")
    needs = {
        "temperature_degC": warm,
        "pressure_hPa": pressure,
        "carrier_wavelength_um (instruments.csv)": wave,
        "reference_index_ppm (instruments.csv)": reference,
    }
    for i in np.flatnonzero(to_do).tolist():
        lacking = [name for name, values in needs.items() if np.isnan(values[i])]
        if lacking:
            findings.append(_no_atmosphere(table, i, lacking))
            to_do[i] = False
    vapour = table.number("vapour_pressure")
    dry = to_do & np.isnan(vapour)
    if dry.any():
        findings.append(_dry(table, dry))
    vapour = np.nan_to_num(vapour)
    air = group_refractivity(wave, pressure, warm, vapour)
    return np.where(to_do, reference, np.nan), np.where(to_do, air, np.nan)


def _no_atmosphere(table: Table, i: int, lacking: list[str]) -> Finding:
    return table.finding(
        "atmosphere-data-missing",
        "fault",
        i,
        ("atmosphere_applied", "temperature", "pressure"),
        against=f"{', '.join(lacking)}: needed for the first velocity correction",
        mend="fill them in; the reference index and the wavelength stand in the "
        "instrument's data sheet",
    )


def _dry(table: Table, rows: Bools) -> Finding:
    first = int(np.flatnonzero(rows)[0])
    return Finding(
        "air-taken-as-dry",
        "note",
        f"{int(rows.sum())} distances of {table.name}.csv",
        file=str(table.file[first]),
        row=int(table.row[first]),
        column="vapour_pressure_hPa",
        booked="atmosphere_applied no, vapour_pressure_hPa empty",
        against="corrected for dry air: 0.4 ppm too long for each 10 hPa of vapour",
    )


def _taken_as_applied(table: Table, rows: Bools, slug: str, what: str) -> list[Finding]:
    """Return one query where it is not said whether a correction is applied."""
    where = np.flatnonzero(rows)
    if not len(where):
        return []
    first = int(where[0])
    return [
        Finding(
            slug,
            "query",
            f"{len(where)} distances of {table.name}.csv",
            file=str(table.file[first]),
            row=int(table.row[first]),
            line=int(table.line[first]),
            column=f"{what}_applied",
            booked=f"{what}_applied empty",
            against="yes or no; taken as applied by the instrument",
            mend=f"fill {what}_applied from the instrument's settings, or accept",
        )
    ]
