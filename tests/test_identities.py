"""What holds for every network, whatever was measured.

The survey is made up with a fixed seed: a check is an identity, or a second way to
the same answer (a plain dense design, and statsmodels on it).
"""

from dataclasses import replace

import numpy as np
import pytest
from statsmodels.regression.linear_model import GLS

from brasscap.adjust import estimate
from brasscap.adjust.judge import blunder_tests
from brasscap.networks import (
    GeodeticFrame,
    KnownMarks,
    Marks,
    Network,
    Options,
    Positions,
    SetUps,
    Vectors,
)
from brasscap.networks.covariances import Batch, blocks, keep, single

FRAME = GeodeticFrame(4979, 2020.0)
MARKS = 7
# Session by session: the marks occupied, by one set-up each.
SESSIONS = [(0, 1, 2, 3), (2, 3, 4), (4, 5, 6, 0), (1, 5), (3, 6), (1, 5)]

# Spacing of double-precision numbers at 6,400 km, m.
ROUNDING = 9.4e-10


def random_covariance(rng, rows, sd):
    """Return a well-conditioned covariance, sd in metres."""
    mix = rng.normal(size=(rows, 2 * rows))
    return sd**2 * (mix @ mix.T / (2 * rows) + 0.2 * np.eye(rows))


def make_marks(rng):
    latitude = 47.0 + rng.uniform(0, 0.03, MARKS)
    longitude = 8.0 + rng.uniform(0, 0.03, MARKS)
    height = rng.uniform(400, 600, MARKS)
    return FRAME.cartesian(np.stack([latitude, longitude, height], axis=1))


def make_set_ups(rng):
    mark = np.array([m for session in SESSIONS for m in session])
    session = np.array([k for k, s in enumerate(SESSIONS) for _ in s])
    count = len(mark)
    names = tuple(f"O{i}" for i in range(count))
    blank = ("",) * count
    return SetUps(
        name=names,
        mark=mark,
        support=("tripod",) * count,
        session=session,
        height=rng.uniform(1.3, 1.7, count),
        eccentricity=np.zeros((count, 2)),
        sd_centring=rng.uniform(0.8e-3, 1.5e-3, count),
        sd_height=rng.uniform(1e-3, 2e-3, count),
        reduction=blank,
        antenna=blank,
        tripod=blank,
        row=np.arange(count) + 2,
    )


def make_vectors(rng, marks, set_ups):
    """Return the vectors of each session from its first set-up, correlated."""
    start, end, session = [], [], []
    batches, of_size = [], {}
    for number in range(len(SESSIONS)):
        inside = np.flatnonzero(set_ups.session == number)
        first = len(start)
        start += [inside[0]] * (len(inside) - 1)
        end += list(inside[1:])
        session += [number] * (len(inside) - 1)
        members = np.arange(first, len(start))
        of_size.setdefault(len(members), []).append(
            (members, random_covariance(rng, 3 * len(members), 4e-3))
        )
    for _, clusters in sorted(of_size.items()):
        batches.append(
            Batch(
                np.array([members for members, _ in clusters]),
                np.array([matrix for _, matrix in clusters]),
            )
        )
    start, end = np.array(start), np.array(end)
    up = FRAME.axes(marks)[:, 2, :]
    points = marks[set_ups.mark] + set_ups.height[:, None] * up[set_ups.mark]
    delta = points[end] - points[start] + rng.normal(0, 4e-3, (len(start), 3))
    return Vectors(
        name=tuple(f"B{i}" for i in range(len(start))),
        start=start + MARKS,
        end=end + MARKS,
        delta=delta,
        start_offset=set_ups.height[start],
        end_offset=set_ups.height[end],
        covariances=tuple(batches),
        session=np.array(session),
        group=np.full(len(start), -1),
        used=np.ones(len(start), dtype=bool),
        row=np.arange(len(start)) + 2,
    )


def make_known(rng, marks):
    """Return one mark held, one weighted, and one held in height only."""
    mark = np.array([0, 4, 2])
    covariance = np.full((3, 3, 3), np.nan)
    covariance[1] = random_covariance(rng, 3, 5e-3)
    return KnownMarks(
        mark=mark,
        xyz=marks[mark] + np.array([[0.0] * 3, rng.normal(0, 4e-3, 3), [0.0] * 3]),
        components=np.array([[True] * 3, [True] * 3, [False, False, True]]),
        use_plan=("held", "weighted", ""),
        use_height=("held", "weighted", "held"),
        covariances=single(covariance),
        source=("made up",) * 3,
        used=np.ones(3, dtype=bool),
        row=np.arange(3) + 2,
    )


