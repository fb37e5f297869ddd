"""Computed points and moved shots, written to ``results/topo/``, never to ``topo/``.

Plain CSV, whole or not at all; the same input gives the same bytes. The folder is safe
to delete: everything in it can be computed again.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from .files import make_folder, write_whole

if TYPE_CHECKING:
    from ..networks.covariances import Floats

FOLDER = "results/topo"


def points_csv(
    names: Sequence[str],
    words: Sequence[tuple[str, str, str]],
    coordinates: "Floats",
    covariance: "Floats",
) -> str:
    """Return points with their standard deviations as CSV.

    Parameters
    ----------
    names : sequence of str, length n
    words : sequence of (str, str, str)
        Code, line and how each was made.
    coordinates : ndarray, shape (n, 3)
        East, north, height, m.
    covariance : ndarray, shape (n, 3, 3)
        m².
    """
    sd = 1000 * np.sqrt(np.diagonal(covariance, axis1=1, axis2=2))
    rows = (
        (
            name,
            code,
            line,
            how,
            *_metres(coordinates[i][[1, 0, 2]]),
            *_millimetres(sd[i][[1, 0, 2]]),
        )
        for i, (name, (code, line, how)) in enumerate(zip(names, words, strict=True))
    )
    header = (
        "point code line made north_m east_m height_m sd_north_mm sd_east_mm "
        "sd_height_mm"
    )
    return _csv(header.split(), rows)


def moved_csv(
    names: Sequence[str],
    words: Sequence[tuple[str, str, str]],
    issues: tuple[int, int],
    coordinates: tuple["Floats", "Floats"],
    covariance: "Floats",
    moved: Sequence[bool],
) -> str:
    """Return shots after a revision as CSV, the old values beside them.

    Parameters
    ----------
    names : sequence of str, length n
    words : sequence of (str, str, str)
        Code, line, and how each was moved or why it was not.
    issues : (int, int)
        The old and the new one.
    coordinates : (ndarray, ndarray), shape (n, 3) each
        Before and after, east, north, height, m.
    covariance : ndarray, shape (n, 3, 3)
        After the move, m².
    moved : sequence of bool
    """
    old, new = issues
    before, after = (some[:, [1, 0, 2]] for some in coordinates)
    sd = 1000 * np.sqrt(np.diagonal(covariance, axis1=1, axis2=2))[:, [1, 0, 2]]
    rows = (
        (
            name,
            code,
            line,
            new if moved[i] else "",
            *_metres(after[i]),
            *_millimetres(sd[i]),
            *_metres(before[i]),
            *_millimetres(1000 * (after[i] - before[i])),
            how,
        )
        for i, (name, (code, line, how)) in enumerate(zip(names, words, strict=True))
    )
    header = (
        "shot code line record north_m east_m height_m sd_north_mm sd_east_mm "
        f"sd_height_mm north_issue_{old}_m east_issue_{old}_m height_issue_{old}_m "
        "moved_north_mm moved_east_mm moved_height_mm moved_by"
    )
    return _csv(header.split(), rows)


def keep_topo(folder: Path, name: str, text: str) -> bool:
    """Write a table to ``results/topo/NAME``; return whether it was there already.

    Parameters
    ----------
    folder : Path
        Of the job.
    name : str
    text : str

    Raises
    ------
    CannotWrite
    """
    place = folder / FOLDER / name
    raw = text.encode()
    try:
        if place.read_bytes() == raw:
            return True
    except OSError:
        pass
    make_folder(place.parent)
    write_whole(place, raw)
    return False


def _metres(values: "Floats") -> list[str]:
    return [f"{v:.4f}" if np.isfinite(v) else "" for v in values.tolist()]


def _millimetres(values: "Floats") -> list[str]:
    return [f"{v + 0.0:.1f}" if np.isfinite(v) else "" for v in values.tolist()]


def _csv(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(rows)
    return out.getvalue()
