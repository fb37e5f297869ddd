"""What must hold however large a network is: quick ways agree with the plain ones."""

import numpy as np

from brasscap.adjust.judge.three import (
    inverse_of_three,
    smallest_of_three,
    whitened_by,
)
from brasscap.adjust.precision import circle_exact


def test_many_circles_are_those_of_one_after_another():
    """Identity: more than 65 circles come from a polynomial, one by bisection."""
    shape = np.linspace(0, 1, 90)
    together = circle_exact(np.full(90, 3.0), 3 * shape)
    alone = [float(circle_exact(3.0, 3 * one)) for one in shape]
    np.testing.assert_allclose(together, alone, rtol=1e-11)


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
    inverse = np.linalg.inv(np.linalg.cholesky(larger))
    expected = inverse @ matrix @ np.swapaxes(inverse, 1, 2)
    np.testing.assert_allclose(whitened_by(larger, matrix), expected, atol=1e-12)
