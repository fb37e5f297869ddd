"""The tables of a job, each typed, become one network."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.findings import Finding
from ....networks.frames import Frame
from ....networks.network import Network
from ....networks.observations import KnownMarks, Marks, Positions, SetUps, Vectors
from ..job import Job
from ..matrix import Matrix
from ..table import Table
from .approximate import Ties, rough_positions
from .cross import Correlations
from .deflections import plumb_lines
from .dimension import dimension_of, held_names
from .ends import free_stations
from .frame import job_frame
from .geoid import Geoid, job_geoid, none_needed
from .heights import ellipsoidal, height_datums
from .known import build_known, empty_known
from .marks import build_marks
from .names import MarkNames, check_aliases, mark_names, no_marks, resolve
from .places import Places, booked_places
from .positions import build_positions, empty_positions, position_marks
from .set_ups import Stands, build_set_ups, empty_set_ups
from .sights import Pointings
from .stated import stated_frames
from .terrestrial import booked_pointings, terrestrial
from .undulations import (
    above_geoid,
    held_on_unknown_geoid,
    job_undulations,
    positions_on_unknown_geoid,
)
from .unknowns import Unknowns
from .vectors import Booked, booked_vectors, build_vectors, empty_vectors


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
    control: tuple[Ints, Places] | None
    """Mark and place of every row of control.csv."""
    positions: tuple[tuple[Ints, Ints], Places] | None
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


def build_network(survey: Survey, findings: list[Finding]) -> Network:
    """Return the network of a survey; it may be used only if there is no fault.

    Parameters
    ----------
    survey : Survey
    findings : list of Finding
        Every fault and query is added here.

    Returns
    -------
    Network
    """
    job, tables = survey.job, survey.tables
    height_datums(job.frame, tables, findings)
    geoid = job_geoid(
        job.frame,
        survey.folder,
        tables,
        survey.names,
        survey.frame,
        survey.rough,
        findings,
    )
    if survey.dimension == "height":
        geoid = none_needed(geoid)
    known = _known(survey, geoid, findings)
    unknowns = Unknowns()
    sights, levels = terrestrial(
        tables,
        survey.left_out,
        survey.pointings,
        survey.names,
        survey.frame,
        job,
        survey.dimension,
        geoid,
        survey.control,
        unknowns,
        findings,
    )
    undulations = job_undulations(
        job.frame,
        tables,
        geoid,
        survey.frame,
        survey.dimension,
        survey.rough,
        known,
        unknowns,
        findings,
    )
    vectors = _vectors(survey, unknowns, findings)
    positions = _positions(survey, geoid, unknowns, findings)
    minimal = job.network.minimal_station
    azimuth_to = job.network.minimal_azimuth_to
    return Network(
        frame=survey.frame,
        marks=_marks(survey, geoid, findings),
        set_ups=_set_ups(survey),
        vectors=vectors,
        positions=positions,
        known=known,
        sessions=tuple(survey.sessions),
        groups=tuple(survey.groups),
        options=job.options,
        minimal_station=survey.names.alias.get(minimal, minimal),
        dimension=survey.dimension,
        minimal_azimuth_to=survey.names.alias.get(azimuth_to, azimuth_to),
        sights=sights,
        levels=levels,
        parameters=unknowns.parameters(),
        undulations=undulations,
    )


_Control = tuple[Ints, Places] | None
_Positions = tuple[tuple[Ints, Ints], Places] | None


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
    control: tuple[Ints, Places] | None,
    positions: tuple[tuple[Ints, Ints], Places] | None,
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


def _left_out(survey: Survey, name: str) -> Bools:
    count = len(survey.tables[name])
    return survey.left_out.get(name, np.zeros(count, dtype=bool))


def _marks(survey: Survey, geoid: Geoid, findings: list[Finding]) -> Marks:
    """Return the marks with the plumb lines that instruments over them see from."""
    if survey.dimension in ("plan", "height"):
        return survey.marks
    names = survey.names.names
    leaning = plumb_lines(geoid, survey.pointings, names, findings)
    return replace(survey.marks, deflection=leaning)


def _known(survey: Survey, geoid: Geoid, findings: list[Finding]) -> KnownMarks:
    if survey.control is None:
        return empty_known()
    table = survey.tables["control"]
    mark, places = survey.control
    above, out = above_geoid(places), _left_out(survey, "control")
    findings.extend(held_on_unknown_geoid(survey.job.frame, table, above, out))
    places, sd = ellipsoidal(places, table, mark, geoid, findings)
    return build_known(
        table,
        mark,
        places,
        sd,
        survey.frame,
        survey.rough,
        survey.correlations,
        above,
        out,
        findings,
    )


def _vectors(survey: Survey, unknowns: Unknowns, findings: list[Finding]) -> Vectors:
    if survey.vectors is None:
        return empty_vectors()
    return build_vectors(
        survey.vectors,
        survey.correlations,
        survey.frame,
        survey.rough,
        survey.job,
        (survey.sessions, survey.groups),
        unknowns,
        _left_out(survey, "baselines"),
        findings,
    )


def _positions(
    survey: Survey, geoid: Geoid, unknowns: Unknowns, findings: list[Finding]
) -> Positions:
    if survey.positions is None:
        return empty_positions()
    table = survey.tables["positions"]
    ends, places = survey.positions
    above = above_geoid(places) & ~_left_out(survey, "positions")
    findings.extend(positions_on_unknown_geoid(survey.job.frame, table, above))
    places, sd = ellipsoidal(places, table, ends[1], geoid, findings)
    return build_positions(
        table,
        ends,
        places,
        sd,
        survey.frame,
        survey.rough,
        survey.job,
        survey.correlations,
        survey.groups,
        unknowns,
        _left_out(survey, "positions"),
        findings,
    )


def _set_ups(survey: Survey) -> SetUps:
    return survey.stands.set_ups if len(survey.stands.set_ups) else empty_set_ups()
