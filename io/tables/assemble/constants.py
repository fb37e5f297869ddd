"""Constant and scale of distance meters: corrections, or unknowns of the network."""

from dataclasses import dataclass

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.findings import Finding
from ..table import Table
from .unknowns import Unknowns, pairs

_COLUMNS = {"constant": "constant", "scale": "scale_ppm"}
_BOTH = tuple(_COLUMNS)


@dataclass(frozen=True, slots=True)
class Constants:
    """What instruments.csv says of the distances of n pointings."""

    constant: Floats
    """(n,) m, added to each distance; 0 where it is a parameter."""
    scale: Floats
    """(n,) ratio, added in proportion after that; 0 where it is a parameter."""
    parameter: Ints
    """(n, 2) parameters: constant of instrument and prism, scale of the instrument;
    −1 for none."""

    def applied(self, distance: Floats) -> Floats:
        """Return distances with the fixed corrections, m."""
        corrected: Floats = (distance + self.constant) * (1 + self.scale)
        return corrected


def edm_constants(
    table: Table,
    instruments: Table | None,
    rows: Ints,
    measured: Bools,
    unknowns: Unknowns,
    findings: list[Finding],
) -> Constants:
    """Return the constants of the distances, the unknown ones numbered.

    A value without a standard deviation, or with 0, is a correction that is applied
    and said; one with a standard deviation is a parameter with that prior; one that
    ``unknown`` names is free. A parameter is what is measured too long, so minus the
    correction: measured = true·(1 + scale) + constant. In a plan a constant is taken
    as it is, though a slope distance was levelled (sin z of it, 2 % at 10°).

    Parameters
    ----------
    table : Table
        total_station.
    instruments : Table or None
    rows : ndarray of int, shape (n,)
        Row of instruments.csv, −1 for none.
    measured : ndarray of bool, shape (n,)
        Whether the pointing has a distance in use.
    unknowns : Unknowns
    findings : list of Finding
        Contradictions, and what is applied, are added here.
    """
    count = len(table)
    fixed, number = np.zeros((2, count)), np.full((2, count), -1, dtype=np.int64)
    if instruments is None:
        return Constants(fixed[0], fixed[1], pairs(number[0], number[1]))
    findings.extend(_contradictions(instruments))
    prisms = table.word("prism")
    for i in np.flatnonzero(measured & (rows >= 0)).tolist():
        row = int(rows[i])
        for k, what in enumerate(_BOTH):
            correction, sd = _stated(instruments, row, what)
            if sd == 0:
                fixed[k, i] = correction
                continue
            start = -correction if k == 0 else 1 / (1 + correction) - 1
            name = _name(instruments, row, what, str(prisms[i]))
            number[k, i] = unknowns.number(f"distance {what}", name, start, sd)
    findings.extend(_applied(instruments, rows[(fixed != 0).any(axis=0)]))
    return Constants(fixed[0], fixed[1], pairs(number[0], number[1]))


def _stated(instruments: Table, row: int, what: str) -> tuple[float, float]:
    """Return a correction (m or ratio) and its sd: 0 if fixed, NaN if free."""
    unit = 1.0 if what == "constant" else 1e-6
    column = _COLUMNS[what]
    value = unit * float(np.nan_to_num(instruments.number(column)[row]))
    sd = unit * float(np.nan_to_num(instruments.number(f"sd_{column}")[row]))
    free = what in str(instruments.word("unknown")[row])
    return value, float("nan") if free else sd


def _name(instruments: Table, row: int, what: str, prism: str) -> str:
    """Return the name of a parameter, its sign within."""
    name = str(instruments.word("instrument")[row])
    with_prism = f" with {prism}" if prism and what == "constant" else ""
    return f"{what} of {name}{with_prism} (measured − true)"


def _applied(instruments: Table, rows: Ints) -> list[Finding]:
    """Return the notes of corrections that are applied as they are stated."""
    found = []
    for row, many in zip(*np.unique(rows, return_counts=True), strict=True):
        stated = [(what, *_stated(instruments, int(row), what)) for what in _BOTH]
        found.append(
            instruments.finding(
                "instrument-constant-applied",
                "note",
                int(row),
                tuple(
                    _COLUMNS[what] for what, value, sd in stated if value and sd == 0
                ),
                against=f"added to {many} distances as stated, without an uncertainty",
            )
        )
    return found


def _contradictions(instruments: Table) -> list[Finding]:
    """Return the faults of constants that are unknown and known, or known twice."""
    found, scales = [], dict[str, tuple[float, float]]()
    for row in range(len(instruments)):
        for what in _BOTH:
            sd = instruments.number(f"sd_{_COLUMNS[what]}")[row]
            if what in str(instruments.word("unknown")[row]) and sd >= 0:
                found.append(_unknown_with_sd(instruments, row, what))
        name = str(instruments.word("instrument")[row])
        scale, sd = _stated(instruments, row, "scale")
        before = scales.setdefault(name, (scale, sd))
        if not np.array_equal(before, (scale, sd), equal_nan=True):
            found.append(
                instruments.finding(
                    "instrument-scale-twice",
                    "fault",
                    row,
                    ("scale_ppm", "sd_scale_ppm", "unknown"),
                    against=f"one scale of {name}: it is the instrument's, whatever "
                    "the prism",
                    mend="state the same in every row of the instrument",
                )
            )
    return found


def _unknown_with_sd(instruments: Table, row: int, what: str) -> Finding:
    unit = {"constant": "mm", "scale": "ppm"}[what]
    return instruments.finding(
        "instrument-unknown-with-sd",
        "fault",
        row,
        ("unknown", f"sd_{_COLUMNS[what]}"),
        against=f"either unknown, or known to a standard deviation (sd_{what}_{unit})",
        mend=f"take {what} out of unknown, or leave sd_{what}_{unit} empty",
    )
