"""When each vector was observed, from its own row or from its set-ups."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ...networks.covariances import Floats
from ...networks.network import Network
from .assemble.levels import level_name
from .table import Table


def vector_times(network: Network, tables: Mapping[str, Table]) -> Floats:
    """Return start and stop of each vector, (n, 2) s since 1970; NaN = not booked.

    A vector without times of its own was observed while both its set-ups stood.

    Parameters
    ----------
    network : Network
    tables : mapping of str to Table
    """
    own = _by_name(tables.get("baselines"), "baseline")
    stood = _by_name(tables.get("set_ups"), "set_up")
    nothing = np.full(2, np.nan)
    times = np.full((len(network.vectors), 2), np.nan)
    for v, name in enumerate(network.vectors.name):
        booked = own.get(name, nothing)
        ends = [
            stood.get(network.node_name(int(node)), nothing)
            for node in (network.vectors.start[v], network.vectors.end[v])
        ]
        both = np.array([max(e[0] for e in ends), min(e[1] for e in ends)])
        if np.isnan(ends).any():
            both = nothing
        times[v] = np.where(np.isfinite(booked).all(), booked, both)
    return times


def run_lengths(network: Network, tables: Mapping[str, Table]) -> Floats:
    """Return the booked length of each levelled run, (n,) m; NaN = not booked.

    Parameters
    ----------
    network : Network
    tables : mapping of str to Table
    """
    if network.levels is None:
        return np.zeros(0)
    booked: dict[tuple[str, int], float] = {}
    table = tables.get("levels")
    if table is not None:
        names = (level_name(table, i) for i in range(len(table)))
        rows = table.row.tolist()
        booked = dict(
            zip(zip(names, rows, strict=True), table.number("length"), strict=True)
        )
    runs = zip(network.levels.name, network.levels.row.tolist(), strict=True)
    return np.array([booked.get(run, np.nan) for run in runs], dtype=float)


def _by_name(table: Table | None, key: str) -> dict[str, Floats]:
    if table is None:
        return {}
    start, stop = _seconds(table.instant("start")), _seconds(table.instant("stop"))
    times = np.stack([start, stop], axis=-1)
    return dict(zip(map(str, table.word(key)), times, strict=True))


def _seconds(instants: NDArray[np.datetime64]) -> Floats:
    seconds = instants.astype("int64") / 1000.0
    return np.where(np.isnat(instants), np.nan, seconds)
