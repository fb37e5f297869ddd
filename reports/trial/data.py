"""What the page starts from: unknowns, marks, set-ups, blocks, limits."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from ...adjust.design.loosely_held import HELD_SD
from ...networks import GeodeticFrame
from .blocks import block_object, digits, flat, own_columns
from .drawn import map_object
from .limits import limits_object
from .part import renumbered
from .proposed import Proposed, proposed_object
from .specified import specified_object

if TYPE_CHECKING:
    from ...adjust import Adjustment
    from ...adjust.design.block import Block
    from ...adjust.design.rest import Rest
    from ...networks import Network
    from ...networks.covariances import Floats, Ints
    from ...networks.specifications import Specification

Object = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Trial:
    """Everything that a page is made of."""

    adjustment: "Adjustment"
    """Of the network with its held marks firmly weighted."""
    network: "Network"
    """As the job has it."""
    blocks: "Sequence[Block]"
    """Of the adjustment."""
    proposed: Sequence[Proposed] = ()
    specification: "Specification | None" = None
    pairs: "Ints" = field(default_factory=lambda: np.zeros((0, 2), dtype=np.int64))
    """(P, 2) marks whose relative position matters."""
    multipliers: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """Group to the multipliers of its sds in plan and height, as they are now."""
    job_hash: str = ""
    """Of what bears on the figures; the trial file carries it."""
    chosen: "Ints | None" = None
    """Marks that the page shows; None for all."""
    rest: "Rest | None" = None
    """What the rest of the network says of them; None for no rest."""


def trial_data(trial: Trial) -> Object:
    """Return a solution as the page's script reads it.

    Parameters
    ----------
    trial : Trial
    """
    adjustment, network, blocks = trial.adjustment, trial.network, trial.blocks
    edge = [] if trial.rest is None else trial.rest.columns.tolist()
    own = own_columns(blocks, _free_columns(adjustment)) - set(edge)
    number = _numbered([*(b.columns.tolist() for b in blocks), edge], own)
    shown = np.arange(len(network.marks)) if trial.chosen is None else trial.chosen
    most = 3 * len(network.known) + sum(len(block.misclosure) for block in blocks)
    most += 0 if trial.rest is None else trial.rest.rows
    most = max(most - len(number) + 50, 50)
    places = _places(adjustment, network.frame.grid(_xyz(adjustment)))
    made = {
        "schema": "brasscap/trial-page/1",
        "job_hash": trial.job_hash,
        "datum": adjustment.datum.mode,
        "datum_text": network_datum(trial),
        "frame": network.frame.describe(),
        "unknowns": len(number),
        "held_sd": HELD_SD,
        "limits": limits_object(network.options, most),
        "specification": specified_object(
            trial.specification, trial.pairs, network, most, len(shown)
        ),
        "marks": marks_objects(adjustment, network, number, places, shown),
        "map": map_object(adjustment, places, _joined(blocks), shown),
        "set_ups": _set_ups(network),
        "dimension": _dimension(adjustment),
        "shortest_sight": _shortest_sight(adjustment),
        "sessions": list(network.sessions),
        "groups": [
            {"name": name, "multipliers": list(trial.multipliers.get(name, (1.0, 1.0)))}
            for name in network.groups
        ],
        "blocks": [block_object(b, network, number, own) for b in blocks]
        + [proposed_object(one, adjustment, network, number) for one in trial.proposed],
        "rest": _rest(trial.rest, number),
    }
    return renumbered(made, shown)


def _rest(rest: "Rest | None", number: Mapping[int, int]) -> Object | None:
    if rest is None:
        return None
    return {
        "columns": [number[c] for c in rest.columns.tolist()],
        "normal": flat(rest.matrix),
        "right": flat(rest.right),
        "vtpv": rest.vtpv,
        "rows": rest.rows,
    }


def _xyz(adjustment: "Adjustment") -> "Floats":
    marks: Floats = adjustment.nodes.xyz[: len(adjustment.network.marks)]
    return marks


def _joined(blocks: "Sequence[Block]") -> list[tuple[int, int]]:
    """Return the pairs of marks that observations join."""
    seen = [one.nodes[:2] for block in blocks for one in block.observations]
    return sorted({(ends[0], ends[1]) for ends in seen if len(ends) == 2})


def network_datum(trial: Trial) -> str:
    """Return in words what the job's own solution hangs on."""
    from ...adjust.datum import datum

    return datum(trial.network, trial.adjustment.datum.mode).text


def _shortest_sight(adjustment: "Adjustment") -> float | None:
    """Return the length of the shortest sight, m; None without sights."""
    network, xyz = adjustment.network, adjustment.nodes.xyz
    lengths = [
        np.linalg.norm(xyz[some.at[some.used]] - xyz[some.to[some.used]], axis=1).min()
        for some in network.sights
        if some.used.any()
    ]
    return round(float(min(lengths)), 3) if lengths else None


def _free_columns(adjustment: "Adjustment") -> "Ints":
    """Return the columns of parameters without a prior."""
    parameters = adjustment.network.parameters
    columns = adjustment.columns[len(adjustment.nodes.xyz) :, 0]
    free: Ints = columns[~np.isfinite(parameters.sd) & (columns >= 0)]
    return free


def _numbered(sets: Sequence[Sequence[int]], own: set[int]) -> dict[int, int]:
    """Return the page's number of each column, neighbours near each other."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import reverse_cuthill_mckee

    kept = [[c for c in some if c not in own] for some in sets]
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
    adjustment: "Adjustment",
    network: "Network",
    number: dict[int, int],
    places: "Floats",
    shown: "Ints",
) -> list[Object]:
    """Return the marks: names, places, unknowns, and how figures follow a shift."""
    marks = len(network.marks)
    xyz = adjustment.nodes.xyz[:marks]
    estimated = adjustment.estimated
    grid, turn = network.frame.grid(xyz), _turned(network, xyz)
    made = []
    for i in shown.tolist():
        name = network.marks.name[i]
        columns = adjustment.columns[i].tolist()
        made.append(
            {
                "station": name,
                "unknowns": [number.get(c, -1) if c >= 0 else -1 for c in columns],
                "estimated": estimated[i].tolist(),
                "place": _numbers(places[i]),
                "grid": _numbers(grid[i]),
                "grid_turn": flat(turn[i]),
                **_geodetic(network, xyz[i], adjustment.nodes.axes[i]),
                **_use(network, i),
            }
        )
    return made


def _places(adjustment: "Adjustment", grid: "Floats") -> "Floats":
    """Return (m, 2) east and north for drawing, m; NaN where a mark has no place."""
    network, marks = adjustment.network, len(grid)
    xyz = adjustment.nodes.xyz[:marks]
    has = adjustment.estimated[:, 0]
    booked = np.asarray(np.isfinite(network.marks.approximate).all(axis=1))
    if network.frame.has_grid:
        places = grid[:, [1, 0]]
    else:
        middle = xyz.mean(axis=0)
        places = ((xyz - middle) @ network.frame.axes(middle[None])[0].T)[:, :2]
    made: Floats = np.where((has | booked)[:, None], places, np.nan)
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
