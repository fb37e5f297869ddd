"""When each vector was observed, from its own row or from its set-ups."""

from collections.abc import Mapping, Sequence

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
    own = _times_of(tables.get("baselines"), "baseline", network.vectors.name)
    nodes = (*network.marks.name, *network.set_ups.name)
    stood = _times_of(tables.get("set_ups"), "set_up", nodes)
    first, last = stood[network.vectors.start], stood[network.vectors.end]
    both = np.stack(
        [np.maximum(first[:, 0], last[:, 0]), np.minimum(first[:, 1], last[:, 1])],
        axis=1,
    )
    both[np.isnan(first).any(axis=1) | np.isnan(last).any(axis=1)] = np.nan
    booked = np.isfinite(own).all(axis=1, keepdims=True)
    return np.where(booked, own, both)


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


def _times_of(table: Table | None, key: str, names: Sequence[str]) -> Floats:
    """Return (n, 2) the times of things by their names; of one name the last row's."""
    if table is None:
        return np.full((len(names), 2), np.nan)
    start, stop = _seconds(table.instant("start")), _seconds(table.instant("stop"))
    times = np.stack([start, stop], axis=-1)
    row = {str(name): k for k, name in enumerate(table.word(key))}
    at = np.array([row.get(name, -1) for name in names], dtype=np.int64)
    return np.vstack([times, np.full((1, 2), np.nan)])[at]


def _seconds(instants: NDArray[np.datetime64]) -> Floats:
    seconds = instants.astype("int64") / 1000.0
    return np.where(np.isnat(instants), np.nan, seconds)
