"""Small matrices and chances by the million are those of general libraries."""

import numpy as np
import pytest
from scipy import special

from brasscap.adjust.judge.tails import chi_square_tail, fisher_tail
from brasscap.adjust.judge.three import (
    inverse_of_three,
    plain_of_three,
    smallest_of_three,
)


def test_small_matrices_in_columns_are_those_of_numpy():
    """Reference: numpy's own eigenvalues, inverses and Cholesky factors (LAPACK)."""
    mix, other = np.random.default_rng(1).standard_normal((2, 500, 3, 6))
    matrix = mix @ np.swapaxes(mix, 1, 2)
    larger = matrix + other @ np.swapaxes(other, 1, 2)
    np.testing.assert_allclose(
        smallest_of_three(matrix), np.linalg.eigvalsh(matrix)[:, 0], rtol=1e-9
    )
    np.testing.assert_allclose(inverse_of_three(matrix) @ matrix, [np.eye(3)] * 500,
                               atol=1e-10)  # fmt: skip
    # What is plain: the bound of the docstring lets through nothing that is not.
    inverse = np.linalg.inv(np.linalg.cholesky(larger))
    share = np.linalg.eigvalsh(inverse @ matrix @ np.swapaxes(inverse, 1, 2))[:, 0]
    good = share > 0.03
    for each in (larger, matrix):
        trace = np.einsum("nii->n", each)
        good &= np.linalg.eigvalsh(each)[:, 0] > 0.03 * trace
    plain, inverses, smallest = plain_of_three(larger, matrix, 0.03)
    assert not (plain & ~good).any()
    assert 0.7 * good.sum() < plain.sum() < 480
    np.testing.assert_allclose(inverses, np.linalg.inv(matrix[plain]), rtol=1e-9)
    np.testing.assert_allclose(
        smallest, np.linalg.eigvalsh(matrix[plain])[:, 0], rtol=1e-9
    )


@pytest.mark.parametrize("p", [1, 2, 3, 4])
def test_chances_of_few_components_are_those_of_scipy(p):
    """Reference: scipy's chi-square and F (cephes), on both sides of 1000."""
    values = np.append(np.linspace(0, 80, 200), np.nan)
    np.testing.assert_allclose(
        chi_square_tail(p, values), special.chdtrc(p, values), rtol=1e-12
    )
    for freedom in (5, 900, 1100, 20_000, 1_000_000):
        exact = special.fdtrc(p, freedom, values)
        np.testing.assert_allclose(fisher_tail(p, freedom, values), exact, rtol=1e-10)
