"""Operations of our order of elimination, against METIS's order of the same graph.

    python3 tests/benchmarks/scale_order.py MARKS KIND 0|1

Prints one JSON object; ``scale.py`` calls it. Ours are counted as the fronts are, zeros
in them included, and column by column as METIS's are: each node is eliminated by
itself, and its border is what the elimination tree says (Gilbert, Ng and Peyton 1994).
"""

import importlib
import json
import sys
from typing import Any

import numba
import numpy as np
import pymetis
from scale import observed
from scipy.sparse import csr_array


def graph(marks: int, kind: str, set_ups: bool) -> tuple[Any, Any, Any, Any]:
    """Return plan, nodes and pairs as the analysis orders them, and its tree."""
    from brasscap.adjust import estimate

    plan = importlib.import_module("brasscap.adjust.sparse.plan")
    seen, ordered = [], plan.ordered

    def watched(nodes: Any, keys: Any) -> Any:
        made = ordered(nodes, keys)
        seen.append((nodes, keys, made[0]))
        return made

    plan.ordered = watched
    made = estimate(observed(marks, kind, set_ups), arithmetic="sparse")
    plan.ordered = ordered
    return made.factor.plan, *seen[-1]


@numba.njit
def parents(first: np.ndarray, second: np.ndarray, count: int) -> np.ndarray:
    """Return (n,) the elimination tree, −1 for a root (Liu 1986)."""
    parent, ancestor = np.full(count, -1), np.full(count, -1)
    for k in range(count):
        for p in range(first[k], first[k + 1]):
            i = second[p]
            while i != -1 and i < k:
                above = ancestor[i]
                ancestor[i] = k
                if above == -1:
                    parent[i] = k
                i = above
    return parent


@numba.njit
def borders(
    first: np.ndarray, second: np.ndarray, parent: np.ndarray, size: np.ndarray
) -> np.ndarray:
    """Return (n,) how many columns are below each node's own in the factor."""
    mark, border = np.full(len(size), -1), np.zeros(len(size))
    for k in range(len(size)):
        mark[k] = k
        for p in range(first[k], first[k + 1]):
            i = second[p]
            while i < k and mark[i] != k:
                border[i] += size[k]
                mark[i] = k
                i = parent[i]
    return border


def operations(rank: np.ndarray, keys: np.ndarray, sizes: np.ndarray) -> float:
    """Return multiplications of a factor whose nodes are eliminated one by one."""
    count = len(rank)
    ends = rank[keys // count], rank[keys % count]
    rows, columns = np.concatenate(ends), np.concatenate(ends[::-1])
    joined = csr_array((np.ones(len(rows), np.int8), (rows, columns)), (count, count))
    joined.sort_indices()
    size = np.empty(count)
    size[rank] = sizes
    first, second = joined.indptr.astype(np.int64), joined.indices.astype(np.int64)
    border = borders(first, second, parents(first, second, count), size)
    return float((size**3 / 3 + size**2 * border + size * border**2).sum())


def by_metis(keys: np.ndarray, count: int) -> np.ndarray:
    """Return the rank of each node in METIS's nested dissection."""
    ends = keys // count, keys % count
    rows, columns = np.concatenate(ends), np.concatenate(ends[::-1])
    joined = csr_array((np.ones(len(rows), np.int8), (rows, columns)), (count, count))
    joined.sort_indices()
    order, _ = pymetis.nested_dissection(
        pymetis.CSRAdjacency(joined.indptr, joined.indices)
    )
    rank = np.empty(count, np.int64)
    rank[np.array(order)] = np.arange(count)
    return rank


def main(marks: int, kind: str, set_ups: bool) -> None:
    plan, nodes, keys, tree = graph(marks, kind, set_ups)
    sizes = np.bincount(nodes.node_of_column, minlength=len(nodes))
    metis = operations(by_metis(keys, len(nodes)), keys, sizes)
    ours = operations(np.asarray(tree.rank, np.int64), keys, sizes)
    found = {"fronts": plan.statistics.flops / metis, "columns": ours / metis}
    print(json.dumps(found))


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2], sys.argv[3] == "1")
