"""How long a crew drives and walks between the marks of a job."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.io.tables.load import Loaded
    from brasscap.networks.covariances import Floats, Ints


DETOUR = 1.3
"""Road over straight line, where [crew] does not say (common practice, no source)."""


SPEED_KM_H = 40.0


def drives_of(
    loaded: "Loaded", adjustment: "Adjustment", marks: "Ints | None" = None
) -> "Floats":
    """Return minutes between marks, or some of them, as tables and [crew] say, (m, m).

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    marks : ndarray of int, optional
        In the order in which they are wanted; all if not given.
    """
    stated = loaded.job.crew
    return drives(
        loaded,
        adjustment,
        float(stated.get("drive_speed_km_h", SPEED_KM_H)),
        float(stated.get("detour_factor", DETOUR)),
        marks,
    )


def drives(
    loaded: "Loaded",
    adjustment: "Adjustment",
    speed_km_h: float,
    detour: float,
    marks: "Ints | None" = None,
) -> "Floats":
    """Return minutes between marks, walks from and to the vehicle included, (m, m).

    Driven as drive_times.csv says, both ways alike unless it says otherwise; else
    straight line × detour over speed. Walks as stations.csv says (access_min).

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    speed_km_h : float
    detour : float
        Road over straight line.
    marks : ndarray of int, optional
        In the order in which they are wanted; all if not given.
    """
    import numpy as np

    names = adjustment.network.marks.name
    if marks is None:
        marks = np.arange(len(names))
    number = {names[mark]: k for k, mark in enumerate(marks.tolist())}
    places = _known_places(adjustment)[marks]
    far = np.linalg.norm(places[:, None] - places, axis=2)
    made: Floats = np.nan_to_num(detour * far / (speed_km_h * 1000 / 60))
    for start, end, minutes in _driven(loaded, number):
        made[start, end] = minutes
    walk = np.zeros(len(marks))
    table = loaded.tables.get("stations")
    if table is not None:
        access = (table.number("access") / 60).tolist()
        for name, own in zip(table.word("station"), access, strict=True):
            if name in number and own == own:
                walk[number[str(name)]] = own
    made += walk[:, None] + walk
    np.fill_diagonal(made, 0.0)
    return made


def _known_places(adjustment: "Adjustment") -> "Floats":
    """Return where marks are; those that are not estimated as they are known."""
    import numpy as np

    network = adjustment.network
    places = adjustment.nodes.xyz[: len(network.marks)].copy()
    away = ~np.asarray(adjustment.estimated.any(axis=1))
    for row, mark in enumerate(network.known.mark.tolist()):
        if away[mark] and network.known.components[row].all():
            places[mark] = network.known.xyz[row]
    return places


def _driven(
    loaded: "Loaded", number: Mapping[str, int]
) -> Iterator[tuple[int, int, float]]:
    """Yield marks and minutes of drive_times.csv, ways back first: said ones win."""
    table = loaded.tables.get("drive_times")
    if table is None:
        return
    rows = [
        (str(start), str(end), float(seconds) / 60)
        for start, end, seconds in zip(
            table.word("from_station"),
            table.word("to_station"),
            table.number("drive"),
            strict=True,
        )
    ]
    rows = [row for row in rows if row[0] in number and row[1] in number]
    for start, end, minutes in rows:
        yield number[end], number[start], minutes
    for start, end, minutes in rows:
        yield number[start], number[end], minutes
