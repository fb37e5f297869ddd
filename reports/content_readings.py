"""Sights and levelled runs as booked, with their residuals."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from .document import Column, Row, Table, anchor
from .judged import Judged
from .rounding import Lengths, number, sexagesimal

if TYPE_CHECKING:
    from ..networks import Levels, Sights
    from ..networks.covariances import Floats, Ints

_ANGLES = ("direction", "angle", "azimuth", "zenith angle")


def readings_table(judged: Judged, lengths: Lengths) -> Table | None:
    """Return every sight and levelled run, its unit beside it; None without any."""
    network = judged.network
    rows: list[Row] = []
    for some in network.sights:
        rows += _rows(judged, some.kind, some, (some.at, some.to, some.value), lengths)
    if network.levels is not None:
        runs = network.levels
        columns = (runs.start, runs.end, runs.rise)
        rows += _rows(judged, "level difference", runs, columns, lengths)
    if not rows:
        return None
    heads = ("observation", "from", "to", "booked", "residual")
    return Table(
        "sights and levelled runs; residual is adjusted minus observed",
        tuple(Column(head, number=False) for head in heads),
        tuple(rows),
    )


def _rows(
    judged: Judged,
    kind: str,
    some: "Sights | Levels",
    columns: "tuple[Ints, Ints, Floats]",
    lengths: Lengths,
) -> Iterator[Row]:
    starts, ends, values = columns
    network = judged.network
    residuals = judged.adjustment.residuals.get(kind)
    for i, name in enumerate(some.name):
        said = "left out"
        if some.used[i] and residuals is not None:
            said = _residual(kind, float(np.ravel(residuals[i])[0]), lengths)
        cells = (
            f"{kind} {name}",
            network.node_name(int(starts[i])),
            network.node_name(int(ends[i])),
            _booked(kind, float(values[i]), lengths),
            said,
        )
        yield Row(cells, anchor(kind, name), anchor("map", f"{kind} {name}"))


def _booked(kind: str, value: float, lengths: Lengths) -> str:
    if kind in _ANGLES:
        return sexagesimal(float(np.degrees(value)))
    return f"{lengths.coordinate(value)} {lengths.unit}"


def _residual(kind: str, value: float, lengths: Lengths) -> str:
    if kind in _ANGLES:
        return f"{number(float(np.degrees(value)) * 3600, 'arcsec')}″"
    return f"{lengths.small(value)} {lengths.small_unit}"
