"""stations.csv: the marks and where they are about."""

from collections.abc import Mapping

import numpy as np

from ....networks.covariances import Floats
from ....networks.findings import Finding
from ....networks.frames import Frame
from ....networks.observations import Marks
from ..job import FrameSection
from ..table import Table
from .free_stations import STATUS as FREE
from .free_stations import free_station_names
from .names import MarkNames
from .places import booked_places
from .stated import Stated


def build_marks(
    tables: Mapping[str, Table],
    names: MarkNames,
    frame: Frame,
    section: FrameSection,
    findings: list[Finding],
    dimension: str = "",
) -> Marks:
    """Return the marks with the approximate positions that are booked.

    Parameters
    ----------
    tables : mapping of str to Table
    names : MarkNames
    frame : Frame
    section : FrameSection
    findings : list of Finding
        Approximate positions that cannot be placed are added here.
    dimension : str, optional
        In a ``plan``, an approximate position needs no height.
    """
    count = len(names.names)
    approximate = np.full((count, 3), np.nan)
    words = {column: [""] * count for column in ("status", "description")}
    row = np.zeros(count, dtype=np.int64)
    if "stations" in tables:
        table = tables["stations"]
        booked = approximate_places(table, frame, section, findings, dimension)
        numbers = (names.number.get(n, -1) for n in table.word("station"))
        mark = np.fromiter(numbers, dtype=np.int64, count=len(table))
        found = np.flatnonzero(mark >= 0)
        mark = mark[found]
        approximate[mark], row[mark] = booked[found], table.row[found]
        for column, texts in words.items():
            for k, text in zip(mark.tolist(), table.word(column)[found], strict=True):
                texts[k] = text
    for name in free_station_names(tables):
        words["status"][names.number[name]] = FREE
    return Marks(
        names.names,
        approximate,
        tuple(words["status"]),
        tuple(words["description"]),
        row,
    )


def approximate_places(
    table: Table,
    frame: Frame,
    section: FrameSection,
    findings: list[Finding],
    dimension: str = "",
) -> Floats:
    """Return (n, 3) booked approximate positions, m; NaN where one is not whole.

    An orthometric approximate height serves as it is: some metres do not matter.
    """
    n = len(table)
    own = np.full(n, section.geographic_epsg or 0, dtype=np.int64)
    epoch = np.full(n, section.epoch or np.nan)
    none = np.full(n, "", dtype=object)
    stated = Stated(own, epoch, none, np.ones(n, dtype=bool))
    places = booked_places(table, frame, stated, findings, "approx_")
    height = places.orthometric
    return places.placed(
        frame, np.nan_to_num(height) if dimension == "plan" else height
    )
