"""Datums: whether two codes mean one frame, and the way over where one is stated."""

import re
from functools import cache
from typing import Any

import numpy as np

from .covariances import Floats
from .frames import crs


@cache
def same_datum(code_a: int, code_b: int) -> bool:
    """Return whether two EPSG codes are of one datum.

    Two- and three-dimensional, geocentric and grid codes of one datum are one frame.

    Parameters
    ----------
    code_a, code_b : int
        EPSG codes of coordinate reference systems.

    Returns
    -------
    bool

    Examples
    --------
    NAD83(2011) in three dimensions, geocentric, and on UTM zone 13; then ITRF2014:

    >>> same_datum(6319, 6317), same_datum(6319, 6342), same_datum(6319, 7912)
    (True, True, False)
    """
    if code_a == code_b:
        return True
    name_a, name_b = _datum_name(code_a), _datum_name(code_b)
    return bool(name_a) and name_a == name_b


@cache
def _datum_name(code: int) -> str:
    geodetic = crs(code).geodetic_crs
    return "" if geodetic is None else str(geodetic.datum.name)


def realisation(name: str) -> str:
    """Return a frame's name in one spelling; empty where it names no known one.

    IGS frames are aligned with the ITRF of the same year.

    Parameters
    ----------
    name : str
        As files write it: ``IGb20``, ``ITRF 2014``, ``ETRF2000``.

    Returns
    -------
    str

    Examples
    --------
    >>> realisation("IGb14"), realisation("ITRF 2014"), realisation("ITRF97")
    ('ITRF2014', 'ITRF2014', 'ITRF1997')
    >>> realisation("GDA2020"), realisation("NAD83(2011)"), realisation("site")
    ('GDA2020', '', '')
    """
    found = re.fullmatch(
        r"(ITRF|IGS|IGB|ETRF|ETRS|GDA) ?(\d{4}|\d{2})(?: \(.*\))?", name.strip().upper()
    )
    if found is None:
        return ""
    family, year = found.groups()
    if len(year) == 2:
        year = ("19" if int(year) >= 80 else "20") + year
    return ("ITRF" if family in ("IGS", "IGB") else family) + year


@cache
def is_projected(code: int) -> bool:
    """Return whether an EPSG code is a map grid."""
    return bool(crs(code).is_projected)


@cache
def geodetic_code(code: int) -> bool:
    """Return whether an EPSG code has a geodetic datum at all (a height code has none).

    Examples
    --------
    NAVD88 heights have none:

    >>> geodetic_code(6319), geodetic_code(5703)
    (True, False)
    """
    return crs(code).geodetic_crs is not None


def carried_over(operation: str, xyz: Floats, epoch: float) -> Floats:
    """Return positions taken to the job's frame by a stated operation.

    Parameters
    ----------
    operation : str
        On geocentric X, Y, Z in metres and time in decimal years: a name or code of
        the EPSG data set (``EPSG:8970``), or a PROJ string (``+proj=helmert …``).
    xyz : ndarray, shape (n, 3)
        Geocentric, m.
    epoch : float
        Decimal year at which the operation is evaluated.

    Returns
    -------
    ndarray, shape (n, 3)
        Geocentric in the job's frame, m.

    Raises
    ------
    ValueError
        PROJ cannot read the operation, or it moves a position by more than a
        kilometre (one that takes latitudes, not X, Y, Z).

    Examples
    --------
    >>> carried_over("+proj=helmert +x=1 +y=0 +z=0", np.zeros((1, 3)), 2010.0).tolist()
    [[1.0, 0.0, 0.0]]
    """
    from pyproj.exceptions import ProjError

    x, y, z = np.moveaxis(np.asarray(xyz, dtype=float), -1, 0)
    try:
        parts = _operation(operation).transform(x, y, z, np.full_like(x, epoch))
    except ProjError as error:
        raise ValueError(str(error)) from error
    over = np.stack(parts[:3], axis=-1)
    finite = np.isfinite(over).all() and np.isfinite(xyz).all()
    if not finite or not np.all(np.linalg.norm(over - xyz, axis=-1) < 1000.0):
        raise ValueError("it moves positions by more than a kilometre")
    return over


def turned_over(operation: str, xyz: Floats, delta: Floats, epoch: float) -> Floats:
    """Return vectors taken to the job's frame by a stated operation.

    A vector is the difference of two positions, so that shifts fall out and
    rotations and scale remain.

    Parameters
    ----------
    operation : str
        As in ``carried_over``.
    xyz : ndarray, shape (n, 3)
        Where the vectors start, to some kilometres, m.
    delta : ndarray, shape (n, 3)
        m.
    epoch : float
        Decimal year.

    Returns
    -------
    ndarray, shape (n, 3)
        m.
    """
    ends = carried_over(operation, xyz + delta, epoch)
    return ends - carried_over(operation, xyz, epoch)


@cache
def _operation(text: str) -> Any:
    from pyproj import Transformer

    return Transformer.from_pipeline(text)
