"""SINEX 2.01 and 2.02: station coordinates with their full covariance.

No factor is put on the covariance: a file's variance factor is information, its
matrix and standard deviations are taken as they stand. The frame is not carried
reliably by the format and must be stated by the user.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ...networks import Finding, InputError
from ...networks.covariances import Floats
from .sinex_covariance import read_covariance
from .sinex_lines import (
    Block,
    FileFindings,
    cut,
    decimal_year,
    read_heading,
    read_index,
    read_number,
    split_blocks,
)

_AXES = {"STAX": 0, "STAY": 1, "STAZ": 2}
_CONSTRAINTS = {"0": "tight", "1": "significant", "2": "no"}


@dataclass(frozen=True, slots=True)
class Parameter:
    """One line of SOLUTION/ESTIMATE."""

    index: int
    kind: str
    site: tuple[str, str, str]
    """Code, point, solution."""
    epoch: float
    unit: str
    value: float
    sd: float
    line: int


@dataclass(frozen=True, slots=True)
class SinexSolution:
    """Stations of a SINEX file, one row each, n rows."""

    file: str
    version: str
    agency: str
    constraint_code: str
    """``0`` tight, ``1`` significant, ``2`` no constraints; empty: not given."""
    station: tuple[str, ...]
    """Site code; with point and solution behind it where a site has several."""
    code: tuple[str, ...]
    point: tuple[str, ...]
    solution: tuple[str, ...]
    xyz: Floats
    """(n, 3) m."""
    covariance: Floats
    """(3n, 3n) m², station by station, x y z."""
    epoch: Floats
    """(n,) reference epoch, decimal year; NaN where the file leaves it open."""
    span: Floats
    """(n, 2) first and last epoch of the data, decimal year; NaN where not given."""
    description: tuple[str, ...]
    eccentricity: Floats
    """(n, 3) mark to antenna reference point, m, east, north, up; NaN where not
    given. Information only: the coordinates are those of the mark."""
    frame: str
    """The first word in the file's texts that names a frame; empty: none."""
    variance_factor: float
    """As stated by the file, information only; NaN where not given."""
    notes: tuple[Finding, ...]
    """Queries and notes of the reading."""


def read_sinex(path: Path) -> SinexSolution:
    """Return the stations of a SINEX file.

    Parameters
    ----------
    path : Path

    Raises
    ------
    InputError
        With every fault of the file, each with its line; nothing is returned of a
        file with a fault, or of one that holds no coordinates.
    """
    return parse_sinex(path.read_text("utf-8", errors="replace"), path.name)


def parse_sinex(text: str, file: str) -> SinexSolution:
    """Return the stations of a SINEX text: see ``read_sinex``.

    Parameters
    ----------
    text : str
    file : str
        Name by which the findings call it.
    """
    found = FileFindings(file)
    heading = read_heading(text.split("\n", 1)[0], found)
    if found.any_fault:
        raise InputError(found.findings)
    blocks = split_blocks(text, found)
    parameters = _estimates(blocks, found)
    _check_count(heading.estimates_count, parameters, found)
    sites = _sites(parameters, found)
    chosen = [axes[axis] for axes in sites.values() for axis in sorted(axes)]
    if not sites and not found.any_fault:
        _no_coordinates(parameters, found)
    covariance = np.zeros((0, 0))
    if not found.any_fault:
        covariance = read_covariance(
            blocks,
            [p.index for p in parameters],
            [p.index for p in chosen],
            np.array([p.sd for p in chosen]),
            found,
        )
    if found.any_fault:
        raise InputError(found.findings)
    _notes(heading.constraint_code, parameters, sites, blocks, found)
    keys = tuple(sites)
    epochs = [axes[0].epoch for axes in sites.values()]
    return SinexSolution(
        file=file,
        version=heading.version,
        agency=heading.agency,
        constraint_code=heading.constraint_code,
        station=_names(keys),
        code=tuple(key[0] for key in keys),
        point=tuple(key[1] for key in keys),
        solution=tuple(key[2] for key in keys),
        xyz=np.array([p.value for p in chosen]).reshape(-1, 3),
        covariance=covariance,
        epoch=np.array(epochs),
        span=_spans(blocks, keys, found),
        description=_descriptions(blocks, keys),
        eccentricity=_eccentricities(blocks, keys, found),
        frame=_frame_word(blocks),
        variance_factor=_variance_factor(blocks),
        notes=tuple(found.findings),
    )


