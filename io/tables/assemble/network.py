"""A job with its names and places becomes one network."""

from dataclasses import replace

import numpy as np

from ....networks.covariances import Bools
from ....networks.findings import Finding
from ....networks.network import Network
from ....networks.observations import (
    KnownMarks,
    Levels,
    Marks,
    Positions,
    SetUps,
    Sights,
    Vectors,
)
from .deflections import plumb_lines
from .flat_sights import flat_sights
from .geoid import Geoid, job_geoid, looked_up_about, none_needed
from .heights import ellipsoidal, height_datums
from .known import build_known, empty_known
from .positions import build_positions, empty_positions
from .set_ups import empty_set_ups
from .surveyed import Survey
from .terrestrial import terrestrial
from .undulations import (
    above_geoid,
    held_on_unknown_geoid,
    job_undulations,
    positions_on_unknown_geoid,
)
from .unknowns import Unknowns
from .vectors import build_vectors, empty_vectors


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
    job, unknowns = survey.job, Unknowns()
    geoid = _geoid(survey, findings)
    known = _known(survey, geoid, findings)
    sights, levels = _terrestrial(survey, geoid, unknowns, findings)
    undulations = job_undulations(
        job.frame,
        survey.tables,
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
    network = Network(
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
    table = survey.tables.get("total_station")
    findings += flat_sights(network, table, job, survey.rough)
    return network


def _geoid(survey: Survey, findings: list[Finding]) -> Geoid:
    frame, tables = survey.job.frame, survey.tables
    height_datums(frame, tables, findings)
    geoid = job_geoid(
        frame,
        survey.folder,
        tables,
        survey.names,
        survey.frame,
        survey.rough,
        findings,
    )
    approximate = survey.marks.approximate.copy()
    if survey.control is not None:
        # Known marks are booked as exactly as need be.
        mark, _ = survey.control
        approximate[mark[mark >= 0]] = np.nan
    names = survey.names.names
    findings.extend(looked_up_about(geoid, approximate, survey.rough, names))
    return none_needed(geoid) if survey.dimension == "height" else geoid


def _terrestrial(
    survey: Survey, geoid: Geoid, unknowns: Unknowns, findings: list[Finding]
) -> tuple[tuple[Sights, ...], Levels | None]:
    return terrestrial(
        survey.tables,
        survey.left_out,
        survey.pointings,
        survey.names,
        survey.frame,
        survey.job,
        survey.dimension,
        geoid,
        survey.control,
        unknowns,
        findings,
        survey.groups,
    )


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
