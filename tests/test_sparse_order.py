"""The cost of a sparse factor, counted: no shape of network makes it blow up.

For a square grid of n nodes nested dissection gives about n log n entries and n^1.5
operations (A. George, SIAM J. Numer. Anal. 10, 1973, theorems 2 and 3, from memory).
"""

import numpy as np
import pytest

from brasscap.adjust.sparse import Nodes, sequence, symbolic

NOWHERE = np.nan


def planned(count, pairs, place=None, early=None, last=None, size=3):
    """Return the counts of a network of marks that are joined in pairs."""
    columns = size * np.asarray(pairs)[:, :, None] + np.arange(size)
    nodes = Nodes(
        np.repeat(np.arange(count), size),
        np.full((count, 2), NOWHERE) if place is None else place,
        np.full(count, -1) if early is None else early,
        np.zeros(count, bool) if last is None else last,
    )
    cliques = [columns.reshape(len(columns), -1)]
    return symbolic(nodes, cliques).statistics


def grid(side):
    """Return places and joined pairs of a square grid."""
    number = np.arange(side**2).reshape(side, side)
    across = np.stack([number[:, :-1].ravel(), number[:, 1:].ravel()], axis=1)
    down = np.stack([number[:-1].ravel(), number[1:].ravel()], axis=1)
    place = np.stack(np.unravel_index(number.ravel(), (side, side)), axis=1)
    return place * 1.0, np.concatenate([across, down])


@pytest.fixture(scope="module")
def by_place():
    place, pairs = grid(50)
    return planned(2500, pairs, place)


def test_growth_on_a_grid(by_place):
    """Four times the nodes: at most 4 · log 10⁴ / log 2500 entries, 8 times the work.

    A fifth more for separators that small parts cannot have as short.
    """
    place, pairs = grid(100)
    large = planned(10_000, pairs, place)
    assert large.nonzeros < 1.2 * 4 * np.log(10_000) / np.log(2500) * by_place.nonzeros
    assert large.flops < 1.2 * 8 * by_place.flops


@pytest.mark.parametrize(
    "where",
    [
        lambda place, rng: np.full_like(place, NOWHERE),
        lambda place, rng: np.zeros_like(place),
        lambda place, rng: np.sort(place.sum(axis=1))[:, None] * np.ones(2),
        lambda place, rng: rng.permutation(place),
        lambda place, rng: np.where(rng.random((2500, 1)) < 0.4, NOWHERE, place),
        lambda place, rng: np.column_stack([place, 1e-3 * rng.random(2500)]),
    ],
    ids=["nowhere", "one point", "on a line", "shuffled", "some", "in space"],
)
def test_places_that_say_nothing_or_mislead(by_place, where):
    """Then the graph decides; twice the work would be a blow-up."""
    place, pairs = grid(50)
    made = planned(2500, pairs, where(place, np.random.default_rng(1)))
    assert made.flops < 2 * by_place.flops


def test_a_chain_costs_its_length():
    """A node has at most its own block and those of two separators."""
    count = 20_000
    pairs = np.stack([np.arange(count - 1), np.arange(1, count)], axis=1)
    made = planned(count, pairs)
    assert made.largest_front <= 3 * 15
    assert made.nonzeros < count * 3 * 3 * 10


def test_a_base_joined_to_10_000_marks_is_no_quadratic():
    """Marks in a chain, and all from one base; 10⁸ blocks if the base went first."""
    count = 10_001
    marks = np.arange(1, count)
    star = np.stack([np.zeros(count - 1, int), marks], axis=1)
    chain = np.stack([marks[:-1], marks[1:]], axis=1)
    place = np.random.default_rng(0).normal(size=(count, 2))
    for said in (False, True):
        last = np.arange(count) == 0 if said else None
        for where in (None, place):
            made = planned(count, np.concatenate([star, chain]), where, last=last)
            assert made.largest_front <= 3 * 20
            assert made.nonzeros < count * 3 * 3 * 15


def test_a_parameter_of_everything_joins_each_front_once():
    """One more row in every front, not one more clique."""
    place, pairs = grid(50)
    every = np.stack([np.full(2500, 2500), np.arange(2500)], axis=1)
    place = np.vstack([place, [NOWHERE, NOWHERE]])
    last = np.arange(2501) == 2500
    alone = planned(2500, pairs, place[:-1])
    made = planned(2501, np.concatenate([pairs, every]), place, last=last)
    assert made.largest_front <= alone.largest_front + 3
    assert made.nonzeros < 1.5 * alone.nonzeros


def test_many_pieces_cost_what_they_cost_alone():
    """About: axes are chosen for all pieces together."""
    place, pairs = grid(12)
    one = planned(144, pairs, place)
    every = np.concatenate([pairs + 144 * k for k in range(100)])
    made = planned(14_400, every, np.tile(place, (100, 1)))
    assert made.flops < 1.2 * 100 * one.flops
    assert made.largest_front < 1.2 * one.largest_front


def test_surveys_over_each_other_cost_what_they_cost_alone():
    """Forty grids of 144 in one place, hung along a chain of marks: a cut goes through
    all of them, but their separators are not joined.

    A half more for the marks of the chain that are on their borders; where what a cut
    takes from several grids is one front, it is four fifths more.
    """
    place, pairs = grid(12)
    hung = np.array([[0, 144], [143, 145]])
    nowhere = np.zeros((2, 2))
    one = planned(146, np.concatenate([pairs, hung]), np.vstack([place, nowhere]))
    survey = np.arange(40)
    ends = np.stack([survey, survey + 1], axis=1) + 40 * 144
    every = [pairs + 144 * k for k in survey]
    every += [np.stack([144 * survey + 143 * k, ends[:, k]], axis=1) for k in (0, 1)]
    rng = np.random.default_rng(2)
    places = (rng.normal(size=(40, 1, 2)) + place).reshape(-1, 2)
    places = np.vstack([places, rng.normal(size=(41, 2))])
    made = planned(len(places), np.concatenate([*every, ends]), places)
    assert made.flops < 1.5 * 40 * one.flops


