"""Independent cycles of a graph, the shortest that there are."""

from collections.abc import Hashable, Iterable
from typing import Any

LARGEST = 400
"""Independent cycles beyond which any set of them is taken instead of the shortest."""


def independent_cycles(
    graph: Any, roots: Iterable[Hashable] | None = None
) -> list[list[Any]]:
    """Return a cycle basis of a simple graph, shortest in sum (Horton 1987).

    Beyond ``LARGEST`` independent cycles they are any basis, since the search for the
    shortest grows with the third power of their number.

    Parameters
    ----------
    graph : networkx.Graph
        Edges with a ``weight`` of 0 or more.
    roots : iterable, optional
        Nodes of which every cycle has at least one; all nodes if not given.

    Returns
    -------
    list of list
        The nodes of each cycle, as walked.

    Examples
    --------
    >>> import networkx as nx
    >>> square = nx.Graph(["AB", "BC", "CD", "DA", "AC"])
    >>> nx.set_edge_attributes(square, 1.0, "weight")
    >>> sorted(sorted(cycle) for cycle in independent_cycles(square))
    [['A', 'B', 'C'], ['A', 'C', 'D']]
    """
    import networkx as nx

    core = nx.k_core(graph, 2)
    count = core.number_of_edges() - len(core) + nx.number_connected_components(core)
    if count > LARGEST:
        return [list(cycle) for cycle in nx.cycle_basis(core)]
    number = {frozenset(edge): k for k, edge in enumerate(core.edges)}
    chosen = [r for r in (core.nodes if roots is None else roots) if r in core]
    found: list[list[Any]] = []
    reduced: dict[int, int] = {}
    for _, _, mask, cycle in sorted(_candidates(core, chosen, number)):
        if len(found) == count:
            break
        if _is_new(mask, reduced):
            found.append(cycle)
    return found


def _candidates(
    core: Any, roots: list[Any], number: dict[frozenset[Any], int]
) -> list[tuple[float, int, int, list[Any]]]:
    """Return weight, size, edges as bits, and nodes of the cycles of Horton's set."""
    import networkx as nx

    places = {node: k for k, node in enumerate(core.nodes)}
    found: dict[int, tuple[float, int, list[Any]]] = {}
    for root in roots:
        far, paths = nx.single_source_dijkstra(core, root)
        bits = {root: 0}
        for node, path in sorted(paths.items(), key=lambda item: len(item[1])):
            if node != root:
                edge = number[frozenset(path[-2:])]
                bits[node] = bits[path[-2]] | 1 << edge
        for x, y, data in core.edges(data=True):
            if x not in far or bits[x] & bits[y]:
                continue
            mask = bits[x] | bits[y] | 1 << number[frozenset((x, y))]
            nodes = paths[x] + paths[y][:0:-1]
            if mask.bit_count() == len(nodes):
                weight = round(far[x] + far[y] + data["weight"], 6)
                found.setdefault(mask, (weight, len(nodes), nodes))
    numbered = sorted(
        (weight, size, mask, [places[node] for node in nodes])
        for mask, (weight, size, nodes) in found.items()
    )
    names = list(core.nodes)
    return [(w, size, mask, [names[k] for k in c]) for w, size, mask, c in numbered]


def _is_new(mask: int, reduced: dict[int, int]) -> bool:
    """Return whether a cycle is no sum of those before it, and keep it if so."""
    while mask:
        top = mask.bit_length()
        if top not in reduced:
            reduced[top] = mask
            return True
        mask ^= reduced[top]
    return False
