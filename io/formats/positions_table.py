"""A SINEX solution as our tables: positions, and what they have in common."""

import csv
import io
from collections.abc import Iterable, Sequence

import numpy as np

from ...networks.covariances import Floats
from .sinex import SinexSolution

_TRIANGLE = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))
_POSITIONS = (
    "position station x_m y_m z_m cov_xx_mm2 cov_xy_mm2 cov_xz_mm2 cov_yy_mm2 "
    "cov_yz_mm2 cov_zz_mm2 frame_epsg frame_named epoch_year group source"
)


def position_tables(
    solution: SinexSolution,
    *,
    frame_epsg: int,
    name: str,
    stations: Sequence[str] = (),
) -> dict[str, str]:
    """Return the two tables of a solution; nothing is rounded.

    Parameters
    ----------
    solution : SinexSolution
    frame_epsg : int
        EPSG code of its frame, as the user states it; the file does not carry it.
    name : str
        Name of the import: of its files, and of its group and rows.
    stations : sequence of str, optional
        The stations wanted; empty = all.

    Returns
    -------
    dict of str to str
        ``positions/NAME.csv`` and ``covariances/NAME.csv`` to their text; no
        covariances of a single station.
    """
    wanted = [
        k for k, s in enumerate(solution.station) if not stations or s in stations
    ]
    rows = (_row(solution, k, frame_epsg, name) for k in wanted)
    tables = {f"positions/{name}.csv": _csv([_POSITIONS.split(), *rows])}
    if len(wanted) > 1:
        tables[f"covariances/{name}.csv"] = _csv(_triangle(solution, wanted, name))
    return tables


def _row(
    solution: SinexSolution, k: int, frame_epsg: int, name: str
) -> list[str | int]:
    at = slice(3 * k, 3 * k + 3)
    block = _mm2(solution.covariance[at, at])
    epoch = solution.epoch[k]
    return [
        _key(solution, k, name),
        solution.station[k],
        *(repr(float(value)) for value in solution.xyz[k]),
        *(repr(float(block[i, j])) for i, j in _TRIANGLE),
        frame_epsg,
        solution.frame,
        "" if np.isnan(epoch) else repr(float(epoch)),
        name,
        solution.file,
    ]


def _triangle(
    solution: SinexSolution, wanted: Sequence[int], name: str
) -> Iterable[Sequence[str]]:
    """Yield a heading of names and axes, then the lower triangle."""
    labels = [f"{_key(solution, k, name)} {axis}" for k in wanted for axis in "xyz"]
    yield ["positions cov_mm2", *labels]
    at = [3 * k + axis for k in wanted for axis in range(3)]
    matrix = _mm2(solution.covariance[np.ix_(at, at)])
    for k, label in enumerate(labels):
        yield [label, *(repr(float(value)) for value in matrix[k, : k + 1])]


def _key(solution: SinexSolution, k: int, name: str) -> str:
    """Return the row's name: the same mark may come in several imports."""
    return f"{name} {solution.station[k]}"


def _mm2(covariance: Floats) -> Floats:
    return covariance * 1e6


def _csv(rows: Iterable[Sequence[object]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()
