"""The sparse factor: an identity, N⁻¹ by numpy on the whole matrix, everywhere."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse

from brasscap.adjust import dense
from brasscap.adjust.sparse import Nodes, symbolic
from brasscap.adjust.sparse.filling import fill_by_solving

EQUAL = 1e-9
"""As the results must not depend on the order of elimination."""


def columns_of(sizes):
    """Return (n + 1, 3) the columns of nodes with one to three each; −1 for none."""
    start = np.cumsum(sizes) - sizes
    table = start[:, None] + np.arange(3)
    table = np.where(np.arange(3) < sizes[:, None], table, -1)
    return np.vstack([table, np.full((1, 3), -1)])


def nodes_of(sizes, place=None, early=None, last=None, kept=None):
    count = len(sizes)
    return Nodes(
        np.repeat(np.arange(count), sizes),
        np.full((count, 2), np.nan) if place is None else place,
        np.full(count, -1) if early is None else early,
        np.zeros(count, bool) if last is None else last,
        kept,
    )


def products(rng, columns, sd=None):
    """Return AᵀA of random rows, twice as many as a cluster has columns."""
    clusters, width = columns.shape
    rows = rng.normal(size=(clusters, 2 * width, width))
    if sd is not None:
        rows /= sd[:, None, None]
    square = np.swapaxes(rows, 1, 2) @ rows
    return square[(slice(None), *np.tril_indices(width))]


def whole(parts, unknowns):
    """Return the matrix by plain summation."""
    total = np.zeros((unknowns + 1, unknowns + 1))
    for columns, lower in parts:
        width = columns.shape[1]
        square = np.zeros((len(columns), width, width))
        i, j = np.tril_indices(width)
        square[:, i, j] = square[:, j, i] = lower
        np.add.at(total, (columns[:, :, None], columns[:, None, :]), square)
    return total[:-1, :-1]


def random_parts(rng, sizes, joins, spread):
    """Return clusters that join two and three nodes, and one of each node alone."""
    table = columns_of(sizes)
    count = len(sizes)
    ends = rng.integers(-1, count, (joins, 3))
    ends[: joins // 2, 2] = -1
    parts = []
    for nodes in (
        ends[: joins // 2, :2],
        ends[joins // 2 :],
        np.arange(count)[:, None],
    ):
        columns = table[nodes].reshape(len(nodes), 3 * nodes.shape[1])
        sd = 10.0 ** rng.uniform(-spread, spread / 4, len(columns))
        parts.append((columns, products(rng, columns, sd)))
    return parts


def agrees(plan, parts, nodes, rng):
    """Compare the factor with numpy, in units of the standard deviations.

    To 1e-9, or where the matrix scaled to unit diagonal is so badly conditioned that
    numpy's inverse itself is not as good, to the unit roundoff times the condition
    (N. J. Higham, "Accuracy and Stability of Numerical Algorithms", section 10.1,
    from memory).
    """
    unknowns = len(nodes.node_of_column)
    matrix = whole(parts, unknowns)
    normal = plan.assemble(parts)
    vectors = rng.normal(size=(unknowns, 2))
    size = np.abs(matrix) @ np.abs(vectors)
    assert (np.abs(normal @ vectors - matrix @ vectors) <= 1e-13 * size).all()
    scale = 1 / np.sqrt(np.diagonal(matrix))
    scaled = scale[:, None] * matrix * scale
    assert normal.sums(scale) == pytest.approx(np.abs(scaled).sum(axis=0), rel=1e-12)
    equal = max(EQUAL, np.finfo(float).eps * np.linalg.cond(scaled))
    inverse = np.linalg.inv(scaled)
    inverse = np.pad(scale[:, None] * inverse * scale, (0, 1))
    sd = np.append(np.sqrt(np.diagonal(inverse)[:-1]), 1.0)
    made = plan.factor(normal)
    first = rng.integers(-1, unknowns, (20, 4))
    second = rng.integers(-1, unknowns, (20, 2))
    asked = [(first, second), (np.arange(unknowns)[:, None],) * 2]
    for number, (columns, _) in enumerate(parts):
        asked.append((columns, columns))
        blocks = made.cliques(columns, (number, 0))
        assert np.array_equal(blocks, made.blocks(columns, columns))
        assert np.array_equal(made.cliques(columns[1:], (number, 1)), blocks[1:])
    for a, b in asked:
        expected = inverse[a[:, :, None], b[:, None, :]]
        off = np.abs(made.blocks(a, b) - expected) / sd[a][:, :, None] / sd[b][:, None]
        assert off.max(initial=0.0) < equal
    right = matrix @ vectors
    expected = inverse[:-1, :-1] @ right
    error = np.abs(made.solve(right) - expected) / sd[:-1, None]
    assert error.max() < equal * np.abs(expected / sd[:-1, None]).max()
    assert np.array_equal(made.solve(right[:, 0])[:, None], made.solve(right[:, :1]))
    halves_agree(made, sd[:-1], inverse[:-1, :-1], equal, rng)
    return made


def halves_agree(made, sd, inverse, equal, rng):
    """Compare half solutions of sparse columns, and whole ones of single unknowns."""
    unknowns = len(sd)
    columns = np.where(rng.random((unknowns, 5)) < 3 / unknowns, rng.normal(), 0.0)
    columns /= sd[:, None]
    found = made.products(sparse.csc_array(columns))
    size = np.abs(columns).T @ np.outer(sd, sd) @ np.abs(columns)
    assert (np.abs(found - columns.T @ inverse @ columns) <= equal * size).all()
    rows, others = (rng.integers(0, unknowns, (n, 9)) for n in (2, 3))
    solved = np.zeros((2, 3, 9))
    fill_by_solving(made.solve, unknowns, solved, solved == 0, rows, others)
    off = np.abs(solved - inverse[rows[:, None], others])
    assert (off <= equal * sd[rows][:, None] * sd[others]).all()


@settings(max_examples=140, deadline=None)
@given(seed=st.integers(0, 2**32), count=st.integers(1, 90), joins=st.integers(2, 300))
def test_any_network_is_solved_as_by_numpy(seed, count, joins):
    """Clusters in bulk, dense nodes, no places, equal places and a line included."""
    rng = np.random.default_rng(seed)
    sizes = rng.integers(1, 4, count)
    kinds = (
        lambda: rng.normal(size=(count, 2)),
        lambda: rng.normal(size=(count, 3)),
        lambda: np.zeros((count, 2)),
        lambda: np.arange(count)[:, None] * np.ones(2),
        lambda: None,
    )
    place = kinds[seed % 5]()
    if place is not None:
        place[rng.random(count) < 0.2] = np.nan
    early = np.where(rng.random(count) < 0.3, rng.integers(0, count, count), -1)
    nodes = nodes_of(sizes, place, early, rng.random(count) < 0.05)
    parts = random_parts(rng, sizes, joins, 0.3)
    plan = symbolic(nodes, [columns for columns, _ in parts])
    made = agrees(plan, parts, nodes, rng)
    known = dense.factor(whole(parts, int(sizes.sum())))
    ratio = made.reciprocal_condition / known.reciprocal_condition
    assert 1 / 3 < ratio < 3


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 2**32))
def test_wide_weights_keep_the_accuracy(seed):
    """Standard deviations from 1e-4 to 10."""
    rng = np.random.default_rng(seed)
    sizes = rng.integers(1, 4, 40)
    nodes = nodes_of(sizes, rng.normal(size=(40, 2)))
    parts = random_parts(rng, sizes, 100, 4)
    plan = symbolic(nodes, [columns for columns, _ in parts])
    agrees(plan, parts, nodes, rng)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 2**32), pieces=st.integers(1, 12))
def test_what_is_free_is_found_as_by_eigenvalues(seed, pieces):
    """Differences alone: each piece floats in each of its three components."""
    rng = np.random.default_rng(seed)
    count = 4 * pieces
    table = columns_of(np.full(count, 3))
    start = np.repeat(np.arange(pieces) * 4, 6)
    i, j = (np.tile(ends, pieces) for ends in np.triu_indices(4, 1))
    columns = np.hstack([table[start + i], table[start + j]])
    weight = np.linalg.inv(_covariances(rng, len(columns)))
    turn = np.hstack([-np.eye(3), np.eye(3)])
    square = turn.T @ weight @ turn
    parts = [(columns, square[(slice(None), *np.tril_indices(6))])]
    plan = symbolic(nodes_of(np.full(count, 3), rng.normal(size=(count, 2))), [columns])
    with pytest.raises(dense.Singular) as found:
        plan.factor(plan.assemble(parts))
    null = found.value.null
    # By hand: the same shift of all marks of a piece costs nothing.
    shifts = np.kron(np.eye(pieces), np.tile(np.eye(3), (4, 1)))
    assert null.shape == shifts.shape
    assert np.linalg.matrix_rank(np.hstack([null, shifts]), tol=1e-6) == 3 * pieces


def _covariances(rng, count):
    mix = rng.normal(size=(count, 3, 6))
    return mix @ mix.swapaxes(1, 2)


def test_a_column_without_an_entry_is_free():
    nodes = nodes_of(np.array([1, 1]))
    plan = symbolic(nodes, [np.array([[0]])])
    normal = plan.assemble([(np.array([[0]]), np.array([[2.0]]))])
    with pytest.raises(dense.Singular) as found:
        plan.factor(normal)
    assert np.abs(found.value.null).round(12).tolist() == [[0.0], [1.0]]


def test_two_local_unknowns_may_be_one_column():
    """By hand: (x + x)² = 4 x², from AᵀA = [[1, 1], [1, 1]]."""
    plan = symbolic(nodes_of(np.array([1])), [np.array([[0, 0]])])
    normal = plan.assemble([(np.array([[0, 0]]), np.ones((1, 3)))])
    assert (normal @ np.ones(1)).tolist() == [4.0]


def test_a_session_of_200_is_one_clique():
    """Fully correlated: 200 marks seen from one base, each over its own set-up."""
    rng = np.random.default_rng(4)
    marks = np.arange(1, 201)
    set_ups = marks + 200
    table = columns_of(np.full(401, 3))
    session = table[np.concatenate([[0], set_ups])].reshape(1, -1)
    centred = np.hstack([table[marks], table[set_ups]])
    single = table[:-1]
    parts = [(c, products(rng, c)) for c in (session, centred, single)]
    early = np.where(np.arange(401) > 200, 0, -1)
    nodes = nodes_of(np.full(401, 3), rng.normal(size=(401, 2)), early)
    plan = symbolic(nodes, [session, centred, single])
    assert plan.statistics.largest_front <= 1203
    agrees(plan, parts, nodes, rng)


def test_joining_what_the_plan_does_not_know_is_refused():
    plan = symbolic(nodes_of(np.array([1, 1])), [np.array([[0], [1]])])
    with pytest.raises(ValueError, match="joined"):
        plan.assemble([(np.array([[0, 1]]), np.ones((1, 3)))])


def test_no_unknowns():
    plan = symbolic(nodes_of(np.zeros(0, int)), [])
    made = plan.factor(plan.assemble([]))
    assert made.solve(np.zeros(0)).shape == (0,)
    assert made.blocks(np.array([[-1]]), np.array([[-1]])).tolist() == [[[0.0]]]


def test_results_are_the_same_to_the_last_byte():
    def once():
        rng = np.random.default_rng(8)
        sizes = rng.integers(1, 4, 300)
        nodes = nodes_of(sizes, rng.normal(size=(300, 2)))
        parts = random_parts(rng, sizes, 900, 0.3)
        plan = symbolic(nodes, [columns for columns, _ in parts])
        made = plan.factor(plan.assemble(parts))
        return made.inverse.tobytes(), made.solve(np.ones(sizes.sum())).tobytes()

    assert once() == once()


@pytest.mark.parametrize("count", [1, 30, 120])
def test_a_part_says_what_it_knows_of_its_border(count):
    """Schur complement, reduced right side and inverse, against numpy."""
    rng = np.random.default_rng(count)
    sizes = rng.integers(1, 4, 200)
    kept = rng.permutation(200) < count
    nodes = nodes_of(sizes, rng.normal(size=(200, 2)), kept=kept)
    parts = random_parts(rng, sizes, 500, 0.3)
    plan = symbolic(nodes, [columns for columns, _ in parts])
    normal = plan.assemble(parts)
    made = plan.factor(normal, keep=True)
    matrix = whole(parts, int(sizes.sum()))
    inverse = np.linalg.inv(matrix)
    border = plan.kept_columns
    assert sorted(border) == np.flatnonzero(kept[nodes.node_of_column]).tolist()
    outer = inverse[np.ix_(border, border)]
    assert made.border @ outer == pytest.approx(np.eye(len(border)), abs=EQUAL)
    right = rng.normal(size=(len(matrix), 2))
    state, reduced = made.reduced(right)
    solved = made.completed(state, outer @ reduced)
    assert solved == pytest.approx(inverse @ right, abs=EQUAL)
    given_border = replace(made, border=np.zeros((0, 0)))
    given_border.__dict__["inverse"] = made.given(outer).inverse
    columns = np.arange(len(matrix))[:, None]
    expected = np.diagonal(inverse)[:, None, None]
    assert given_border.blocks(columns, columns) == pytest.approx(expected, abs=EQUAL)
    with pytest.raises(ValueError, match="two steps"):
        made.solve(right)
