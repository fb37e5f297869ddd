"""The covariance of a SINEX solution: SOLUTION/MATRIX_ESTIMATE in all its forms."""

from collections.abc import Sequence

import numpy as np

from ...networks.covariances import Floats
from .sinex_lines import Block, FileFindings, cut, read_index, read_number

_KINDS = ("COVA", "CORR", "INFO")
# STD_DEV is printed with six digits; more than that apart is another quantity.
_SD_AGREES = 1e-4


def read_covariance(
    blocks: Sequence[Block],
    indices: Sequence[int],
    chosen: Sequence[int],
    sd: Floats,
    found: FileFindings,
) -> Floats:
    """Return the covariance of the chosen parameters.

    Absent elements are 0; the diagonal of a CORR matrix holds standard deviations;
    an INFO matrix is inverted with all its parameters before the others are left
    out. Without a matrix the standard deviations alone are used, which is said.

    Parameters
    ----------
    blocks : sequence of Block
    indices : sequence of int
        Numbers of all parameters of SOLUTION/ESTIMATE.
    chosen : sequence of int
        Numbers of those wanted, in the order wanted.
    sd : ndarray, shape (k,)
        STD_DEV of those wanted.
    found : FileFindings
        Takes the faults; the result counts only where there is none.

    Returns
    -------
    ndarray, shape (k, k)
    """
    given = [b for b in blocks if b.title == "SOLUTION/MATRIX_ESTIMATE"]
    if not given:
        found.add(
            "covariance-not-given",
            "whole file",
            verdict="query",
            booked="standard deviations only",
            against="a block SOLUTION/MATRIX_ESTIMATE",
            mend="ask for the file with its matrix: without correlations a distance "
            "between two stations seems less certain than it is",
        )
        return _positive(np.diag(sd**2), chosen, found)
    block = given[0]
    kind = block.arguments[1] if len(block.arguments) == 2 else ""
    if len(given) > 1 or kind not in _KINDS or block.arguments[0] not in ("L", "U"):
        found.add(
            "matrix-kind-unknown",
            "SOLUTION/MATRIX_ESTIMATE",
            line=given[-1].line,
            booked=" ".join(given[-1].arguments) or "nothing",
            against="one matrix, L or U, COVA, CORR or INFO",
            mend="ask the sender for a sound file",
        )
        return np.zeros((len(chosen), len(chosen)))
    wanted = indices if kind == "INFO" else chosen
    matrix = _elements(block, indices, wanted, found)
    if found.any_fault:
        return matrix
    covariance = _converted(matrix, kind, indices, chosen, found)
    _compare_sd(np.sqrt(np.abs(np.diag(covariance))), sd, block, found)
    return _positive(covariance, chosen, found)


def _elements(
    block: Block, indices: Sequence[int], wanted: Sequence[int], found: FileFindings
) -> Floats:
    """Return the symmetric matrix of the wanted parameters, as written."""
    known = set(indices)
    place = {index: k for k, index in enumerate(wanted)}
    matrix = np.zeros((len(wanted), len(wanted)))
    lower = block.arguments[0] == "L"
    for number, line in block.lines:
        row = read_index(cut(line, 2, 6), "row of the matrix", number, found)
        first = read_index(cut(line, 8, 12), "column of the matrix", number, found)
        for k, start in enumerate((14, 36, 58)):
            text = cut(line, start, start + 20)
            if not text or not row or not first:
                continue
            column = first + k
            value = read_number(text, f"element {row}, {column}", number, found)
            if row not in known or column not in known:
                _outside(row, column, number, "a parameter of SOLUTION/ESTIMATE", found)
            elif (column > row) if lower else (column < row):
                part = "lower" if lower else "upper"
                _outside(row, column, number, f"the {part} triangle", found)
            elif row in place and column in place:
                matrix[place[row], place[column]] = value
                matrix[place[column], place[row]] = value
    return matrix


def _outside(
    row: int, column: int, line: int, against: str, found: FileFindings
) -> None:
    found.add(
        "matrix-element-outside",
        f"element {row}, {column}",
        line=line,
        booked=f"row {row}, column {column}",
        against=against,
        mend="ask the sender for a sound file",
    )


def _converted(
    matrix: Floats,
    kind: str,
    indices: Sequence[int],
    chosen: Sequence[int],
    found: FileFindings,
) -> Floats:
    if kind == "COVA":
        return matrix
    if kind == "CORR":
        sd = np.diag(matrix).copy()
        correlation = matrix.copy()
        np.fill_diagonal(correlation, 1.0)
        return correlation * np.outer(sd, sd)
    scale = np.sqrt(np.abs(np.diag(matrix)))
    if not _is_positive(matrix, scale):
        _not_positive("normal matrix (INFO)", found)
        return np.eye(len(chosen))
    inverse = np.linalg.inv(matrix / np.outer(scale, scale)) / np.outer(scale, scale)
    place = {index: k for k, index in enumerate(indices)}
    at = [place[index] for index in chosen]
    return np.asarray(inverse[np.ix_(at, at)])


def _compare_sd(
    from_matrix: Floats, sd: Floats, block: Block, found: FileFindings
) -> None:
    differs = np.abs(from_matrix - sd) > _SD_AGREES * sd
    if not differs.any():
        return
    ratio = float(np.median(from_matrix[differs] / np.maximum(sd[differs], 1e-300)))
    found.add(
        "sd-differs-from-matrix",
        f"{int(differs.sum())} of {len(sd)} coordinates",
        verdict="query",
        line=block.line,
        booked=f"the matrix gives {ratio:.4g} times STD_DEV (median)",
        against="square roots of its diagonal equal to STD_DEV",
        mend="ask the sender which of the two holds; the matrix is imported",
    )


def _positive(covariance: Floats, chosen: Sequence[int], found: FileFindings) -> Floats:
    variance = np.diag(covariance)
    for index in np.array(chosen)[variance <= 0]:
        found.add(
            "sd-is-zero",
            f"parameter {index}",
            booked="variance 0 or less",
            against="a variance over 0 for every coordinate",
            mend="a station held fixed belongs in control.csv; ask for a solution "
            "that states what it is worth",
        )
    if (variance > 0).all() and not _is_positive(covariance, np.sqrt(variance)):
        _not_positive("covariance", found)
    return covariance


def _is_positive(matrix: Floats, scale: Floats) -> bool:
    if not (scale > 0).all():
        return False
    try:
        np.linalg.cholesky(matrix / np.outer(scale, scale))
    except np.linalg.LinAlgError:
        return False
    return True


def _not_positive(what: str, found: FileFindings) -> None:
    found.add(
        "covariance-not-positive",
        what,
        against="a matrix whose eigenvalues are all over 0",
        mend="ask the sender for a sound file",
    )
