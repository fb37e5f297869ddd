"""Which cause comes first, by hand: a cause of one amount inside one of two.

The smaller is the first column of the larger, so their joint matrix has unit blocks
and a one between the two columns; the larger adds pull², of one degree of freedom,
against 6.635 (chi-square, 1 %: table of any textbook).
"""

import itertools

import numpy as np
import pytest

from brasscap.adjust.causes.evaluate import Joint
from brasscap.adjust.causes.groups import (
    adds,
    group_of,
    nesting,
    ordered,
    sums,
)
from brasscap.adjust.causes.left import left_of


def nested(adds, common=(True, True)):
    """Return a cause of pull 3 inside one that adds so much to its statistic."""
    matrix = np.array([[1.0, 1.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    pull = np.array([3.0, 3.0, np.sqrt(adds)])
    return Joint(matrix, pull, np.array([0, 1, 3]), np.array(common))


@pytest.mark.parametrize(
    ("added", "tests", "first", "wider"),
    [
        (6.0, (1.2, 1.3), 0, True),  # no better: the simpler, though less by its test
        (7.0, (1.3, 1.2), 1, False),  # better: the larger, though less by its test
        (6.0, (0.9, 1.1), 1, False),  # within its limit the simpler explains nothing
        (6.0, (0.9, 0.95), 0, False),
    ],
)
def test_the_simpler_wins_where_it_explains_as_much(added, tests, first, wider):
    order = ordered(nested(added), np.array(tests))
    assert order.order[0] == first
    assert order.wider.tolist() == [False, wider]
    assert order.holds.tolist() == [[False, True], [False, False]]


def test_no_common_amount_goes_before_its_parts_by_its_own_test_alone():
    """A whole session holds whatever else is wrong nearby."""
    joint = nested(7.0, (True, False))
    assert ordered(joint, np.array([1.3, 1.2])).order.tolist() == [0, 1]
    assert ordered(joint, np.array([1.2, 1.3])).order.tolist() == [1, 0]


def test_a_cause_that_cannot_be_judged_is_in_no_order():
    order = ordered(nested(1.0), np.array([np.nan, 1.1]))
    assert order.order.tolist() == [1]


def angled(cosines, pulls):
    """Return causes of one amount with these cosines to the first."""
    count = len(pulls)
    sines = np.sqrt(1 - np.square(cosines))
    ways = np.eye(count) * np.append(1.0, sines)[:, None]
    ways[:, 0] = np.append(1.0, cosines)
    first = np.arange(count + 1)
    common = np.ones(count, dtype=bool)
    return Joint(ways @ ways.T, np.array(pulls), first, common)


def test_what_the_best_adds_parts_its_group():
    """With cosine c the first adds (z1 − c z2)² / (1 − c²) to the second.

    c = 0.8 and z = 6, 5.42: (6 − 4.336)² / 0.36 = 7.69. Of one rival that is more
    than chance adds in 1 % (6.635); of two as near it is not (0.5 % each: 7.88).
    z = 6, 5 adds (6 − 4)² / 0.36 = 11.1.
    """
    lone = angled([0.8], [6.0, 5.42])
    assert adds(lone, 0, 1)
    assert group_of(lone, ordered(lone, lone.pull / 3.29), 0) == [0]
    two = angled([0.8, 0.8], [6.0, 5.42, 5.42])
    assert set(group_of(two, ordered(two, two.pull / 3.29), 0)) == {0, 1, 2}
    far = angled([0.8, 0.8], [6.0, 5.42, 5.0])
    assert group_of(far, ordered(far, far.pull / 3.29), 0) == [0]


def test_blocks_are_made_unit_and_keep_their_statistics():
    """T = pullᵀ M⁻¹ pull of a block does not depend on how its amounts are scaled."""
    random = np.random.default_rng(3)
    ways = random.standard_normal((12, 6))
    matrix, pull = ways.T @ ways, random.standard_normal(6)
    first = np.array([0, 1, 1, 3, 6])
    none = np.zeros(0, dtype=np.int64)
    joint = left_of(Joint(matrix, pull, first, np.ones(4, dtype=bool)), none)
    blocks = joint.ways(np.arange(6))
    for start, end in itertools.pairwise(first):
        block = blocks[start:end, start:end]
        assert block == pytest.approx(np.eye(end - start), abs=1e-12)
    theirs = [
        pull[a:b] @ np.linalg.solve(matrix[a:b, a:b], pull[a:b]) if b > a else 0.0
        for a, b in itertools.pairwise(first)
    ]
    assert sums(joint.pull**2, joint.first) == pytest.approx(theirs, rel=1e-9)


def test_what_nests_does_not_depend_on_what_was_observed():
    some, other = nesting(nested(1.0)), nesting(nested(50.0))
    assert some.holds.tolist() == other.holds.tolist()
    assert (some.small.tolist(), some.large.tolist()) == ([0], [1])


def test_what_is_left_beside_a_model_is_the_schur_complement():
    """M − M_m M_mm⁻¹ M_m', scaled anew: angles and statistics are those of ``given``.

    The second cause is the first with something more, so beside the first one of its
    two amounts is left; the third, alike the first, is left with none.
    """
    random = np.random.default_rng(5)
    ways = random.standard_normal((9, 5))
    ways = np.column_stack([ways[:, 0], ways[:, :2], ways[:, 0], ways[:, 2:]])
    first = np.array([0, 1, 3, 4, 5, 7])
    for start, end in itertools.pairwise(first):
        ways[:, start:end] = np.linalg.qr(ways[:, start:end])[0]
    pull = ways.T @ random.standard_normal(9)
    joint = Joint(ways.T @ ways, pull, first, np.ones(5, dtype=bool))
    left = left_of(joint, np.array([0]))
    assert np.diff(left.first).tolist() == [0, 1, 0, 1, 2]
    statistic, rank = joint.given([0]).statistics()
    assert rank.tolist() == [0, 1, 0, 1, 2]
    assert sums(left.pull**2, left.first) == pytest.approx(statistic, rel=1e-9)
    # One by one: what is left of the columns, and the cosines between two of them.
    rest = ways - np.outer(ways[:, 0], ways[:, 0] @ ways)
    spans = [np.linalg.qr(rest[:, some])[0] for some in ([2], [4], [5, 6])]
    small, large = np.array([1, 1, 3]), np.array([3, 4, 4])
    cosines = [spans[0].T @ spans[1], spans[0].T @ spans[2], spans[1].T @ spans[2]]
    shared = [float((some**2).sum()) for some in cosines]
    assert left.shared(small, large) == pytest.approx(shared, rel=1e-9)
    whole = left.ways(np.arange(left.first[-1]))
    assert (whole[0, 2:] ** 2).sum() == pytest.approx(shared[1], rel=1e-9)
