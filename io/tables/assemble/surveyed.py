"""The tables of a job with names resolved and coordinates placed, nothing built yet."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.findings import Finding
from ....networks.frames import Frame
from ....networks.observations import Marks
from ..job import Job
from ..matrix import Matrix
from ..table import Table
from .approximate import Ties, rough_positions
from .cross import Correlations
from .dimension import dimension_of, held_names
from .ends import free_stations
from .frame import job_frame
from .marks import build_marks
from .names import MarkNames, check_aliases, mark_names, no_marks, resolve
from .places import Places, booked_places
from .positions import position_marks
from .set_ups import Stands, build_set_ups
from .sights import Pointings
from .stated import stated_frames
from .terrestrial import booked_pointings
from .vectors import Booked, booked_vectors

_Control = tuple[Ints, Places] | None
_Positions = tuple[tuple[Ints, Ints], Places] | None


@dataclass(frozen=True, slots=True)
class Survey:
    """The tables with their names resolved and their coordinates placed."""

    folder: Path
    job: Job
    tables: Mapping[str, Table]
    left_out: Mapping[str, Bools]
    """Table to its rows (n,) that a decision leaves out."""
    correlations: Correlations
    frame: Frame
    names: MarkNames
    marks: Marks
    stands: Stands
    vectors: Booked | None
    control: _Control
    """Mark and place of every row of control.csv."""
    positions: _Positions
    """Nodes and marks, and places, of every row of positions.csv."""
    pointings: Pointings | None
    rough: Floats
    """(m, 3) rough positions of the marks, m; NaN where nothing leads."""
    dimension: str
    """``space``, ``plan``, ``height``; empty = whatever the observations reach."""
    sessions: dict[str, int] = field(default_factory=dict)
    groups: dict[str, int] = field(default_factory=dict)


def survey(
    folder: Path,
    job: Job,
    tables: Mapping[str, Table],
    left_out: Mapping[str, Bools],
    matrices: tuple[Matrix, ...],
    findings: list[Finding],
) -> Survey | None:
    """Return the survey with names and places found; None without a usable frame.

    Parameters
    ----------
    folder : Path
        The job folder.
    job : Job
    tables : mapping of str to Table
        With decisions applied.
    left_out : mapping of str to ndarray of bool
        Rows that decisions leave out.
    matrices : tuple of Matrix
        Covariances in matrix form.
    findings : list of Finding
        Every fault and query is added here.

    Returns
    -------
    Survey or None
    """
    names = mark_names(tables)
    findings.extend(check_aliases(names, tables))
    frame = job_frame(job.frame, tables, findings)
    if not names.names:
        findings.append(no_marks())
    if frame is None or not names.names:
        return None
    findings.extend(held_names(job, names))
    dimension = dimension_of(job, tables, findings)
    marks = build_marks(tables, names, frame, job.frame, findings, dimension)
    sessions: dict[str, int] = {}
    stands = build_set_ups(tables, names, job, sessions, findings)
    vectors = None
    if "baselines" in tables:
        table = tables["baselines"]
        free_stations(table, stands, tables.get("set_ups"), findings)
        vectors = booked_vectors(table, names, stands, job, findings)
    control, positions = _coordinates(tables, names, stands, frame, job, findings)
    pointings, stands = booked_pointings(tables, left_out, names, stands, job, findings)
    ties = vectors.ties if vectors is not None else _no_ties()
    rough = rough_positions(frame, _seeds(frame, marks, control, positions), ties)
    return Survey(
        folder,
        job,
        tables,
        left_out,
        Correlations(tables.get("covariances"), matrices),
        frame,
        names,
        marks,
        stands,
        vectors,
        control,
        positions,
        pointings,
        rough,
        dimension,
        sessions,
    )


def _coordinates(
    tables: Mapping[str, Table],
    names: MarkNames,
    stands: Stands,
    frame: Frame,
    job: Job,
    findings: list[Finding],
) -> tuple[_Control, _Positions]:
    """Return marks and places of control and positions; None without the table."""
    control: _Control = None
    positions: _Positions = None
    if "control" in tables:
        table = tables["control"]
        mark = resolve(names, table, "station", findings)
        control = mark, _places(table, frame, job, findings)
    if "positions" in tables:
        table = tables["positions"]
        free_stations(table, stands, tables.get("set_ups"), findings)
        ends = position_marks(table, names, stands, findings)
        positions = ends, _places(table, frame, job, findings)
    return control, positions


def _places(table: Table, frame: Frame, job: Job, findings: list[Finding]) -> Places:
    stated = stated_frames(table, job.frame, findings, epochs=True)
    return booked_places(table, frame, stated, findings)


def _no_ties() -> Ties:
    none = np.zeros(0, dtype=np.int64)
    return Ties(none, none, np.zeros((0, 3)), none)


def _seeds(
    frame: Frame,
    marks: Marks,
    control: _Control,
    positions: _Positions,
) -> list[Floats]:
    """Return positions by trust: known, positioned, booked as approximate."""
    seeds = []
    rows = [control] if control else []
    if positions is not None:
        rows.append((positions[0][1], positions[1]))
    for mark, places in rows:
        seed = np.full_like(marks.approximate, np.nan)
        # An orthometric height, or none at all, is near enough for axes.
        height = np.nan_to_num(places.orthometric)
        xyz = places.placed(frame, height)
        good = np.flatnonzero((mark >= 0) & np.isfinite(xyz).all(axis=1))
        for i in good[::-1].tolist():
            seed[mark[i]] = xyz[i]
        seeds.append(seed)
    return [*seeds, marks.approximate]
