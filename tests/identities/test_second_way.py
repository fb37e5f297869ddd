"""A plain dense design of the whole network, solved by statsmodels' GLS."""

import numpy as np
import pytest
from statsmodels.regression.linear_model import GLS

from brasscap.adjust import estimate
from brasscap.networks.covariances import blocks

# Spacing of double-precision numbers at 6,400 km, m.
ROUNDING = 9.4e-10


def full(covariances, count, rows):
    """Return the whole covariance matrix of a set of batches."""
    whole = np.zeros((count, rows, count, rows))
    for batch in covariances:
        c, s = batch.members.shape
        tiles = batch.matrix.reshape(c, s, rows, s, rows)
        for k, members in enumerate(batch.members):
            whole[np.ix_(members, range(rows), members, range(rows))] = tiles[k]
    return whole.reshape(count * rows, count * rows)


def lean(frame, xyz):
    """Return (n, 3, 3): how the vertical changes for a metre in X, Y, Z."""
    steps = 100.0 * np.eye(3)
    changes = [frame.axes(xyz + s)[:, 2] - frame.axes(xyz - s)[:, 2] for s in steps]
    return np.stack(changes, axis=2) / 200.0


def dense_system(adjustment):
    """Return A, observed minus computed, and C of a network, written out plainly.

    Unknowns: X, Y, Z of every node. Held coordinates are left out by a basis of
    what may move. Nothing here is shared with the tool but the positions at which
    the equations are formed.
    """
    network = adjustment.network
    marks = len(network.marks)
    axes = network.frame.axes(adjustment.nodes.xyz[:marks])
    axes = np.concatenate([axes, axes[network.set_ups.mark]])
    xyz = adjustment.nodes.xyz
    count = len(xyz)
    rows, misclosures, covariances = [], [], []

    def add(row, misclosure, covariance):
        rows.append(row)
        misclosures.append(misclosure)
        covariances.append(covariance)

    vectors = network.vectors
    design = np.zeros((len(vectors), 3, count, 3))
    # An antenna stands on the vertical of its node, which leans as the node moves.
    leans = lean(
        network.frame, np.concatenate([xyz[:marks], xyz[network.set_ups.mark]])
    )
    for i, (start, end) in enumerate(zip(vectors.start, vectors.end, strict=True)):
        design[i, :, end] = np.eye(3) + vectors.end_offset[i] * leans[end]
        design[i, :, start] = -np.eye(3) - vectors.start_offset[i] * leans[start]
    tops = xyz[vectors.end] + vectors.end_offset[:, None] * axes[vectors.end, 2]
    feet = xyz[vectors.start] + vectors.start_offset[:, None] * axes[vectors.start, 2]
    add(
        design.reshape(-1, count * 3),
        (vectors.delta - (tops - feet)).ravel(),
        full(vectors.covariances, len(vectors), 3),
    )
    set_ups = network.set_ups
    for s, mark in enumerate(set_ups.mark):
        row = np.zeros((3, count, 3))
        row[:, marks + s], row[:, mark] = axes[mark], -axes[mark]
        sds = [set_ups.sd_centring[s]] * 2 + [set_ups.sd_height[s]]
        apart = axes[mark] @ (xyz[mark] - xyz[marks + s])
        add(row.reshape(3, -1), apart, np.diag(np.square(sds)))
    positions = network.positions
    if positions.used.any():
        design = np.zeros((len(positions), 3, count, 3))
        for i, node in enumerate(positions.node):
            design[i, :, node] = axes[node]
        apart = np.einsum(
            "nij,nj->ni", axes[positions.node], positions.xyz - xyz[positions.node]
        )
        on = positions.components.ravel()
        add(
            design.reshape(-1, count * 3)[on],
            apart.ravel()[on],
            full(positions.covariances, len(positions), 3)[np.ix_(on, on)],
        )
    known = network.known
    weighted, held_rows = known.in_use("weighted"), known.in_use("held")
    own = blocks(known.covariances, len(known), 3)
    for i in np.flatnonzero(weighted.any(axis=1)):
        node, soft, hard = known.mark[i], weighted[i], held_rows[i]
        row = np.zeros((3, count, 3))
        row[:, node] = axes[node]
        apart = axes[node] @ (known.xyz[i] - xyz[node])
        # What is held is exact: the rest keeps its conditional covariance.
        cross = own[i][np.ix_(soft, hard)]
        less = cross @ np.linalg.solve(own[i][np.ix_(hard, hard)], cross.T)
        add(row.reshape(3, -1)[soft], apart[soft], own[i][np.ix_(soft, soft)] - less)
    basis = np.zeros((count, 3, count, 3))
    held = np.zeros((count, 3), dtype=bool)
    np.logical_or.at(held, known.mark, known.in_use("held"))
    for node in range(count):
        basis[node, :, node] = axes[node].T
    free = basis.reshape(count * 3, count * 3)[:, ~held.ravel()]
    sizes = [len(row) for row in rows]
    covariance = np.zeros((sum(sizes), sum(sizes)))
    at = 0
    for size, block in zip(sizes, covariances, strict=True):
        covariance[at : at + size, at : at + size] = block
        at += size
    return np.vstack(rows) @ free, np.concatenate(misclosures), covariance, free


def test_a_second_way_to_the_same_answer(survey):
    """statsmodels' GLS, with the full covariance, has nothing left to correct.

    Its covariance of the unknowns is ours, set-ups included.
    """
    adjustment = estimate(survey, "constrained")
    design, misclosure, covariance, free = dense_system(adjustment)
    # In units of 1 mm, so that GLS works on numbers near one.
    fit = GLS(1e3 * misclosure, design, sigma=1e6 * covariance).fit()
    np.testing.assert_allclose(fit.params / 1e3, 0, rtol=0, atol=4 * ROUNDING)
    assert fit.df_resid == adjustment.degrees_of_freedom
    assert fit.scale == pytest.approx(adjustment.s0_sq, rel=1e-6)
    theirs = free @ (fit.normalized_cov_params / 1e6) @ free.T
    count = len(adjustment.nodes.xyz)
    theirs = theirs.reshape(count, 3, count, 3)
    axes = adjustment.nodes.axes
    for first in range(count):
        others = np.arange(count)
        ours = adjustment.covariance(np.full(count, first), others)
        turned = np.einsum(
            "ij,njk,nlk->nil", axes[first], theirs[first].swapaxes(0, 1), axes
        )
        np.testing.assert_allclose(ours, turned, rtol=1e-7, atol=1e-13)


def test_residuals_are_orthogonal_to_the_design(survey):
    """AᵀPv = 0, in the plain design."""
    adjustment = estimate(survey, "constrained")
    design, misclosure, covariance, _ = dense_system(adjustment)
    weighted_design = np.linalg.solve(covariance, design)
    weighted = np.linalg.solve(covariance, misclosure)
    # Misclosures of millimetres are differences of rounded coordinates.
    reachable = np.abs(weighted_design).sum(axis=0) * 4 * ROUNDING
    assert (np.abs(design.T @ weighted) < reachable).all()
    assert misclosure @ weighted == pytest.approx(adjustment.vtpv, rel=1e-6)
