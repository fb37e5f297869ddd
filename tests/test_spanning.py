"""Walks in arrays, held against networkx on random graphs."""

import networkx as nx
import numpy as np
import pytest

from brasscap.networks.look_alikes import marks_together
from brasscap.networks.spanning import (
    bridges,
    neighbours_of,
    piece_of,
    rings,
    tree_of,
)


def drawn(seed):
    """Return a random graph with parallel edges: count, starts, ends, the same."""
    rng = np.random.default_rng(seed)
    count, edges = rng.integers(1, 16), rng.integers(0, 20)
    start, end = rng.integers(0, count, (2, edges))
    apart = start != end
    start, end = start[apart], end[apart]
    graph = nx.MultiGraph()
    graph.add_nodes_from(range(count))
    graph.add_edges_from(zip(start.tolist(), end.tolist(), strict=True))
    return int(count), start, end, graph


@pytest.mark.parametrize("seed", range(60))
def test_pieces_bridges_and_rings_are_those_of_networkx(seed):
    count, start, end, graph = drawn(seed)
    piece = piece_of(count, start, end)
    for same in nx.connected_components(graph):
        assert set(piece[list(same)].tolist()) == {min(same)}
    neighbours = neighbours_of(count, start, end)
    tree = tree_of(neighbours, np.unique(piece))
    assert sorted(tree.order.tolist()) == list(range(count))
    cut = tree.edge[bridges(start, end, tree)]
    found = {tuple(sorted((int(start[k]), int(end[k])))) for k in cut}
    alone = {
        tuple(sorted(pair))
        for pair in nx.bridges(nx.Graph(graph))
        if graph.number_of_edges(*pair) == 1
    }
    assert found == alone
    reached = np.zeros(count, dtype=bool)
    far = {0: 0}
    for step, ring in enumerate(rings(neighbours, np.array([0]), reached), 1):
        far |= dict.fromkeys(ring.there.tolist(), step)
    assert far == dict(nx.single_source_shortest_path_length(graph, 0))


def test_a_branch_is_a_range_of_places():
    """By hand: 0 – 1 – 2 and 1 – 3; the branch of 1 is all but the root."""
    tree = tree_of(
        neighbours_of(4, np.array([0, 1, 1]), np.array([1, 2, 3])), np.array([0])
    )
    branch = tree.order[tree.place[1] : tree.place[1] + tree.size[1]]
    assert sorted(branch.tolist()) == [1, 2, 3]
    assert tree.size.tolist() == [4, 3, 1, 1]


def test_a_long_way_of_one_mark_after_the_other_and_a_heap_stay_quick():
    count = 3000
    way = np.arange(count - 1)
    tree = tree_of(neighbours_of(count, way, way + 1), np.array([0]))
    assert len(bridges(way, way + 1, tree)) == count - 1
    # All in one place: not all pairs, of which there are 4.5 million.
    pairs = marks_together(np.zeros((count, 3)))
    assert len(pairs) <= 20 * count
    assert {mark for pair in pairs for mark in pair} == set(range(count))


def test_near_marks_on_a_large_earth_are_those_of_all_pairs():
    """Cubes of 0.3 m over 12 000 km overflow their numbers; distances decide."""
    rng = np.random.default_rng(5)
    xyz = rng.uniform(-6.4e6, 6.4e6, (300, 3))
    xyz = np.concatenate([xyz, xyz + rng.uniform(-0.25, 0.25, xyz.shape)])
    apart = np.linalg.norm(xyz[:, None] - xyz[None], axis=2)
    pairs = {(a, b) for a, b in np.argwhere(apart <= 0.3).tolist() if a < b}
    assert set(marks_together(xyz)) == pairs
    assert len(pairs) > 100
