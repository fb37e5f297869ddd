"""Whitening and normal equations, against numpy on whole matrices."""

import numpy as np
import pytest

from brasscap.adjust.equations import Equations
from brasscap.adjust.normal import contributions, normal_matrix, right_side, whiten
from brasscap.networks.covariances import Batch

UNKNOWNS = 7
COLUMNS = np.array([[0, 1, 2], [3, -1, 4], [5, 6, -1], [0, 1, 2]])
"""Of four nodes; two components are held, and the last node falls with the first."""


def made(size, rows, clusters=5):
    """Return equations of clusters of one size, each edge between two or one nodes."""
    rng = np.random.default_rng(100 * size + rows)
    edges = clusters * size
    mix = rng.normal(size=(clusters, size * rows, 2 * size * rows))
    covariance = mix @ mix.swapaxes(1, 2) / size
    node = rng.integers(0, 4, (edges, 2))
    node[0, 1] = -1
    design = rng.normal(size=(edges, rows, 2, 3))
    design[0, :, 1] = 0.0
    members = rng.permutation(edges).reshape(clusters, size)
    return Equations(
        "made up",
        rng.normal(size=(edges, rows)),
        design,
        node,
        np.ones((edges, rows), dtype=bool),
        (Batch(members, covariance),),
    )


def whole(some):
    """Return the whole design, misclosure and covariance, edge by edge."""
    edges, rows = some.misclosure.shape
    padded = np.vstack([COLUMNS, [-1, -1, -1]])
    design = np.zeros((edges, rows, UNKNOWNS))
    for edge in range(edges):
        for slot, node in enumerate(some.node[edge]):
            for component, column in enumerate(padded[node]):
                if column >= 0:
                    design[edge, :, column] += some.design[edge, :, slot, component]
    covariance = np.zeros((edges, rows, edges, rows))
    for members, matrix in zip(
        some.covariances[0].members, some.covariances[0].matrix, strict=True
    ):
        size = len(members)
        at = np.ix_(members, range(rows), members, range(rows))
        covariance[at] = matrix.reshape(size, rows, size, rows)
    total = edges * rows
    return (
        design.reshape(total, -1),
        some.misclosure.ravel(),
        covariance.reshape(total, total),
    )


@pytest.mark.parametrize(("size", "rows"), [(1, 1), (1, 3), (2, 3), (3, 3), (7, 1)])
def test_normal_equations_are_those_of_the_whole_matrices(size, rows):
    """AᵀC⁻¹A and AᵀC⁻¹l, whatever the clusters' size; two slots may be one unknown."""
    some = made(size, rows)
    batches = whiten(some, COLUMNS)
    design, misclosure, covariance = whole(some)
    weighted = np.linalg.solve(covariance, np.column_stack([design, misclosure]))
    expected = design.T @ weighted
    scale = np.abs(expected).max()
    np.testing.assert_allclose(
        normal_matrix(batches, UNKNOWNS), expected[:, :-1], rtol=0, atol=1e-12 * scale
    )
    np.testing.assert_allclose(
        right_side(batches, UNKNOWNS), expected[:, -1], rtol=0, atol=1e-12 * scale
    )
    square = sum(np.sum(batch.misclosure**2) for batch in batches)
    assert square == pytest.approx(misclosure @ weighted[:, -1], rel=1e-10)


def test_contributions_leave_out_what_is_no_unknown():
    """Of two nodes of three components, as many products as unknowns have pairs."""
    some = made(1, 3)
    (batch,) = whiten(some, np.array([[0, 1, -1], [2, 3, -1], [4, 5, -1], [6, -1, -1]]))
    columns, products = contributions(batch)
    assert columns.shape == (5, 4)
    assert products.shape == (5, 10)


@pytest.mark.parametrize(("size", "rows"), [(1, 1), (1, 3), (3, 3)])
def test_a_covariance_that_is_not_positive_is_refused(size, rows):
    some = made(size, rows)
    some.covariances[0].matrix[2, 0, 0] = -1.0
    with pytest.raises(np.linalg.LinAlgError):
        whiten(some, COLUMNS)
