"""The parameters of a SINEX file, and the stations that they make up."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .sinex_lines import (
    Block,
    FileFindings,
    cut,
    decimal_year,
    named,
    read_index,
    read_number,
)

Site = tuple[str, str, str]
"""Code, point, solution."""

_AXES = {"STAX": 0, "STAY": 1, "STAZ": 2}
_CONSTRAINTS = {"0": "tight", "1": "significant", "2": "no"}


@dataclass(frozen=True, slots=True)
class Parameter:
    """One line of SOLUTION/ESTIMATE."""

    index: int
    kind: str
    site: Site
    epoch: float
    unit: str
    value: float
    sd: float
    line: int


def read_parameters(blocks: Sequence[Block], found: FileFindings) -> list[Parameter]:
    """Return every line of SOLUTION/ESTIMATE; values of coordinates only."""
    parameters = []
    for number, line in named(blocks, "SOLUTION/ESTIMATE"):
        kind = cut(line, 8, 13)
        site = (cut(line, 15, 18), cut(line, 20, 21), cut(line, 23, 26))
        what = f"{kind} of {site[0]}"
        coordinate = kind in _AXES
        parameters.append(
            Parameter(
                read_index(cut(line, 2, 6), what, number, found),
                kind,
                site,
                decimal_year(cut(line, 28, 39), number, found)
                if coordinate
                else np.nan,
                cut(line, 41, 44),
                read_number(cut(line, 48, 68), what, number, found)
                if coordinate
                else np.nan,
                read_number(cut(line, 70, 80), f"sd of {what}", number, found)
                if coordinate
                else np.nan,
                number,
            )
        )
    return parameters


def check_count(
    announced: int, parameters: Sequence[Parameter], found: FileFindings
) -> None:
    """Fault a file whose parameters are not as many as announced, or come twice."""
    if announced and announced != len(parameters):
        found.add(
            "count-differs",
            "number of parameters",
            line=1,
            booked=f"{announced} in the heading",
            against=f"{len(parameters)} lines in SOLUTION/ESTIMATE",
            mend="fetch the file again: a part of it seems to be missing",
        )
    lines: dict[int, int] = {}
    for parameter in parameters:
        first = lines.setdefault(parameter.index, parameter.line)
        if first != parameter.line and parameter.index:
            found.add(
                "parameter-twice",
                f"parameter {parameter.index}",
                line=parameter.line,
                booked=f"{parameter.kind} of {parameter.site[0]}",
                against=f"the same number on line {first}",
                mend="ask the sender for a sound file",
            )


def group_sites(
    parameters: Sequence[Parameter], found: FileFindings
) -> dict[Site, dict[int, Parameter]]:
    """Return the three coordinates of each site and solution, in file order."""
    sites: dict[Site, dict[int, Parameter]] = {}
    for parameter in parameters:
        if parameter.kind not in _AXES:
            continue
        axes = sites.setdefault(parameter.site, {})
        if axes.setdefault(_AXES[parameter.kind], parameter) is not parameter:
            _site_fault("coordinate-twice", parameter, "one value each", found)
        if parameter.unit != "m":
            _site_fault("unit-not-metre", parameter, "unit m", found)
    for axes in sites.values():
        first = next(iter(axes.values()))
        if len(axes) != 3:
            _site_fault("coordinate-missing", first, "STAX, STAY and STAZ", found)
        epochs = {p.epoch for p in axes.values() if np.isfinite(p.epoch)}
        if len(epochs) > 1:
            _site_fault("epoch-differs", first, "one reference epoch", found)
    return sites


def _site_fault(
    slug: str, parameter: Parameter, against: str, found: FileFindings
) -> None:
    code, point, solution = parameter.site
    found.add(
        slug,
        f"station {code}, point {point}, solution {solution}",
        line=parameter.line,
        booked=f"{parameter.kind} in {parameter.unit or 'no unit'}",
        against=against,
        mend="ask the sender for a sound file",
    )


def no_coordinates(parameters: Sequence[Parameter], found: FileFindings) -> None:
    """Fault a file without a coordinate, with the kinds of parameter that it has."""
    kinds = Counter(p.kind for p in parameters)
    listed = ", ".join(f"{kind} {count}" for kind, count in sorted(kinds.items()))
    found.add(
        "no-coordinates",
        "whole file",
        booked=f"{len(parameters)} parameters" + (f": {listed}" if listed else ""),
        against="coordinates STAX, STAY, STAZ in SOLUTION/ESTIMATE",
        mend="nothing to import here; ask for the file with the station coordinates",
    )


def add_notes(
    constraint_code: str,
    parameters: Sequence[Parameter],
    sites: dict[Site, dict[int, Parameter]],
    found: FileFindings,
) -> None:
    """Say what a reader of the coordinates must know: ties, spans, epochs."""
    if constraint_code in ("0", "1"):
        found.add(
            "solution-constrained",
            f"constraint code {constraint_code}",
            verdict="note",
            line=1,
            booked=f"{_CONSTRAINTS[constraint_code]} constraints",
            against="the covariance holds what the solution was tied to; it is "
            "taken as it stands",
        )
    other = Counter(p.kind for p in parameters if p.kind not in _AXES)
    if other:
        found.add(
            "parameters-not-imported",
            ", ".join(f"{kind} {count}" for kind, count in sorted(other.items())),
            verdict="note",
            against="coordinates alone are imported, at their reference epoch",
        )
    codes = Counter(key[0] for key in sites)
    for code, count in codes.items():
        if count > 1:
            found.add(
                "several-solutions",
                f"station {code}",
                verdict="query",
                booked=f"{count} points or solutions",
                against="one position a mark; they are named apart here",
                mend="keep the one whose time span holds the field work",
            )
    missing = [key[0] for key, axes in sites.items() if np.isnan(axes[0].epoch)]
    if missing:
        found.add(
            "epoch-not-given",
            f"station {missing[0]}" + (" and others" if len(missing) > 1 else ""),
            verdict="query",
            against="a reference epoch YY:DDD:SSSSS in SOLUTION/ESTIMATE",
            mend="write epoch_year into the imported table",
        )
