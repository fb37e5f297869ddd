"""topo/constructions.csv and topo/checks.csv become columns, their names numbers."""

from collections.abc import Mapping

import numpy as np

from ....networks.constructions import PARENTS, Constructions, ShapeChecks
from ....networks.covariances import Floats, Ints
from ....networks.findings import Finding
from ....networks.shots import labels
from ..spelling import nearest
from ..table import Table

_ENDS = ("from_shot", "second_shot", "third_shot", "fourth_shot")
_TAPED = ("distance", "second_distance", "dip", "pipe")
_NEED = {
    "offset": (),
    "two ties": ("distance", "second_distance"),
    "wall line": ("distance",),
    "inside corner": (),
    "two leans": (),
    "dip": ("dip",),
    "slope": ("distance", "slope"),
}
_CHECK_ENDS = ("first_shot", "second_shot", "third_shot", "fourth_shot")
_CHECK_NEEDS = {"taped distance": 2, "right angle": 3, "parallel": 4}


def point_numbers(
    roots: tuple[str, ...], table: Table | None, findings: list[Finding]
) -> dict[str, int]:
    """Return the number of every point: shots first, then constructions.

    A construction that has the name of a shot is a fault.
    """
    number = {name: k for k, name in enumerate(roots)}
    if table is None:
        return number
    for i, name in enumerate(table.word("shot")):
        if name in number:
            findings.append(
                table.finding(
                    "duplicate-name",
                    "fault",
                    i,
                    ("shot",),
                    against="each point once; a shot has this name",
                    mend="give the constructed point a name of its own",
                )
            )
        else:
            number[name] = len(roots) + i
    return number


def build_constructions(
    table: Table | None, number: Mapping[str, int], roots: int, findings: list[Finding]
) -> Constructions:
    """Return the constructions of a job.

    Parameters
    ----------
    table : Table or None
    number : mapping of str to int
        Every point by its name.
    roots : int
        How many points are shots.
    findings : list of Finding
        Every fault and query is added here.
    """
    if table is None:
        return _none()
    kinds = tuple(str(kind) for kind in table.word("kind"))
    parents = _ends(table, _ENDS, number, findings)
    said = table.word("side")
    side = np.select([said == "left", said == "right"], [1, -1]).astype(np.int64)
    _check_needs(table, kinds, side, findings)
    taped = np.stack([table.number(name) for name in _TAPED], axis=1)
    made = Constructions(
        tuple(table.word("shot")),
        kinds,
        labels(table.word("code")),
        labels(table.word("line")),
        parents,
        np.nan_to_num(taped),
        _sds(table, taped),
        table.number("slope"),
        table.number("sd_slope"),
        side,
        tuple(table.file),
        table.row,
    )
    findings.extend(_sds_not_stated(table, made))
    findings.extend(_circles(table, made, roots))
    return made


def _none() -> Constructions:
    zero, whole = np.zeros((0, 4)), np.zeros(0, dtype=np.int64)
    return Constructions(
        (),
        (),
        labels(()),
        labels(()),
        np.zeros((0, 4), dtype=np.int64),
        zero,
        zero,
        np.zeros(0),
        np.zeros(0),
        whole,
        (),
        whole,
    )


def _ends(
    table: Table,
    columns: tuple[str, ...],
    number: Mapping[str, int],
    findings: list[Finding],
) -> Ints:
    """Return (k, 4) the points that columns name; a name nobody knows is a fault."""
    made = np.full((len(table), len(columns)), -1, dtype=np.int64)
    for j, column in enumerate(columns):
        words = table.word(column)
        for i in np.flatnonzero(words != "").tolist():
            made[i, j] = number.get(words[i], -1)
            if made[i, j] < 0:
                findings.append(
                    table.finding(
                        "unknown-shot",
                        "fault",
                        i,
                        (column,),
                        against="the shots and constructions of topo/, and the coded "
                        "pointings of total_station.csv",
                        likely=nearest(str(words[i]), tuple(number)),
                        mend="name a point that there is",
                    )
                )
    return made


def _sds(table: Table, taped: Floats) -> Floats:
    """Return (c, 4) sd of what was taped; NaN where it has none, 0 where nothing is."""
    distance = table.number("sd_distance")
    stated = np.stack(
        [distance, distance, table.number("sd_dip"), table.number("sd_pipe")], axis=1
    )
    return np.where(np.isnan(taped), 0.0, stated)