def make_positions(rng, marks):
    """Return three positions of one solution, one of them in plan only."""
    node = np.array([1, 5, 6])
    return Positions(
        name=("P0", "P1", "P2"),
        node=node,
        xyz=marks[node] + rng.normal(0, 8e-3, (3, 3)),
        offset=np.zeros(3),
        components=np.array([[True] * 3, [True] * 3, [True, True, False]]),
        covariances=(
            Batch(node[None] * 0 + np.arange(3), random_covariance(rng, 9, 8e-3)[None]),
        ),
        group=np.full(3, -1),
        used=np.ones(3, dtype=bool),
        row=np.arange(3) + 2,
    )


@pytest.fixture
def survey():
    rng = np.random.default_rng(20240229)
    marks = make_marks(rng)
    set_ups = make_set_ups(rng)
    return Network(
        frame=FRAME,
        marks=Marks(
            name=tuple(f"T{i}" for i in range(MARKS)),
            approximate=marks + rng.normal(0, 0.3, marks.shape),
            status=("found",) * MARKS,
            description=("",) * MARKS,
            row=np.arange(MARKS) + 2,
        ),
        set_ups=set_ups,
        vectors=make_vectors(rng, marks, set_ups),
        positions=make_positions(rng, marks),
        known=make_known(rng, marks),
        sessions=tuple(f"S{i}" for i in range(len(SESSIONS))),
        options=Options(),
    )


def without_positions(network):
    positions = network.positions
    return replace(
        network, positions=replace(positions, used=np.zeros(len(positions), dtype=bool))
    )


def full(covariances, count, rows):
    """Return the whole covariance matrix of a set of batches."""
    whole = np.zeros((count, rows, count, rows))
    for batch in covariances:
        c, s = batch.members.shape
        tiles = batch.matrix.reshape(c, s, rows, s, rows)
        for k, members in enumerate(batch.members):
            whole[np.ix_(members, range(rows), members, range(rows))] = tiles[k]
    return whole.reshape(count * rows, count * rows)


def dense_system(adjustment):
    """Return A, observed minus computed, and C of a network, written out plainly.

    Unknowns: X, Y, Z of every node. Held coordinates are left out by a basis of
    what may move. Nothing here is shared with the tool but the positions at which
    the equations are formed.
    """
    network = adjustment.network
    axes = network.frame.axes(adjustment.nodes.xyz[:MARKS])
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
    for i in range(len(vectors)):
        design[i, :, vectors.end[i]] = np.eye(3)
        design[i, :, vectors.start[i]] = -np.eye(3)
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
        row[:, MARKS + s], row[:, mark] = axes[mark], -axes[mark]
        sds = [set_ups.sd_centring[s]] * 2 + [set_ups.sd_height[s]]
        apart = axes[mark] @ (xyz[mark] - xyz[MARKS + s])
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
    weighted = known.in_use("weighted").all(axis=1)
    own = blocks(known.covariances, len(known), 3)
    for i in np.flatnonzero(weighted):
        node = known.mark[i]
        row = np.zeros((3, count, 3))
        row[:, node] = axes[node]
        add(row.reshape(3, -1), axes[node] @ (known.xyz[i] - xyz[node]), own[i])
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


@pytest.mark.parametrize("mode", ["minimal", "constrained"])
def test_redundancies_sum_to_the_degrees_of_freedom(survey, mode):
    """Over all observations, set-ups and weighted known marks included."""
    adjustment = estimate(survey, mode)
    total = np.nansum(blunder_tests(adjustment).redundancy)
    assert total == pytest.approx(adjustment.degrees_of_freedom, rel=0, abs=1e-6)


def test_the_order_of_the_rows_does_not_matter(survey):
    vectors = survey.vectors
    order = np.random.default_rng(1).permutation(len(vectors))
    place = np.argsort(order)
    shuffled = replace(
        vectors,
        name=tuple(vectors.name[i] for i in order),
        start=vectors.start[order],
        end=vectors.end[order],
        delta=vectors.delta[order],
        start_offset=vectors.start_offset[order],
        end_offset=vectors.end_offset[order],
        covariances=tuple(
            replace(batch, members=place[batch.members])
            for batch in vectors.covariances
        ),
        session=vectors.session[order],
        row=vectors.row[order],
    )
    first = estimate(survey, "constrained")
    second = estimate(replace(survey, vectors=shuffled), "constrained")
    np.testing.assert_allclose(first.nodes.xyz, second.nodes.xyz, rtol=0, atol=1e-8)
    np.testing.assert_allclose(
        first.residuals["baseline"][order], second.residuals["baseline"], atol=1e-8
    )


