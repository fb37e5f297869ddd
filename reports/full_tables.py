"""The tables of a large job in full, as CSV: a piece of rows at a time.

Lengths are in the unit of each header, angles in degrees; an empty cell means that a
figure cannot be judged or does not exist. Columns are never renamed.
"""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, NamedTuple, cast

import numpy as np

from ..networks import GeodeticFrame
from .judged import Judged

if TYPE_CHECKING:
    from ..networks.covariances import Bools, Floats

PIECE = 10_000
"""Rows that are formatted at a time."""
_THREE, _FOUR, _SIX, _WHOLE = "z.3f", "z.4f", ".6g", ".0f"
"""Decimals without a sign of zero; significant digits; whole numbers."""

_QUOTED = frozenset(',"\n\r')


class FullTable(NamedTuple):
    """A table to be written row by row."""

    name: str
    """Of the file, without ``.csv``."""
    header: str
    rows_count: int
    rows: Callable[[int, int], Iterator[str]]
    """Rows from one number to before another, without line ends."""

    def pieces(self) -> Iterator[str]:
        """Yield header and rows, some thousand at a time."""
        yield self.header + "\n"
        for begin in range(0, self.rows_count, PIECE):
            end = min(begin + PIECE, self.rows_count)
            yield "".join(f"{row}\n" for row in self.rows(begin, end))


def full_tables(judged: Judged) -> tuple[FullTable, ...]:
    """Return the marks, the tests and the residuals of the vectors of an adjustment.

    Parameters
    ----------
    judged : Judged
    """
    tables = [_marks(judged), _tests(judged)]
    if len(judged.network.vectors):
        tables.append(_baselines(judged))
    return tuple(tables)


_MARKS = (
    "station,checked,north_m,east_m,height_m,x_m,y_m,z_m,latitude_deg,longitude_deg,"
    "ellipsoidal_height_m,semi_major_mm,semi_minor_mm,azimuth_deg,height_limit_mm,"
    "cov_ee_mm2,cov_en_mm2,cov_eu_mm2,cov_nn_mm2,cov_nu_mm2,cov_uu_mm2"
)
_DECIMALS = [4] * 6 + [10, 10, 4, 3, 3, 3, 3] + [6] * 6
_FORMATS = [f"z.{decimals}f" for decimals in _DECIMALS]
"""Of the numbers of a mark, in the order of the columns; no zero has a sign."""


def _marks(judged: Judged) -> FullTable:
    names, checked = judged.network.marks.name, _checked(judged)
    estimated = judged.estimated

    def rows(begin: int, end: int) -> Iterator[str]:
        some = slice(begin, end)
        figures = _cells(_mark_figures(judged, estimated, some), *_FORMATS)
        for name, word, said in zip(names[some], checked[some], figures, strict=True):
            yield f"{_text(name)},{word},{said}"

    return FullTable("marks", _MARKS, len(judged.network.marks), rows)


def _checked(judged: Judged) -> list[str]:
    """Return what of each mark is checked, in words."""
    plan, height = judged.checked.T
    both = judged.dimension == "space"
    words = np.full(len(plan), "no", dtype=object)
    words[plan & both], words[height & both] = "plan only", "height only"
    words[judged.all_checked if not both else plan & height] = "yes"
    words[~judged.adjustment.estimated.any(axis=1)] = "not observed"
    return [str(word) for word in words]


def _mark_figures(judged: Judged, estimated: "Bools", some: slice) -> "Floats":
    """Return the numbers of some marks, NaN for what does not exist."""
    marks, frame = judged.marks, judged.network.frame
    estimated, each = estimated[some], marks.estimated[some]
    places = estimated[:, [0, 0, 1]]
    xyz = marks.xyz[some]
    grid = np.where(places, frame.grid(xyz), np.nan)
    geodetic = geocentric = np.full_like(xyz, np.nan)
    if frame.kind == "geodetic":
        geodetic = np.where(places, cast(GeodeticFrame, frame).geodetic(xyz), np.nan)
        whole = estimated.all(axis=1, keepdims=True)
        geocentric = np.where(whole, xyz, np.nan)
    ellipse = 1000 * np.stack([marks.semi_major, marks.semi_minor], axis=1)[some]
    azimuth = np.degrees(marks.azimuth[some]) % 180
    row, column = np.triu_indices(3)
    covariance = 1e6 * marks.covariance[some][:, row, column]
    covariance = np.where(each[:, row] & each[:, column], covariance, np.nan)
    limit = 1000 * marks.height_limit[some]
    parts = [grid, geocentric, geodetic, ellipse, azimuth[:, None], limit[:, None]]
    return np.concatenate([*parts, covariance], axis=1)


