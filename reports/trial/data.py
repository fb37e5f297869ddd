"""What the page starts from: unknowns, marks, set-ups, blocks, limits."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from ...adjust.design.folded import HELD_SD
from ...networks import GeodeticFrame
from .blocks import block_object, digits, flat, own_columns
from .limits import limits_object

if TYPE_CHECKING:
    from ...adjust import Adjustment
    from ...adjust.design.folded import Block
    from ...networks import Network
    from ...networks.covariances import Floats, Ints

Object = dict[str, Any]


def trial_data(
    adjustment: "Adjustment", network: "Network", blocks: "Sequence[Block]"
) -> Object:
    """Return a solution as the page's script reads it.

    Parameters
    ----------
    adjustment : Adjustment
        Of the network with its held marks firmly weighted.
    network : Network
        As the job has it.
    blocks : sequence of Block
        Of the adjustment.
    """
    own = own_columns(blocks, _free_columns(adjustment))
    number = _numbered(blocks, own)
    most = (
        3 * len(network.known)
        + sum(len(block.misclosure) for block in blocks)
        - len(number)
        + 200
    )
    return {
        "schema": "brasscap/trial-page/1",
        "datum": adjustment.datum.mode,
        "datum_text": adjustment.datum.text,
        "frame": network.frame.describe(),
        "unknowns": len(number),
        "held_sd": HELD_SD,
        "limits": limits_object(network.options, max(most, 1)),
        "marks": marks_objects(adjustment, network, number),
        "set_ups": _set_ups(network),
        "dimension": _dimension(adjustment),
        "sessions": list(network.sessions),
        "groups": list(network.groups),
        "blocks": [block_object(b, network, number, own) for b in blocks],
    }


def _free_columns(adjustment: "Adjustment") -> "Ints":
    """Return the columns of parameters without a prior."""
    parameters = adjustment.network.parameters
    columns = adjustment.columns[len(adjustment.nodes.xyz) :, 0]
    free: Ints = columns[~np.isfinite(parameters.sd) & (columns >= 0)]
    return free


def _numbered(blocks: "Sequence[Block]", own: set[int]) -> dict[int, int]:
    """Return the page's number of each column, neighbours near each other."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import reverse_cuthill_mckee

    kept = [[c for c in b.columns.tolist() if c not in own] for b in blocks]
    columns = sorted({c for some in kept for c in some})
    place = {c: k for k, c in enumerate(columns)}
    pairs = np.array(
        [(place[a], place[b]) for some in kept for a in some for b in some]
    ).reshape(-1, 2)
    ones = np.ones(len(pairs), dtype=bool)
    shape = len(columns), len(columns)
    graph = coo_matrix((ones, (pairs[:, 0], pairs[:, 1])), shape=shape).tocsr()
    order = reverse_cuthill_mckee(graph, symmetric_mode=True)
    return {columns[int(k)]: number for number, k in enumerate(order)}


def marks_objects(
    adjustment: "Adjustment", network: "Network", number: dict[int, int]
) -> list[Object]:
    """Return the marks: names, places, unknowns, and how figures follow a shift."""
    marks = len(network.marks)
    xyz = adjustment.nodes.xyz[:marks]
    estimated = adjustment.estimated
    grid, turn = network.frame.grid(xyz), _turned(network, xyz)
    made = []
    for i, name in enumerate(network.marks.name):
        columns = adjustment.columns[i].tolist()
        made.append(
            {
                "station": name,
                "unknowns": [number.get(c, -1) if c >= 0 else -1 for c in columns],
                "estimated": estimated[i].tolist(),
                "grid": _numbers(grid[i]),
                "grid_turn": flat(turn[i]),
                **_geodetic(network, xyz[i], adjustment.nodes.axes[i]),
                **_use(network, i),
            }
        )
    return made


def _numbers(values: "Floats") -> list[float | None]:
    """Return numbers to a hundredth of a millimetre's thousandth; None for NaN."""
    return [None if np.isnan(v) else round(float(v), 8) for v in values]


def _turned(network: "Network", xyz: "Floats") -> "Floats":
    """Return (m, 2, 2) grid north and east for a metre east and a metre north."""
    axes, step = network.frame.axes(xyz), 1.0
    made = np.zeros((len(xyz), 2, 2))
    for k in (0, 1):
        ahead = network.frame.grid(xyz + step * axes[:, k])
        behind = network.frame.grid(xyz - step * axes[:, k])
        made[:, :, k] = (ahead - behind)[:, :2] / (2 * step)
    return np.nan_to_num(made)


def _geodetic(network: "Network", xyz: "Floats", axes: "Floats") -> Object:
    if network.frame.kind != "geodetic":
        return {}
    frame = cast(GeodeticFrame, network.frame)
    north, east = (
        frame.geodetic((xyz + axes[k])[None])[0]
        - frame.geodetic((xyz - axes[k])[None])[0]
        for k in (1, 0)
    )
    return {
        "xyz": _numbers(xyz),
        "axes": flat(axes),
        "geodetic": [float(v) for v in frame.geodetic(xyz[None])[0]],
        "degrees_per_metre": [digits(north[0] / 2), digits(east[1] / 2)],
    }


def _use(network: "Network", mark: int) -> Object:
    known = network.known
    rows = np.flatnonzero((known.mark == mark) & known.used)
    plan = next((known.use_plan[i] for i in rows if known.components[i, 0]), "")
    height = next((known.use_height[i] for i in rows if known.components[i, 2]), "")
    return {"use_plan": plan, "use_height": height}


def _set_ups(network: "Network") -> list[Object]:
    from ...adjust.judge.names import about

    table = network.set_ups
    words = about(network, "set-up", np.arange(len(table)))
    return [
        {
            "name": table.name[i],
            "about": words[i],
            "mark": int(table.mark[i]),
            "row": int(table.row[i]),
            "session": int(table.session[i]),
            "tripod": table.tripod[i],
        }
        for i in range(len(table))
    ]


def _dimension(adjustment: "Adjustment") -> str:
    """Return ``space``, ``plan`` or ``height``: what of the marks is adjusted."""
    plan, height = (adjustment.estimated[:, k].any() for k in (0, 2))
    return "space" if plan and height else "plan" if plan else "height"
