"""Causes in how a circle lay: a back sight to a wrong mark, or to one that moved.

The circle zero of a round of directions is an unknown of its own, so a round that is
turned as a whole is no error at all and cannot be one. What is: azimuths of one set-up,
all turned by the sight that the circle was set on; angles from one back sight; and one
target that every round of a set-up sees turned against its other targets.
"""

from collections.abc import Iterator

import numpy as np

from ...networks import Sights
from .cause import Cause, together
from .field import Field

_KEYS = {"azimuth": (), "angle": ("back",), "direction": ("to",)}
"""Kind of sight: what is common to those turned, beside the instrument's set-up."""
_SAID = {
    "azimuth": "circle at {0} wrongly oriented: all {n} azimuths by one turn",
    "angle": "back sight from {0} to {1} off: all {n} angles from it by one turn",
    "direction": "sight from {0} to {1} off in all {n} rounds by one turn",
}


def orientations(field: Field) -> Iterator[Cause]:
    """Yield one turn of all readings that hang on the same sight of a circle.

    A single reading off is that observation's own cause.

    Parameters
    ----------
    field : Field
    """
    for sights in field.network.sights:
        if sights.kind in _KEYS:
            for nodes, edges in _together(field, sights).items():
                if len(edges) > 1:
                    yield _turned(field, sights, nodes, edges)


def _together(field: Field, sights: Sights) -> dict[tuple[int, ...], list[int]]:
    """Return the readings in use that one sight turns, by instrument and target."""
    columns = [sights.at, *(getattr(sights, key) for key in _KEYS[sights.kind])]
    nodes = np.stack(columns, axis=1)
    used = field.used(sights.kind)
    found: dict[tuple[int, ...], list[int]] = {}
    for edge in np.flatnonzero(used).tolist():
        found.setdefault(tuple(nodes[edge].tolist()), []).append(edge)
    return found


def _turned(
    field: Field, sights: Sights, nodes: tuple[int, ...], edges: list[int]
) -> Cause:
    names = tuple(field.network.node_name(node) for node in nodes)
    words = _SAID[sights.kind].format(*names, n=len(edges))
    columns = [field.rows.edge(sights.kind, edge) for edge in edges]
    marks = field.network.mark_of(np.array(nodes))
    return Cause(
        "circle orientation",
        names,
        words,
        "rad",
        *together(columns),
        marks=tuple(dict.fromkeys(marks.tolist())),
    )
