"""Standard deviations booked as variances, and the other way round."""

from collections.abc import Mapping

import numpy as np

from ....networks.covariances import Floats
from ....networks.findings import Finding
from ....networks.units import UNITS
from ..schema import split_header
from ..table import Table

SMALL_M = 5e-5
"""No vector or position is better than this (common practice)."""
LARGE_M = 0.05
"""Worse than this, a variance may be a standard deviation booked in its place."""
PLAUSIBLE_M = (5e-4, 0.03)
"""What the standard deviation of a component usually is (common practice)."""

_VARIANCES = {
    "baselines": ("cov_xx", "cov_yy", "cov_zz", "cov_ee", "cov_nn", "cov_uu"),
    "positions": ("cov_xx", "cov_yy", "cov_zz"),
    "control": ("cov_xx", "cov_yy", "cov_zz"),
}
_SDS = {
    "baselines": ("sd_x", "sd_y", "sd_z", "sd_e", "sd_n", "sd_u"),
    "positions": ("sd_north", "sd_east", "sd_height"),
    "control": ("sd_north", "sd_east", "sd_height"),
}
MOST_ROWS = 3
"""Told one by one; more of them are one query about the table."""


def check_variances(tables: Mapping[str, Table]) -> list[Finding]:
    """Return the queries of uncertainties that look like those of another kind."""
    found = []
    for name, columns in _VARIANCES.items():
        if name in tables:
            table = tables[name]
            odd = _first_of_row([_odd_variance(table, c) for c in columns])
            odd |= _first_of_row([_odd_sd(table, c) for c in _SDS[name]])
            found += _told(table, odd)
    return found


def _first_of_row(
    columns: list[dict[int, tuple[str, str, str]]],
) -> dict[int, tuple[str, str, str]]:
    rows: dict[int, tuple[str, str, str]] = {}
    for column in columns:
        for i, text in column.items():
            rows.setdefault(i, text)
    return rows


def _unit(table: Table, column: str, i: int) -> float:
    """Return metres, or square metres, in one of the unit in which a cell is booked."""
    own = table.file_headers.get(str(table.file[i]), table.header)
    return float(UNITS[split_header(own[column])[1]].factor)


def _rows(sd: Floats) -> list[int]:
    """Return the rows that may be odd: all others are neither small nor large."""
    odd = (sd < 4 * SMALL_M) | (sd > LARGE_M)
    return np.flatnonzero(odd & np.isfinite(sd) & (sd > 0)).tolist()


def _is_plausible(sd: float) -> bool:
    return PLAUSIBLE_M[0] <= sd <= PLAUSIBLE_M[1]


def _odd_variance(table: Table, column: str) -> dict[int, tuple[str, str, str]]:
    """Return row to (column, what it means as booked, what it would mean)."""
    odd = {}
    values = table.number(column)
    for i in _rows(np.sqrt(np.maximum(values, 0.0))):
        sd = float(np.sqrt(values[i]))
        factor = _unit(table, column, i)
        number = values[i] / factor
        as_sd = number * float(np.sqrt(factor))
        in_metres = float(number)
        if sd < SMALL_M:
            likely = _small_variance(number, as_sd)
        elif sd < 4 * SMALL_M and _is_plausible(in_metres):
            likely = f"a standard deviation in metres, {in_metres * 1000:.3g} mm"
        elif sd > LARGE_M and _is_plausible(as_sd):
            likely = f"a standard deviation, {as_sd * 1000:.3g} mm"
        else:
            continue
        odd[i] = column, f"as a variance it means {sd * 1000:.3g} mm", likely
    return odd


def _small_variance(number: float, as_sd: float) -> str:
    if _is_plausible(float(np.sqrt(number))):
        return f"square metres: {np.sqrt(number) * 1000:.3g} mm"
    if _is_plausible(number):
        return f"a standard deviation in metres, {number * 1000:.3g} mm"
    if _is_plausible(as_sd):
        return f"a standard deviation, {as_sd * 1000:.3g} mm"
    return "a unit or a multiplier that was lost"


def _odd_sd(table: Table, column: str) -> dict[int, tuple[str, str, str]]:
    odd = {}
    values = table.number(column)
    for i in _rows(values):
        sd = float(values[i])
        factor = _unit(table, column, i)
        as_variance = float(np.sqrt(sd / factor) * factor)
        if sd < SMALL_M:
            root = float(np.sqrt(sd / factor))
            likely = "a unit or a multiplier that was lost"
            if _is_plausible(as_variance):
                likely = f"a variance: {as_variance * 1000:.3g} mm"
            elif _is_plausible(root):
                likely = f"a variance in square metres: {root * 1000:.3g} mm"
            elif _is_plausible(sd / factor):
                likely = f"metres: {sd / factor * 1000:.3g} mm"
        elif sd > 1000 * SMALL_M and _is_plausible(sd / 1000):
            likely = f"millimetres: {sd:.3g} mm"
        else:
            continue
        odd[i] = column, f"a standard deviation of {sd * 1000:.3g} mm", likely
    return odd


def _told(table: Table, odd: dict[int, tuple[str, str, str]]) -> list[Finding]:
    mend = (
        "compare with the report it comes from; if so, import the table again with "
        "--covariance, or accept"
    )
    several = len(odd) > MOST_ROWS
    found = [
        table.finding(
            "sd-as-variance",
            "query",
            i,
            (column,),
            against=f"{means}; usual are {PLAUSIBLE_M[0] * 1000:g} to "
            f"{PLAUSIBLE_M[1] * 1000:g} mm (common practice)",
            likely=likely,
            mend=mend,
        )
        for i, (column, means, likely) in sorted(odd.items())[: 1 if several else None]
    ]
    if not several:
        return found
    first = found[0]
    whole = Finding(
        first.slug,
        "query",
        f"{len(odd)} rows of {table.name}.csv",
        first.file,
        first.row,
        first.line,
        first.column,
        first.booked,
        f"{first.against}; the first of {len(odd)} rows",
        first.likely,
        mend,
    )
    return [whole]