_TESTS = (
    "kind,name,row,verdict,test,family_probability,redundancy,components,"
    "smallest_seen,shift_first,shift_second,shift_third,measured_in"
)
_MEASURED = {"enu": "m: east north up"}


def _tests(judged: Judged) -> FullTable:
    tests = judged.tests

    def rows(begin: int, end: int) -> Iterator[str]:
        some = slice(begin, end)
        figures = [
            tests.basis.test[some],
            tests.family_probability[some],
            tests.redundancy[some],
            tests.tests.components[some],
            tests.tests.smallest_detectable[some],
            *tests.tests.shift[some].T,
        ]
        for kind, name, row, verdict, said, measure in zip(
            tests.kind[some],
            tests.name[some],
            tests.row[some].tolist(),
            tests.verdict[some],
            _cells(np.column_stack(figures), *[_SIX] * 3, _WHOLE, *[_SIX] * 4),
            tests.measure[some],
            strict=True,
        ):
            words = _MEASURED.get(measure, measure)
            yield f"{kind},{_text(name)},{row},{verdict},{said},{words}"

    return FullTable("tests", _TESTS, len(tests), rows)


_BASELINES = (
    "baseline,from,to,used,dx_m,dy_m,dz_m,residual_x_mm,residual_y_mm,residual_z_mm"
)


def _baselines(judged: Judged) -> FullTable:
    network, vectors = judged.network, judged.network.vectors
    residuals = judged.adjustment.residuals.get("baseline")
    if residuals is None:
        residuals = np.full((len(vectors), 3), np.nan)

    def rows(begin: int, end: int) -> Iterator[str]:
        some = slice(begin, end)
        left = np.where(vectors.used[some, None], 1000 * residuals[some], np.nan)
        figures = np.concatenate([vectors.delta[some], left], axis=1)
        for name, start, stop, used, said in zip(
            vectors.name[some],
            vectors.start[some].tolist(),
            vectors.end[some].tolist(),
            vectors.used[some].tolist(),
            _cells(figures, *[_FOUR] * 3, *[_THREE] * 3),
            strict=True,
        ):
            ends = f"{_text(network.node_name(start))},{_text(network.node_name(stop))}"
            yield f"{_text(name)},{ends},{'yes' if used else 'no'},{said}"

    return FullTable("baselines", _BASELINES, len(vectors), rows)


def _cells(values: "Floats", *formats: str) -> list[str]:
    """Return rows of numbers, (n, k), as cells; empty where one is not finite.

    Examples
    --------
    >>> _cells(np.array([[1.25, -1e-9], [np.nan, -np.inf]]), _THREE, _SIX)
    ['1.250,-1e-09', ',']
    """
    pattern = ",".join(f"{{:{one}}}" for one in formats)
    made = [pattern.format(*row) for row in values.tolist()]
    for i in np.flatnonzero(~np.isfinite(values).all(axis=1)).tolist():
        made[i] = made[i].replace("nan", "").replace("-inf", "").replace("inf", "")
    return made


def _text(name: str) -> str:
    """Return a name as a cell: quoted where it holds a separator or a quotation mark.

    Examples
    --------
    >>> _text('BRIDGE 1'), _text('3" pipe')
    ('BRIDGE 1', '"3"" pipe"')
    """
    return name if _QUOTED.isdisjoint(name) else '"' + name.replace('"', '""') + '"'
