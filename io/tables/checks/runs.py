"""Levelled runs against each other and against known heights: signs, feet, spread."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ....networks.covariances import Floats, Ints
from ....networks.findings import Finding
from ..assemble import Survey
from ..assemble.levels import level_name, level_sd
from ..table import Table

FOOT = 0.3048
LEAST_M = 0.05
"""Of a height difference whose sign or unit can be told."""
CLOSE = 0.01
"""Share of the difference within which two of them are like each other."""


@dataclass(frozen=True, slots=True)
class _Runs:
    table: Table
    start: Ints
    end: Ints
    rise: Floats
    sd: Floats
    usable: np.ndarray


def check_runs(survey: Survey) -> list[Finding]:
    """Return what levelled runs say against each other and the known heights."""
    if not len(survey.tables.get("levels", ())):
        return []
    table = survey.tables["levels"]
    start, end = (_marks(survey, table, f"{side}_station") for side in ("from", "to"))
    out = survey.left_out.get("levels", np.zeros(len(table), dtype=bool))
    rise = table.number("rise")
    usable = (start >= 0) & (end >= 0) & np.isfinite(rise) & ~out
    sd = np.nan_to_num(level_sd(table, survey.job))
    runs = _Runs(table, start, end, rise, sd, usable)
    told: dict[int, Finding] = {}
    for i, expected, what in _known(survey, runs):
        finding = _compare(runs, i, expected, what, None)
        if finding:
            told.setdefault(i, finding)
    for i, other, expected, what in _twice(runs, told):
        finding = _compare(runs, i, expected, what, float(runs.sd[other]))
        if finding:
            told.setdefault(i, finding)
    return [told[i] for i in sorted(told)]


def _marks(survey: Survey, table: Table, column: str) -> Ints:
    names = table.word(column)
    return np.array([survey.names.find(str(name)) for name in names], dtype=np.int64)


def _known(survey: Survey, runs: _Runs) -> Iterator[tuple[int, float, str]]:
    """Yield runs between marks of known height, with the difference."""
    if "control" not in survey.tables:
        return
    control = survey.tables["control"]
    height: dict[int, float] = {}
    for mark, value in zip(
        _marks(survey, control, "station").tolist(),
        control.number("height").tolist(),
        strict=True,
    ):
        if mark >= 0 and np.isfinite(value):
            height.setdefault(mark, value)
    for i in np.flatnonzero(runs.usable).tolist():
        a, b = int(runs.start[i]), int(runs.end[i])
        if a in height and b in height:
            yield i, height[b] - height[a], "the known heights differ by"


def _twice(
    runs: _Runs, told: dict[int, Finding]
) -> Iterator[tuple[int, int, float, str]]:
    """Yield a run, another between the same marks, and what that says, as a rise."""
    between: dict[tuple[int, int], list[int]] = {}
    for i in np.flatnonzero(runs.usable).tolist():
        a, b = sorted((int(runs.start[i]), int(runs.end[i])))
        between.setdefault((a, b), []).append(i)
    for same in between.values():
        for k, i in combinations(same, 2):
            if k in told:
                continue
            sign = 1.0 if runs.start[i] == runs.start[k] else -1.0
            what = f"by run {level_name(runs.table, k)} it is"
            expected = sign * float(runs.rise[k])
            if abs(runs.rise[k]) > 2 * abs(runs.rise[i]):
                # The larger of the two is the one that may be in feet.
                what = f"by run {level_name(runs.table, i)} it is"
                yield k, i, sign * float(runs.rise[i]), what
            else:
                yield i, k, expected, what


def _compare(
    runs: _Runs, i: int, expected: float, what: str, sd: float | None
) -> Finding | None:
    """Return the query of a run that is not as expected, with what is likely.

    ``sd`` is that of the other run, None for known heights: how far a run is from
    those is for the adjustment to judge.
    """
    rise = float(runs.rise[i])
    limit = max(CLOSE * abs(expected), 6 * float(runs.sd[i]), 1e-3)
    against = f"{what} {expected:+.4f} m"
    if abs(expected) > LEAST_M and limit < abs(expected):
        if abs(rise + expected) < limit:
            return _reversed(runs, i, against)
        if abs(rise * FOOT - expected) < limit:
            return _feet(runs, i, against, rise * FOOT)
    if sd is None:
        return None
    spread = 3 * float(np.hypot(runs.sd[i], sd))
    if abs(rise - expected) > spread:
        text = f"{against}: {(rise - expected) * 1000:+.1f} mm apart, limit "
        return _disagree(
            runs, i, f"{text}{spread * 1000:.1f} mm (3 × the sd of the difference)"
        )
    return None


_COLUMNS = ("rise", "run", "from_station", "to_station")


def _reversed(runs: _Runs, i: int, against: str) -> Finding:
    name = level_name(runs.table, i)
    return runs.table.finding(
        "run-reversed",
        "query",
        i,
        _COLUMNS,
        against=against,
        likely="the run went the other way: the size agrees, the sign does not",
        mend=f"brasscap decide reverse 'levelled run' '{name}', or accept",
    )


def _feet(runs: _Runs, i: int, against: str, mended: float) -> Finding:
    name = level_name(runs.table, i)
    return runs.table.finding(
        "rise-looks-like-feet",
        "query",
        i,
        _COLUMNS,
        against=against,
        likely=f"a staff in feet: {runs.table.booked['rise'][i]} ift are "
        f"{mended:+.4f} m",
        mend=f"brasscap decide unit 'levelled run' '{name}' 'rise=ift', or accept",
    )


def _disagree(runs: _Runs, i: int, against: str) -> Finding:
    name = level_name(runs.table, i)
    return runs.table.finding(
        "runs-disagree",
        "query",
        i,
        _COLUMNS,
        against=against,
        mend=f"run the line again; brasscap decide leave-out 'levelled run' '{name}', "
        "or accept",
    )
