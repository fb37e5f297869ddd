"""Blocks of correlated observations as plain objects for the page.

Partials and covariances are sparse and written with ten digits: what a tenth of a
millimetre needs, with four digits to spare.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from ...adjust.design.block import Block, Folded
    from ...networks import Network
    from ...networks.covariances import Floats, Ints

Object = dict[str, Any]

RADIANS = ("direction", "angle", "azimuth", "zenith angle")


def digits(value: float) -> float:
    """Return a number with ten digits.

    Examples
    --------
    >>> digits(1 / 3)
    0.3333333333
    """
    return float(f"{value:.10g}")


def flat(values: "Floats") -> list[float]:
    """Return an array as a list, row by row."""
    return [digits(float(value)) for value in np.ravel(values)]


def own_columns(blocks: "Sequence[Block]", free: "Ints") -> set[int]:
    """Return the columns without a prior that only one block knows.

    An orientation of a round: the page eliminates them block by block, so that all
    its pointings can be switched off.

    Parameters
    ----------
    blocks : sequence of Block
    free : ndarray of int
        Columns of parameters without a prior.
    """
    met = Counter(column for block in blocks for column in block.columns.tolist())
    return {column for column in free.tolist() if met[column] == 1}


def block_object(
    block: "Block", network: "Network", number: Mapping[int, int], own: set[int]
) -> Object:
    """Return a block for the page.

    Parameters
    ----------
    block : Block
    network : Network
    number : mapping of int to int
        Column to the unknown's number in the page.
    own : set of int
        Columns that the block eliminates by itself.
    """
    kept = [k for k, c in enumerate(block.columns.tolist()) if c not in own]
    free = [k for k, c in enumerate(block.columns.tolist()) if c in own]
    return {
        "columns": [number[int(block.columns[k])] for k in kept],
        "free": len(free),
        "rows": [_sparse(row) for row in block.design[:, kept + free]],
        "covariance": _clusters(block.covariance),
        "misclosure": flat(block.misclosure),
        "stands": [
            {
                "set_up": stand.set_up,
                "sd": flat(stand.sd),
                "rows": [
                    [int(i), *flat(stand.effect[i])]
                    for i in np.flatnonzero(stand.effect.any(axis=1))
                ],
            }
            for stand in block.stands
        ],
        "observations": [observation_object(o, network) for o in block.observations],
    }


def _sparse(row: "Floats") -> list[float]:
    """Return place and value of what is not zero, in turn."""
    made: list[float] = []
    for k in np.flatnonzero(row):
        made += [int(k), digits(float(row[k]))]
    return made


def _clusters(matrix: "Floats") -> list[tuple[list[int], list[float]]]:
    """Return rows that are correlated, and their covariance: a diagonal in blocks."""
    from scipy.sparse.csgraph import connected_components

    count, label = connected_components(matrix != 0, directed=False)
    made = []
    for k in range(count):
        rows = np.flatnonzero(label == k)
        made.append((rows.tolist(), flat(matrix[np.ix_(rows, rows)])))
    return made


def observation_object(one: "Folded", network: "Network") -> Object:
    """Return what the page says about an observation."""
    from ...adjust.judge.names import about

    made: Object = {
        "kind": one.kind,
        "name": one.name,
        "about": about(network, one.kind, np.array([one.edge]))[0],
        "row": one.row,
        "first": one.first,
        "turn": flat(one.turn),
        "axes": list(one.axes),
        "marks": list(one.nodes),
        "set_ups": list(one.set_ups),
        "session": one.session,
        "group": one.group,
    }
    if one.kind == "known mark":
        made |= known_object(one, network)
    if one.kind in RADIANS:
        made["unit"] = "rad"
    if one.kind == "parameter":
        made["unit"] = network.parameters.kind[one.edge]
    return made


def known_object(one: "Folded", network: "Network") -> Object:
    """Return how a known mark is used, and the covariance that is stated for it.

    Parameters
    ----------
    one : Folded
    network : Network
        As the job has it: held marks are held.
    """
    from ...networks.covariances import blocks

    known, edge = network.known, one.edge
    stated = blocks(known.covariances, len(known), 3)[edge]
    stated = stated[np.ix_(one.axes, one.axes)]
    return {
        "use_plan": known.use_plan[edge],
        "use_height": known.use_height[edge],
        "stated": flat(stated) if np.isfinite(stated).all() else None,
        "source": known.source[edge],
    }