def test_a_tree_of_many_branches_costs_a_logarithm():
    """Each cut leaves twenty pieces and more, and these again; numbers for them last.

    Of nested dissection of a tree a front has one node of each level on its border at
    most, and there are log₂ n levels.
    """
    level, joined = np.ones(1, int), []
    for _ in range(4):
        below = level.max() + 1 + np.arange(20 * len(level))
        joined.append(np.stack([np.repeat(level, 20), below], axis=1))
        level = below
    pairs = np.concatenate(joined) - 1
    count = len(pairs) + 1
    assert planned(count, pairs, size=1).nonzeros < count * np.log2(count)


def test_clusters_in_bulk_leave_the_marks():
    """Lone vectors between two set-ups each: the marks' graph stays a grid's."""
    place, pairs = grid(30)
    vectors = len(pairs)
    ups = 900 + np.arange(2 * vectors).reshape(-1, 2)
    joined = np.concatenate(
        [ups, *(np.stack([pairs[:, k], ups[:, k]], axis=1) for k in (0, 1))]
    )
    early = np.full(900 + 2 * vectors, -1)
    early[900:] = np.repeat(np.arange(vectors), 2)
    places = np.vstack([place, place[pairs.ravel()]])
    alone = planned(900, pairs, place)
    made = planned(len(early), joined, places, early)
    # By hand: a cluster is 21 entries of its own and 36 to its two marks.
    assert made.nonzeros == alone.nonzeros + 57 * vectors
    assert made.largest_front == alone.largest_front


def test_a_cluster_with_a_wide_border_is_not_taken_first():
    """A reading common to 2000 marks in a chain would join all of them."""
    count = 2001
    marks = np.arange(1, count)
    star = np.stack([np.zeros(count - 1, int), marks], axis=1)
    chain = np.stack([marks[:-1], marks[1:]], axis=1)
    early = np.where(np.arange(count) == 0, 0, -1)
    made = planned(count, np.concatenate([star, chain]), early=early)
    assert made.largest_front <= 3 * 20


def test_a_network_that_is_one_clique_is_one_dense_matrix():
    pairs = np.stack(np.triu_indices(200, 1), axis=1)
    made = planned(200, pairs)
    assert made.nonzeros == 600 * 601 // 2
    assert made.flops < 1.1 * 600**3 / 3


def test_clusters_that_touch_are_not_both_taken_first():
    """Still a valid order: each front's border is eliminated later."""
    pairs = np.array([[0, 1], [1, 2], [2, 3]])
    made = planned(4, pairs, early=np.array([0, 1, 1, 2]), size=1)
    assert made.nonzeros <= 10


def waiting(plan):
    """Return the most numbers that fronts have left and no parent has taken yet."""
    left = [stack.uses for stack in plan.stacks]
    most = now = 0
    for stack in plan.stacks:
        for link in stack.links:
            left[link.child] -= 1
            assert left[link.child] >= 0
            if not left[link.child]:
                now -= numbers_left(plan.stacks[link.child])
        now += numbers_left(stack)
        most = max(most, now)
    return most


def numbers_left(stack):
    count, _, border = stack.shape
    return count * border**2


def test_one_subtree_after_another_leaves_little_waiting(monkeypatch):
    """By count: no more waits than what one path and one subtree leave.

    What a part leaves is the square of its border, half as large a level further down:
    of one front after another 1 + 1 + 1/2 + 1/4 + … of the largest, and the subtree.
    Height by height all parts of a level wait at once.
    """
    place, pairs = grid(120)
    columns = 3 * pairs[:, :, None] + np.arange(3)
    cliques = [columns.reshape(len(columns), -1)]
    nodes = Nodes(
        np.repeat(np.arange(14_400), 3),
        place,
        np.full(14_400, -1),
        np.zeros(14_400, bool),
    )
    made = []
    for most in (1 << 40, 1 << 16):
        monkeypatch.setattr(sequence, "_AT_ONCE", most)
        made.append(symbolic(nodes, cliques))
    at_once, after = made
    assert after.statistics.flops == at_once.statistics.flops
    largest = max(stack.border.shape[1] for stack in after.stacks) ** 2
    assert waiting(after) <= 3 * largest + (1 << 16) < 0.4 * waiting(at_once)
    parent = after.layout.parent
    inner = parent >= 0
    stack = after.layout.stacks()
    assert (stack[inner] < stack[parent[inner]]).all()
    # Both orders solve to the same.
    products = np.zeros((len(columns), 21))
    products[:, [0, 2, 5, 9, 14, 20]] = 2.0
    products[:, [6, 11, 17]] = -0.9
    right = np.arange(3.0 * 14_400)
    one, other = (plan.factor(plan.assemble([(cliques[0], products)])) for plan in made)
    np.testing.assert_allclose(other.solve(right), one.solve(right), rtol=1e-10)
    np.testing.assert_allclose(
        other.blocks(columns[:9, 0], columns[:9, 1]),
        one.blocks(columns[:9, 0], columns[:9, 1]),
        atol=1e-12,
    )