def _named(blocks: Sequence[Block], title: str) -> list[tuple[int, str]]:
    return [line for block in blocks if block.title == title for line in block.lines]


def _estimates(blocks: Sequence[Block], found: FileFindings) -> list[Parameter]:
    parameters = []
    for number, line in _named(blocks, "SOLUTION/ESTIMATE"):
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


def _check_count(
    announced: int, parameters: Sequence[Parameter], found: FileFindings
) -> None:
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


def _sites(
    parameters: Sequence[Parameter], found: FileFindings
) -> dict[tuple[str, str, str], dict[int, Parameter]]:
    """Return the three coordinates of each site and solution, in file order."""
    sites: dict[tuple[str, str, str], dict[int, Parameter]] = {}
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


def _no_coordinates(parameters: Sequence[Parameter], found: FileFindings) -> None:
    kinds = Counter(p.kind for p in parameters)
    listed = ", ".join(f"{kind} {count}" for kind, count in sorted(kinds.items()))
    found.add(
        "no-coordinates",
        "whole file",
        booked=f"{len(parameters)} parameters" + (f": {listed}" if listed else ""),
        against="coordinates STAX, STAY, STAZ in SOLUTION/ESTIMATE",
        mend="nothing to import here; ask for the file with the station coordinates",
    )


def _notes(
    constraint_code: str,
    parameters: Sequence[Parameter],
    sites: dict[tuple[str, str, str], dict[int, Parameter]],
    blocks: Sequence[Block],
    found: FileFindings,
) -> None:
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


def _names(keys: Sequence[tuple[str, str, str]]) -> tuple[str, ...]:
    codes = Counter(key[0] for key in keys)
    return tuple(
        key[0] if codes[key[0]] == 1 else f"{key[0]} {key[1]} {key[2]}" for key in keys
    )


def _spans(
    blocks: Sequence[Block], keys: Sequence[tuple[str, str, str]], found: FileFindings
) -> Floats:
    spans = np.full((len(keys), 2), np.nan)
    for number, line in _named(blocks, "SOLUTION/EPOCHS"):
        key = (cut(line, 2, 5), cut(line, 7, 8), cut(line, 10, 13))
        if key in keys:
            spans[keys.index(key)] = (
                decimal_year(cut(line, 17, 28), number, found),
                decimal_year(cut(line, 30, 41), number, found),
            )
    return spans


def _descriptions(
    blocks: Sequence[Block], keys: Sequence[tuple[str, str, str]]
) -> tuple[str, ...]:
    texts = {
        (cut(line, 2, 5), cut(line, 7, 8)): cut(line, 22, 43)
        for _, line in _named(blocks, "SITE/ID")
    }
    return tuple(texts.get(key[:2], "") for key in keys)


def _eccentricities(
    blocks: Sequence[Block], keys: Sequence[tuple[str, str, str]], found: FileFindings
) -> Floats:
    """Return east, north, up from mark to antenna; XYZ lines are left out."""
    values = np.full((len(keys), 3), np.nan)
    for number, line in _named(blocks, "SITE/ECCENTRICITY"):
        key = (cut(line, 2, 5), cut(line, 7, 8), cut(line, 10, 13))
        if key not in keys or cut(line, 43, 45) != "UNE":
            continue
        up, north, east = (
            read_number(cut(line, first, first + 7), "eccentricity", number, found)
            for first in (47, 56, 65)
        )
        values[keys.index(key)] = (east, north, up)
    return values


def _frame_word(blocks: Sequence[Block]) -> str:
    texts = [
        line
        for title in ("FILE/REFERENCE", "FILE/COMMENT", "INPUT/FILES")
        for _, line in _named(blocks, title)
    ]
    pattern = r"\b(ITRF ?\d{2,4}|IG[Sb]\w{2,3}|ETRF ?\d{2,4}|ETRS89|GDA ?\d{2,4})\b"
    match = re.search(pattern, "\n".join(texts))
    return match.group(1) if match else ""


def _variance_factor(blocks: Sequence[Block]) -> float:
    for _, line in _named(blocks, "SOLUTION/STATISTICS"):
        if cut(line, 2, 31) == "VARIANCE FACTOR":
            try:
                return float(cut(line, 33, 54).upper().replace("D", "E"))
            except ValueError:
                return float(np.nan)
    return float(np.nan)
