"""SINEX 2.01 and 2.02: station coordinates with their full covariance.

No factor is put on the covariance: a file's variance factor is information, its
matrix and standard deviations are taken as they stand. The frame is not carried
reliably by the format and must be stated by the user.
"""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ...networks import Finding, InputError
from ...networks.covariances import Floats
from .sinex_covariance import read_covariance
from .sinex_lines import (
    Block,
    FileFindings,
    Heading,
    cut,
    decimal_year,
    named,
    read_heading,
    read_number,
    split_blocks,
)
from .sinex_parameters import (
    Parameter,
    Site,
    add_notes,
    check_count,
    group_sites,
    no_coordinates,
    read_parameters,
)


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
    covariance_from: str
    """The block it was read from; ``standard deviations only`` without one."""
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

    Returns
    -------
    SinexSolution

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

    Returns
    -------
    SinexSolution

    Raises
    ------
    InputError
    """
    found = FileFindings(file)
    heading = read_heading(text.split("\n", 1)[0], found)
    if found.any_fault:
        raise InputError(found.findings)
    blocks = split_blocks(text, found)
    parameters = read_parameters(blocks, found)
    check_count(heading.estimates_count, parameters, found)
    sites = group_sites(parameters, found)
    chosen = [axes[axis] for axes in sites.values() for axis in sorted(axes)]
    if not sites and not found.any_fault:
        no_coordinates(parameters, found)
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
    add_notes(heading.constraint_code, parameters, sites, found)
    return _solution(file, heading, blocks, sites, chosen, covariance, found)


def _solution(
    file: str,
    heading: Heading,
    blocks: Sequence[Block],
    sites: Mapping[Site, Mapping[int, Parameter]],
    chosen: Sequence[Parameter],
    covariance: Floats,
    found: FileFindings,
) -> SinexSolution:
    """Return what was read as columns."""
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
        covariance_from=_covariance_from(blocks),
        epoch=np.array(epochs),
        span=_spans(blocks, keys, found),
        description=_descriptions(blocks, keys),
        eccentricity=_eccentricities(blocks, keys, found),
        frame=_frame_word(blocks),
        variance_factor=_variance_factor(blocks),
        notes=tuple(found.findings),
    )


def _names(keys: Sequence[Site]) -> tuple[str, ...]:
    codes = Counter(key[0] for key in keys)
    return tuple(
        key[0] if codes[key[0]] == 1 else f"{key[0]} {key[1]} {key[2]}" for key in keys
    )


def _spans(
    blocks: Sequence[Block], keys: Sequence[Site], found: FileFindings
) -> Floats:
    spans = np.full((len(keys), 2), np.nan)
    for number, line in named(blocks, "SOLUTION/EPOCHS"):
        key = (cut(line, 2, 5), cut(line, 7, 8), cut(line, 10, 13))
        if key in keys:
            spans[keys.index(key)] = (
                decimal_year(cut(line, 17, 28), number, found),
                decimal_year(cut(line, 30, 41), number, found),
            )
    return spans


def _descriptions(blocks: Sequence[Block], keys: Sequence[Site]) -> tuple[str, ...]:
    texts = {
        (cut(line, 2, 5), cut(line, 7, 8)): cut(line, 22, 43)
        for _, line in named(blocks, "SITE/ID")
    }
    return tuple(texts.get(key[:2], "") for key in keys)


def _eccentricities(
    blocks: Sequence[Block], keys: Sequence[Site], found: FileFindings
) -> Floats:
    """Return east, north, up from mark to antenna; XYZ lines are left out."""
    values = np.full((len(keys), 3), np.nan)
    for number, line in named(blocks, "SITE/ECCENTRICITY"):
        key = (cut(line, 2, 5), cut(line, 7, 8), cut(line, 10, 13))
        if key not in keys or cut(line, 43, 45) != "UNE":
            continue
        up, north, east = (
            read_number(cut(line, first, first + 7), "eccentricity", number, found)
            for first in (47, 56, 65)
        )
        values[keys.index(key)] = (east, north, up)
    return values


def _covariance_from(blocks: Sequence[Block]) -> str:
    for block in blocks:
        if block.title == "SOLUTION/MATRIX_ESTIMATE":
            return " ".join((block.title, *block.arguments))
    return "standard deviations only"


def _frame_word(blocks: Sequence[Block]) -> str:
    texts = [
        line
        for title in ("FILE/REFERENCE", "FILE/COMMENT", "INPUT/FILES")
        for _, line in named(blocks, title)
    ]
    pattern = r"\b(ITRF ?\d{2,4}|IG[Sb]\w{2,3}|ETRF ?\d{2,4}|ETRS89|GDA ?\d{2,4})\b"
    match = re.search(pattern, "\n".join(texts))
    return match.group(1) if match else ""


def _variance_factor(blocks: Sequence[Block]) -> float:
    for _, line in named(blocks, "SOLUTION/STATISTICS"):
        if cut(line, 2, 31) == "VARIANCE FACTOR":
            try:
                return float(cut(line, 33, 54).upper().replace("D", "E"))
            except ValueError:
                return float(np.nan)
    return float(np.nan)
