"""Covariances tested: each connected set must be positive definite."""

from collections.abc import Iterable

import numpy as np

from ....networks.covariances import Bools, Covariances, Floats
from ....networks.findings import Finding
from ..table import Table

SINGULAR = 1e-12
"""Smallest eigenvalue of correlations that are told from nothing but rounding."""


def not_positive(
    covariances: Covariances, table: Table, rows: Iterable[int]
) -> list[Finding]:
    """Return a fault for each connected set whose covariance is not positive.

    Parameters
    ----------
    covariances : tuple of Batch
        Of the rows of ``table`` that ``rows`` names; a set with an unstated (NaN)
        component is tested on the rest.
    table : Table
    rows : iterable of int
        The table's row of each observation.
    """
    row = list(rows)
    found = []
    for batch in covariances:
        doubtful = ~_plainly_positive(batch.matrix)
        for members, matrix in zip(
            batch.members[doubtful], batch.matrix[doubtful], strict=True
        ):
            known = np.isfinite(np.diagonal(matrix))
            part = matrix[np.ix_(known, known)]
            if not part.size or not np.isfinite(part).all():
                continue
            problem = _smallest(part)
            if problem:
                ends = [row[int(k)] for k in members]
                if len(ends) == 1:
                    problem += _too_large(matrix, table.name)
                found.append(_not_positive(table, ends, problem))
    return found


def _plainly_positive(stack: Floats) -> Bools:
    """Return which of a stack of covariances are whole and positive definite."""
    own = np.diagonal(stack, axis1=1, axis2=2)
    whole = np.isfinite(stack).all(axis=(1, 2)) & (own > 0).all(axis=1)
    good: Bools = np.zeros(len(stack), dtype=bool)
    scale = 1 / np.sqrt(own[whole])
    scaled = stack[whole] * scale[:, :, None] * scale[:, None, :]
    good[whole] = np.linalg.eigvalsh(scaled)[:, 0] > SINGULAR
    return good


def _smallest(matrix: Floats) -> str:
    """Return what is wrong with a covariance, empty if it is positive definite."""
    own = np.diagonal(matrix)
    smallest = float(np.linalg.eigvalsh(matrix)[0])
    # Scaled to correlations, so that a small variance beside a large one passes.
    if (own > 0).all():
        scale = 1 / np.sqrt(own)
        if np.linalg.eigvalsh(matrix * scale[:, None] * scale[None, :])[0] > SINGULAR:
            return ""
    return f"smallest eigenvalue {smallest * 1e6:.4g} mm2"


def _too_large(matrix: Floats, table: str) -> str:
    """Return the covariance of one row that is larger than its variances allow."""
    axes = ("x", "y", "z") if table == "baselines" else ("east", "north", "height")
    for i, j in ((0, 1), (0, 2), (1, 2)):
        product = matrix[i, i] * matrix[j, j]
        if product > 0 and abs(matrix[i, j]) >= np.sqrt(product):
            limit = np.sqrt(product) * 1e6
            return f"; |cov {axes[i]} {axes[j]}| must be below {limit:.4g} mm2"
    return ""


def _not_positive(table: Table, rows: list[int], problem: str) -> Finding:
    columns = [c for c in table.header if c.startswith(("cov_", "sd_", "corr_"))]
    booked = tuple(c for c in columns if table.has(c)[rows[0]])
    text = "a covariance matrix that is positive definite; here the " + problem
    likely = "columns in another order, or the lower triangle"
    if len(rows) > 1:
        text += f" of the {len(rows)} rows that are correlated"
        likely = "a wrong covariance between rows, or two rows exchanged"
    return table.finding(
        "covariance-not-positive",
        "fault",
        rows[0],
        booked,
        against=text,
        likely=likely,
        mend="compare one row with its source, then import the corrected table; or "
        "leave the row out by a decision",
    )
