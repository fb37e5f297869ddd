"""covariances.csv and covariances/*.csv: what rows of one table have in common."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ....networks.covariances import Floats
from ....networks.findings import Finding
from ..matrix import Matrix
from ..spelling import nearest
from ..table import Table

_CARTESIAN = {"x": 0, "y": 1, "z": 2}
_LEVEL = {"e": 0, "n": 1, "u": 2, "east": 0, "north": 1, "height": 2}


@dataclass(slots=True, frozen=True)
class CrossBlock:
    """What two rows have in common."""

    covariance: Floats
    """(3, 3) m², rows of the first and columns of the second; NaN = not booked."""
    level: bool
    """Whether the axes are east, north, up instead of x, y, z."""
    file: str
    """Where some of it is booked first."""
    row: int
    line: int


Blocks = dict[tuple[int, int], CrossBlock]


@dataclass(slots=True, frozen=True)
class Correlations:
    """Everything that says what rows have in common."""

    entries: Table | None = None
    """covariances.csv, one covariance a row."""
    matrices: tuple[Matrix, ...] = ()
    """covariances/NAME.csv in matrix form."""

    @property
    def is_empty(self) -> bool:
        """Whether nothing is booked."""
        return self.entries is None and not self.matrices


def cross_blocks(
    correlations: Correlations,
    table: str,
    row_of: Mapping[tuple[str, int], int],
    findings: list[Finding],
) -> Blocks:
    """Return the cross blocks of a table's rows, first row before second.

    A matrix also holds the own block of each row, under twice the same row.

    Parameters
    ----------
    correlations : Correlations
    table : str
        ``baselines``, ``positions`` or ``control``.
    row_of : mapping of (str, int) to int
        Name and axis (0, 1, 2) to the row, so that plan and height of a known mark
        may be two rows.
    findings : list of Finding
        Extended here.
    """
    blocks: Blocks = {}
    if correlations.is_empty:
        return blocks
    names = sorted({name for name, _ in row_of})
    for matrix in correlations.matrices:
        if matrix.table == table:
            _add_matrix(blocks, matrix, row_of, names, findings)
    entries = correlations.entries
    if entries is None:
        return blocks
    values = entries.number("cov")
    for k in np.flatnonzero(entries.word("table") == table).tolist():
        ends = [
            _end(entries, k, column, row_of, names, findings)
            for column in ("row", "column")
        ]
        if ends[0] is None or ends[1] is None or not np.isfinite(values[k]):
            continue
        problem = _add(blocks, entries, k, ends[0], ends[1], float(values[k]))
        if problem is not None:
            findings.append(problem)
    return blocks


def _add_matrix(
    blocks: Blocks,
    matrix: Matrix,
    row_of: Mapping[tuple[str, int], int],
    names: list[str],
    findings: list[Finding],
) -> None:
    """Enter every block of a matrix, own blocks too."""
    numbers = [_LEVEL.get(a, _CARTESIAN.get(a, -1)) for a in matrix.axes]
    keys = list(zip(matrix.rows, numbers, strict=True))
    unknown = [name for name, axis in keys if (name, axis) not in row_of]
    levels = {axis in _LEVEL for axis in matrix.axes}
    if unknown or len(levels) > 1:
        findings.append(_unusable_matrix(matrix, unknown, names))
        return
    rows = [row_of[key] for key in keys]
    for p, i in enumerate(rows):
        for q, j in enumerate(rows):
            if i > j:
                continue
            place = matrix.file, 0, matrix.line[p]
            new = CrossBlock(np.full((3, 3), np.nan), levels == {True}, *place)
            block = blocks.setdefault((i, j), new)
            block.covariance[numbers[p], numbers[q]] = matrix.covariance[p, q]


def _unusable_matrix(matrix: Matrix, unknown: list[str], names: list[str]) -> Finding:
    if not unknown:
        return Finding(
            "covariance-axes",
            "fault",
            matrix.file,
            file=matrix.file,
            booked=", ".join(sorted(set(matrix.axes))),
            against="x, y, z for all rows, or north, east, height for all",
            mend="use one kind of axes in a file",
        )
    return Finding(
        "unknown-name",
        "fault",
        matrix.file,
        file=matrix.file,
        booked=", ".join(dict.fromkeys(unknown)),
        against=f"the {len(names)} rows of {matrix.table}.csv",
        likely=nearest(unknown[0], names),
        mend="name rows of that table",
    )


def _end(
    entries: Table,
    k: int,
    column: str,
    row_of: Mapping[tuple[str, int], int],
    names: list[str],
    findings: list[Finding],
) -> tuple[int, int, bool] | None:
    """Return row, axis number and whether the axis is a level one."""
    name, axis = str(entries.word(column)[k]), str(entries.word(f"{column}_axis")[k])
    level = axis in _LEVEL
    number = _LEVEL.get(axis, _CARTESIAN.get(axis, -1))
    if not name or number < 0:
        return None
    found = row_of.get((name, number))
    if found is not None:
        return found, number, level
    if name not in names:
        likely = nearest(name, names)
        findings.append(
            entries.finding(
                "unknown-name",
                "fault",
                k,
                (column,),
                against=f"the {len(names)} rows of {entries.word('table')[k]}.csv",
                likely=likely,
                mend="name a row of that table",
            )
        )
    return None


def _add(
    blocks: Blocks,
    entries: Table,
    k: int,
    first: tuple[int, int, bool],
    second: tuple[int, int, bool],
    value: float,
) -> Finding | None:
    """Enter one covariance; return what is wrong with it."""
    (i, a, level), (j, b, other_level) = first, second
    if i == j:
        return _wrong(
            entries,
            k,
            "covariance-own-block",
            "two different rows; a row's own covariance stands in its own table",
            "take the line out",
        )
    if level != other_level:
        return _wrong(
            entries,
            k,
            "covariance-axes",
            "x, y, z for both rows, or north, east, height for both",
            "give both rows in the same axes",
        )
    if i > j:
        i, j, a, b = j, i, b, a
    place = str(entries.file[k]), int(entries.row[k]), int(entries.line[k])
    new = CrossBlock(np.full((3, 3), np.nan), level, *place)
    block = blocks.setdefault((i, j), new)
    if block.level != level:
        text = "the axes in which the other covariances of these rows are given"
        return _wrong(entries, k, "covariance-axes", text, "use one kind of axes")
    before = block.covariance[a, b]
    if np.isfinite(before) and not np.isclose(before, value, rtol=1e-6, atol=0.0):
        text = f"{before * 1e6:g} mm2 for the same pair above"
        return _wrong(entries, k, "covariance-contradicts", text, "keep the right one")
    block.covariance[a, b] = value
    return None


def _wrong(entries: Table, k: int, slug: str, against: str, mend: str) -> Finding:
    columns = ("row", "row_axis", "column", "column_axis", "cov")
    return entries.finding(slug, "fault", k, columns, against=against, mend=mend)


def own_blocks(
    own: Floats, blocks: Blocks, axes: Floats, table: Table, *, level: bool
) -> list[Finding]:
    """Fill own covariances that only a matrix gives, in place; return contradictions.

    Parameters
    ----------
    own : ndarray, shape (n, 3, 3)
        As booked in the table, NaN where it is not.
    blocks : dict
    axes : ndarray, shape (n, 3, 3)
        East, north, up of each row.
    table : Table
    level : bool
        Whether ``own`` is in east, north, up instead of cartesian axes.
    """
    found = []
    for (i, j), block in blocks.items():
        if i != j or not np.isfinite(block.covariance).all():
            continue
        matrix = in_axes(block, axes[i], axes[i], level=level)
        if np.isnan(own[i]).any():
            own[i] = matrix
            continue
        largest = np.abs(np.diagonal(own[i])).max()
        if not np.allclose(own[i], matrix, rtol=0.0, atol=1e-3 * largest):
            found.append(_two_own(table, i, block))
    return found


def in_axes(block: CrossBlock, first: Floats, second: Floats, *, level: bool) -> Floats:
    """Return a cross block in east, north, up, or in cartesian axes.

    Parameters
    ----------
    block : CrossBlock
    first, second : ndarray, shape (3, 3)
        East, north, up of the two rows.
    level : bool
        Whether east, north, up are asked for.
    """
    if block.level == level:
        return block.covariance
    if level:
        return np.asarray(first @ block.covariance @ second.T)
    return np.asarray(first.T @ block.covariance @ second)


def _two_own(table: Table, i: int, block: CrossBlock) -> Finding:
    columns = [c for c in table.header if c.startswith(("cov_", "sd_"))]
    return table.finding(
        "covariance-contradicts",
        "fault",
        i,
        tuple(c for c in columns if table.has(c)[i]),
        against=f"another covariance of the same row in {block.file}",
        mend="keep the right one",
    )
