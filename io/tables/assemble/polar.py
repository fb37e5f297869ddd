"""total_station.csv: the pointings with a code are topographic shots."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.findings import Finding
from ....networks.shots import PolarShots, labels
from ..table import Table
from .constants import Constants, edm_constants
from .distances import corrected_distances
from .flat_sights import flat_query
from .instruments import instrument_rows, sd_of
from .sights import orientation_name
from .surroundings import Surroundings
from .unknowns import Unknowns

TABLE = "total_station"


def control_rows(
    tables: Mapping[str, Table], left_out: Mapping[str, Bools]
) -> tuple[dict[str, Table], dict[str, Bools]]:
    """Return the tables without coded pointings: those take no part in the control.

    Parameters
    ----------
    tables : mapping of str to Table
    left_out : mapping of str to ndarray of bool
        Rows that decisions leave out, by table, or by table and kind of reading.
    """
    kept, out = dict(tables), dict(left_out)
    if TABLE not in tables or not tables[TABLE].has("code").any():
        return kept, out
    plain = np.flatnonzero(~tables[TABLE].has("code"))
    kept[TABLE] = tables[TABLE].rows(plain)
    for name, rows in left_out.items():
        if name.partition(":")[0] == TABLE:
            out[name] = rows[plain]
    return kept, out


@dataclass(frozen=True, slots=True)
class _Readings:
    direction: Floats
    zenith: Floats
    slope: Floats
    constants: Constants
    sd: Floats


def build_polar(around: Surroundings, findings: list[Finding]) -> PolarShots | None:
    """Return the polar shots that can be computed; None where there is none.

    Parameters
    ----------
    around : Surroundings
    findings : list of Finding
        Every fault and query is added here.
    """
    whole = around.tables.get(TABLE)
    if whole is None or not whole.has("code").any():
        return None
    table = whole.rows(np.flatnonzero(whole.has("code")))
    node, height, set_up_row = _stands(table, around, findings)
    orientation = _orientations(table, around, node, findings)
    unknowns = Unknowns()
    read = _readings(table, around, set_up_row, unknowns, findings)
    target = table.number("target_height")
    station = table.word("target_station")
    mark = np.array([around.mark.get(str(s), -1) for s in station], dtype=np.int64)
    values = np.stack([read.direction, read.zenith, read.slope, height, target], axis=1)
    _incomplete(table, values, findings)
    good = (node >= 0) & (orientation >= 0) & np.isfinite(values).all(axis=1)
    kind = around.job.set_up_kinds["pole_hand"]
    refraction = around.job.refraction
    rows = np.flatnonzero(good)
    part = table.rows(rows)
    findings += flat_query(table, rows, read.slope[rows], around.job)
    return PolarShots(
        name=tuple(part.word("pointing")),
        code=labels(part.word("code")),
        line=labels(part.word("line")),
        at=node[rows],
        at_height=height[rows],
        orientation=orientation[rows],
        direction=read.direction[rows],
        zenith=read.zenith[rows],
        slope=read.slope[rows],
        constants=_of_network(read.constants.parameter, unknowns, around)[rows],
        target_height=target[rows],
        sd=read.sd[rows],
        sd_hold=np.tile([kind.sd_centring, kind.sd_height], (len(rows), 1)),
        refraction=refraction.coefficient,
        sd_refraction=refraction.sd,
        station=mark[rows],
        surface=np.asarray(part.word("surface") != "no", dtype=bool),
        row=part.row,
    )


def _stands(
    table: Table, around: Surroundings, findings: list[Finding]
) -> tuple[Ints, Floats, Ints]:
    """Return node and trunnion height of each instrument, and its row."""
    network = around.network
    set_ups = around.tables.get("set_ups")
    known = {}
    if set_ups is not None:
        known = {str(name): i for i, name in enumerate(set_ups.word("set_up"))}
    nodes = {
        name: len(network.marks) + k for k, name in enumerate(network.set_ups.name)
    }
    row, node = np.full((2, len(table)), -1, dtype=np.int64)
    height = np.full(len(table), np.nan)
    for i, booked in enumerate(table.word("set_up")):
        name = str(booked)
        row[i] = known.get(name, -1)
        if row[i] < 0 or set_ups is None:
            continue
        tripod = str(set_ups.word("forced_centring")[row[i]]) or name
        free = around.mark.get(f"free station {name}", -1)
        node[i] = nodes.get(tripod, free)
        height[i] = set_ups.number("height")[row[i]]
        if np.isnan(height[i]) and free >= 0:
            height[i] = 0.0
    for i in np.flatnonzero(node < 0).tolist():
        findings.append(
            table.finding(
                "polar-not-in-network",
                "query",
                i,
                ("set_up",),
                against="a set-up from which the control was observed too",
                mend="book the round to known marks of this set-up; till then its "
                "shots hang on nothing and are not computed",
            )
        )
    return node, height, row


def _orientations(
    table: Table, around: Surroundings, node: Ints, findings: list[Finding]
) -> Ints:
    """Return the network's parameter of each round's circle zero; −1 for none."""
    parameters = around.network.parameters
    number = {
        name: k
        for k, name in enumerate(parameters.name)
        if parameters.kind[k] == "orientation"
    }
    pairs = zip(table.word("set_up"), table.word("round"), strict=True)
    found = np.array(
        [number.get(orientation_name(str(s), str(r)), -1) for s, r in pairs],
        dtype=np.int64,
    )
    for i in np.flatnonzero((found < 0) & (node >= 0)).tolist():
        findings.append(
            table.finding(
                "polar-not-oriented",
                "query",
                i,
                ("set_up", "round"),
                against="a round with directions to control of the same name",
                mend="give the shots the round in which the backsight was read",
            )
        )
    return found


def _readings(
    table: Table,
    around: Surroundings,
    set_up_row: Ints,
    unknowns: Unknowns,
    findings: list[Finding],
) -> _Readings:
    instruments = around.tables.get("instruments")
    rows, _ = instrument_rows(table, set_up_row, around.tables)
    usable = set_up_row >= 0
    slope, _ = corrected_distances(table, instruments, rows, usable, findings)
    measured = usable & np.isfinite(slope)
    constants = edm_constants(table, instruments, rows, measured, unknowns, findings)
    slope = constants.applied(slope)
    direction, zenith = table.number("direction"), table.number("zenith")
    # A pointing in face 2: the other side of both circles.
    turned = zenith > np.pi
    direction = np.where(turned, direction - np.pi, direction)
    zenith = np.where(turned, 2 * np.pi - zenith, zenith)
    kinds = ("direction", "zenith angle", "slope distance")
    length = np.nan_to_num(slope)
    sd = [sd_of(kind, table, instruments, rows, length) for kind in kinds]
    return _Readings(direction, zenith, slope, constants, np.stack(sd, axis=1))


def _of_network(numbers: Ints, unknowns: Unknowns, around: Surroundings) -> Ints:
    """Return the numbers of the same parameters in the network; −1 for none."""
    own, others = unknowns.parameters(), around.network.parameters
    keys = zip(others.kind, others.name, strict=True)
    known = {key: k for k, key in enumerate(keys)}
    there = [known.get(key, -1) for key in zip(own.kind, own.name, strict=True)]
    return np.array([*there, -1], dtype=np.int64)[numbers]


def _incomplete(table: Table, values: Floats, findings: list[Finding]) -> None:
    headers = ("direction", "zenith", "slope_distance", "height", "target_height")
    for i in np.flatnonzero(np.isnan(values).any(axis=1)).tolist():
        lacking = [
            name for name, v in zip(headers, values[i], strict=True) if np.isnan(v)
        ]
        where = {"height": "height_m of the instrument in set_ups.csv"}
        words = ", ".join(where.get(name, name) for name in lacking)
        findings.append(
            table.finding(
                "missing-value",
                "query",
                i,
                ("code",),
                against=f"a polar shot needs {words}",
                mend="fill it; till then the shot is not computed",
            )
        )
