"""Work that could be done, as blocks that stand off until somebody switches them on."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from .blocks import flat

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ...adjust import Adjustment
    from ...adjust.design import Observable
    from ...networks import Network

Object = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Proposed:
    """One thing that could be observed."""

    kind: str
    """As proposed.csv calls it."""
    name: str
    """Of the proposal, or its marks."""
    listed: bool
    """Whether proposed.csv has it."""
    minutes: float
    note: str
    observable: "Observable"


def proposed_object(
    one: Proposed,
    adjustment: "Adjustment",
    network: "Network",
    number: "Mapping[int, int]",
) -> Object:
    """Return proposed work as a block of the page.

    Parameters
    ----------
    one : Proposed
    adjustment : Adjustment
    network : Network
    number : mapping of int to int
        Column to the unknown's number in the page.
    """
    seen = one.observable
    columns = adjustment.columns[list(seen.marks)].ravel()
    kept = [k for k, c in enumerate(columns.tolist()) if int(c) in number]
    rows = len(seen.design)
    marks = " – ".join(network.marks.name[mark] for mark in seen.marks)
    return {
        "columns": [number[int(columns[k])] for k in kept],
        "free": 0,
        "rows": [
            [v for j, k in enumerate(kept) for v in (j, *flat(row[k]))]
            for row in seen.design
        ],
        "covariance": [[list(range(rows)), flat(seen.covariance)]],
        "misclosure": [0.0] * rows,
        "stands": [],
        "planned": {
            "kind": one.kind,
            "name": one.name,
            "about": marks if marks != one.name else "",
            "listed": one.listed,
            "minutes": round(one.minutes),
            "note": one.note,
            "rows": rows,
        },
        "observations": [
            {
                "kind": one.kind,
                "name": one.name,
                "about": marks,
                "row": 0,
                "first": 0,
                "turn": flat(np.eye(rows)),
                "axes": list(range(rows)),
                "marks": list(seen.marks),
                "set_ups": [],
                "session": -1,
                "group": -1,
            }
        ],
    }