def test_names_do_not_matter(survey):
    marks = replace(survey.marks, name=tuple(f"X{9 - i}" for i in range(MARKS)))
    first = estimate(survey, "constrained")
    second = estimate(replace(survey, marks=marks), "constrained")
    np.testing.assert_array_equal(first.nodes.xyz, second.nodes.xyz)


def scaled(covariances, factor):
    return tuple(replace(batch, matrix=factor * batch.matrix) for batch in covariances)


def test_doubling_every_sd_moves_no_mark(survey):
    """The covariance of the result is four times, vᵀPv a quarter."""
    doubled = replace(
        survey,
        set_ups=replace(
            survey.set_ups,
            sd_centring=2 * survey.set_ups.sd_centring,
            sd_height=2 * survey.set_ups.sd_height,
        ),
        vectors=replace(
            survey.vectors, covariances=scaled(survey.vectors.covariances, 4)
        ),
        positions=replace(
            survey.positions, covariances=scaled(survey.positions.covariances, 4)
        ),
        known=replace(survey.known, covariances=scaled(survey.known.covariances, 4)),
    )
    first, second = estimate(survey, "constrained"), estimate(doubled, "constrained")
    np.testing.assert_allclose(first.nodes.xyz, second.nodes.xyz, rtol=0, atol=1e-8)
    assert first.vtpv == pytest.approx(4 * second.vtpv, rel=1e-6)
    every = np.arange(MARKS)
    np.testing.assert_allclose(
        4 * first.covariance(every, every), second.covariance(every, every), rtol=1e-6
    )


def folded(network):
    """Return the network without set-up nodes, their noise inside the vectors.

    Session by session: C + B D Bᵀ, where B says which set-up a vector starts from
    and ends at, and D is the set-ups' covariance in X, Y, Z.
    """
    vectors, set_ups = network.vectors, network.set_ups
    axes = network.frame.axes(network.marks.approximate)[set_ups.mark]
    sds = np.stack([set_ups.sd_centring] * 2 + [set_ups.sd_height], axis=1)
    noise = np.einsum("nji,nj,njk->nik", axes, sds**2, axes)
    batches = []
    for batch in vectors.covariances:
        matrices = []
        for members, matrix in zip(batch.members, batch.matrix, strict=True):
            part = np.zeros((len(members), 3, len(set_ups), 3))
            for k, i in enumerate(members):
                part[k, :, vectors.end[i] - MARKS] += np.eye(3)
                part[k, :, vectors.start[i] - MARKS] -= np.eye(3)
            spread = np.einsum("ainj,njk,blnk->aibl", part, noise, part)
            matrices.append(matrix + spread.reshape(matrix.shape))
        batches.append(Batch(batch.members, np.array(matrices)))
    exact = replace(
        set_ups,
        sd_centring=np.zeros(len(set_ups)),
        sd_height=np.zeros(len(set_ups)),
    )
    return replace(
        network, set_ups=exact, vectors=replace(vectors, covariances=tuple(batches))
    )


def test_set_up_noise_folded_into_the_vectors_is_the_same_network(survey):
    """Each set-up serves one session, so nothing is lost by folding."""
    nodes, inside = (
        estimate(survey, "constrained"),
        estimate(folded(survey), "constrained"),
    )
    every = np.arange(MARKS)
    np.testing.assert_allclose(
        nodes.nodes.xyz[:MARKS], inside.nodes.xyz[:MARKS], rtol=0, atol=1e-8
    )
    np.testing.assert_allclose(
        nodes.covariance(every, every),
        inside.covariance(every, every),
        rtol=1e-6,
        atol=1e-14,
    )
    assert nodes.degrees_of_freedom == inside.degrees_of_freedom
    assert nodes.vtpv == pytest.approx(inside.vtpv, rel=1e-6)


@pytest.mark.parametrize("kind", ["set-up height", "position", "known mark"])
def test_set_ups_are_judged_alike_as_nodes_and_folded_in(survey, kind):
    """A cause is its effect on the observations, whether or not it is a node."""
    first = judged(estimate(survey, "constrained"), kind)
    second = judged(estimate(folded(survey), "constrained"), kind)
    assert first.keys() == second.keys()
    assert first
    for name, (statistic, smallest) in first.items():
        assert second[name][0] == pytest.approx(statistic, rel=1e-5, abs=1e-8), name
        assert second[name][1] == pytest.approx(smallest, rel=1e-5, nan_ok=True), name


def judged(adjustment, kind):
    tests = blunder_tests(adjustment)
    return {
        tests.name[i]: (
            tests.tests.stated.statistic[i],
            tests.tests.smallest_detectable[i],
        )
        for i in range(len(tests))
        if tests.kind[i] == kind
    }