def _check_needs(
    table: Table, kinds: tuple[str, ...], side: Ints, findings: list[Finding]
) -> None:
    """Tell constructions that lack a point, a tape or a side."""
    for i, kind in enumerate(kinds):
        needed = [*_ENDS[: PARENTS.get(kind, 0)], *_NEED.get(kind, ())]
        missing = [name for name in needed if not table.has(name)[i]]
        aside = kind == "offset" and table.has("second_distance")[i]
        missing += ["side"] if aside and not side[i] else []
        if missing:
            findings.append(_lacking(table, i, kind, missing))
        elif kind == "two ties" and not side[i]:
            findings.append(_no_side(table, i))


def _lacking(table: Table, i: int, kind: str, missing: list[str]) -> Finding:
    return table.finding(
        "missing-value",
        "fault",
        i,
        ("kind",),
        against=f"{kind} needs {', '.join(missing)}",
        mend="fill what is missing",
    )


def _no_side(table: Table, i: int) -> Finding:
    return table.finding(
        "side-not-stated",
        "query",
        i,
        ("kind", "side"),
        against="two ties meet in two places, one on each side",
        mend="write left or right, seen from the first point to the second",
    )


def _sds_not_stated(table: Table, made: Constructions) -> list[Finding]:
    slope = np.isfinite(made.slope) & np.isnan(made.sd_slope)
    slope &= np.array([kind == "slope" for kind in made.kind], dtype=bool)
    rows = np.flatnonzero(np.isnan(made.sd_taped).any(axis=1) | slope)
    return [
        table.finding(
            "tape-sd-not-stated",
            "query",
            i,
            ("kind",),
            against="an sd for everything that was taped, dipped or sloped",
            mend="fill sd_distance_mm, sd_dip_mm, sd_pipe_mm or sd_slope_ratio; till "
            "then the point's worth cannot be judged",
        )
        for i in rows.tolist()
    ]


def _circles(table: Table, made: Constructions, roots: int) -> list[Finding]:
    """Return a fault for every chain of constructions that comes back to itself."""
    from networkx import DiGraph, strongly_connected_components

    graph: DiGraph = DiGraph()
    for i, parents in enumerate(made.parents.tolist()):
        graph.add_edges_from((i, p - roots) for p in parents if p >= roots)
    found = []
    for some in strongly_connected_components(graph):
        first = min(some)
        if len(some) > 1 or graph.has_edge(first, first):
            names = ", ".join(made.name[i] for i in sorted(some))
            found.append(
                table.finding(
                    "construction-circle",
                    "fault",
                    first,
                    ("from_shot",),
                    against=f"points that come from shots in the end; {names} come "
                    "from each other",
                    mend="make one of them from shots",
                )
            )
    return found


def build_checks(
    table: Table | None, number: Mapping[str, int], findings: list[Finding]
) -> ShapeChecks:
    """Return what the detail must satisfy.

    Parameters
    ----------
    table : Table or None
    number : mapping of str to int
        Every point by its name.
    findings : list of Finding
        Every fault and query is added here.
    """
    if table is None:
        none = np.zeros(0)
        whole = np.zeros(0, dtype=np.int64)
        return ShapeChecks((), (), whole.reshape(0, 4), none, none, whole)
    ends = _ends(table, _CHECK_ENDS, number, findings)
    kinds = tuple(str(kind) for kind in table.word("kind"))
    taped = np.array([kind == "taped distance" for kind in kinds], dtype=bool)
    for i, kind in enumerate(kinds):
        needed = [*_CHECK_ENDS[: _CHECK_NEEDS.get(kind, 0)]]
        needed += ["distance"] if taped[i] else []
        lacking = [name for name in needed if not table.has(name)[i]]
        if lacking:
            findings.append(_lacking(table, i, kind, lacking))
    sd = np.where(taped, table.number("sd_distance"), table.number("sd_built"))
    findings.extend(_unstated(table, i) for i in np.flatnonzero(np.isnan(sd)).tolist())
    distance = np.where(taped, table.number("distance"), np.nan)
    return ShapeChecks(tuple(table.word("check")), kinds, ends, distance, sd, table.row)


def _unstated(table: Table, i: int) -> Finding:
    return table.finding(
        "tape-sd-not-stated",
        "query",
        i,
        ("kind",),
        against="sd_distance_mm of a taped distance; sd_built_mm of an angle: how true "
        "it was built, at the far end",
        mend="fill it; till then the check cannot be judged",
    )