def test_free_and_minimal_solutions_have_the_same_residuals(survey):
    """The datum moves the network as a whole and touches no misfit."""
    network = without_positions(survey)
    minimal, free = estimate(network, "minimal"), estimate(network, "free")
    assert minimal.degrees_of_freedom == free.degrees_of_freedom
    assert minimal.vtpv == pytest.approx(free.vtpv, rel=1e-6)
    for kind, residuals in minimal.residuals.items():
        np.testing.assert_allclose(residuals, free.residuals[kind], rtol=0, atol=1e-7)


def test_leaving_an_observation_out_is_as_if_it_had_never_been(survey):
    """The tool's own switch against a network rebuilt without the row."""
    vectors = survey.vectors
    keep_rows = np.ones(len(vectors), dtype=bool)
    keep_rows[4] = False
    off = replace(survey, vectors=replace(vectors, used=keep_rows))
    place = np.cumsum(keep_rows) - 1
    inside = keep(vectors.covariances, keep_rows, 3)
    gone = replace(
        vectors,
        name=tuple(n for n, k in zip(vectors.name, keep_rows, strict=True) if k),
        **{
            column: getattr(vectors, column)[keep_rows]
            for column in (
                "start",
                "end",
                "delta",
                "start_offset",
                "end_offset",
                "session",
                "group",
                "used",
                "row",
            )
        },
        covariances=tuple(replace(b, members=place[b.members]) for b in inside),
    )
    first = estimate(off, "constrained")
    second = estimate(replace(survey, vectors=gone), "constrained")
    np.testing.assert_allclose(first.nodes.xyz, second.nodes.xyz, rtol=0, atol=1e-9)
    assert first.degrees_of_freedom == second.degrees_of_freedom


def switched_off(network, table, row):
    """Return the network with one row of a table left out."""
    columns = getattr(network, table)
    used = columns.used.copy()
    used[row] = False
    return replace(network, **{table: replace(columns, used=used)})


@pytest.mark.parametrize(
    ("kind", "table"),
    [("baseline", "vectors"), ("position", "positions"), ("known mark", "known")],
)
def test_a_statistic_is_what_leaving_the_row_out_takes_off(survey, kind, table):
    """T = vᵀPv with the row minus vᵀPv without it, by a second adjustment."""
    adjustment = estimate(survey, "constrained")
    tests = blunder_tests(adjustment)
    rows = [i for i in range(len(tests)) if tests.kind[i] == kind]
    assert rows
    for i in rows:
        without = estimate(switched_off(survey, table, tests.edge[i]), "constrained")
        less = adjustment.vtpv - without.vtpv
        assert tests.tests.stated.statistic[i] == pytest.approx(
            less, rel=1e-5, abs=1e-5
        )
        taken = adjustment.degrees_of_freedom - without.degrees_of_freedom
        assert tests.tests.components[i] == taken


def test_the_shift_of_a_vector_is_booked_minus_what_the_rest_says(survey):
    """By a second adjustment without it, in east, north, up where it ends."""
    tests = blunder_tests(estimate(survey, "constrained"))
    vectors = survey.vectors
    for i in [i for i in range(len(tests)) if tests.kind[i] == "baseline"]:
        row = tests.edge[i]
        if len(np.flatnonzero(vectors.session == vectors.session[row])) > 1:
            continue
        nodes = estimate(switched_off(survey, "vectors", row), "constrained").nodes
        # Nothing else uses its set-ups: they stand where they should.
        start, end = survey.mark_of(np.array([vectors.start[row], vectors.end[row]]))
        foot = nodes.xyz[start] + vectors.start_offset[row] * nodes.axes[start, 2]
        top = nodes.xyz[end] + vectors.end_offset[row] * nodes.axes[end, 2]
        expected = vectors.delta[row] - (top - foot)
        # A turn of the axes over 3 km moves 5 mm by nothing that counts.
        found = np.linalg.norm(tests.tests.shift[i])
        assert found == pytest.approx(np.linalg.norm(expected), rel=1e-4)
        assert tests.tests.shift[i, 2] == pytest.approx(
            nodes.axes[start, 2] @ expected, rel=0, abs=1e-5
        )


def test_a_held_mark_is_tested_by_letting_it_go(survey):
    """Its statistic is what vᵀPv loses when the mark is held no longer."""
    network = without_positions(survey)
    adjustment = estimate(network, "constrained")
    tests = blunder_tests(adjustment)
    (height,) = [
        i
        for i in range(len(tests))
        if tests.kind[i] == "known mark height" and tests.name[i] == "T2"
    ]
    without = estimate(switched_off(network, "known", 2), "constrained")
    less = adjustment.vtpv - without.vtpv
    assert tests.tests.stated.statistic[height] == pytest.approx(less, rel=1e-5)
