"""Geoid grids: undulations from a file that is named and must be there.

PROJ finds the way to orthometric heights by itself only where it has the grid, and
otherwise returns the ellipsoidal height without a word, tens of metres off. So the
grid is named in the job, opened by name, and its absence is an error.
"""

from pathlib import Path

import numpy as np

from .covariances import Floats
from .errors import MissingPart


def undulations(grid: Path, latitude: Floats, longitude: Floats) -> Floats:
    """Return the geoid's height above the ellipsoid from a grid file.

    Parameters
    ----------
    grid : Path
        A vertical shift grid that PROJ reads (GTX, GeoTIFF).
    latitude, longitude : ndarray, shape (n,)
        Degrees, in the frame that the geoid is made for.

    Returns
    -------
    ndarray, shape (n,)
        m; NaN outside the grid or where it has no data.

    Raises
    ------
    MissingPart
        The file is not there, or PROJ cannot read it.
    """
    from pyproj import Transformer
    from pyproj.exceptions import ProjError

    if not grid.is_file():
        raise MissingPart(f"geoid grid {grid.name} is not at {grid}")
    # An absolute path: PROJ looks up a bare name in its own data folder only.
    text = f"+proj=vgridshift +grids={grid.resolve()} +multiplier=1"
    try:
        shift = Transformer.from_pipeline(text)
    except ProjError as error:
        raise MissingPart(f"geoid grid {grid.name} cannot be read: {error}") from error
    zero = np.zeros(len(latitude))
    _, _, found = shift.transform(np.radians(longitude), np.radians(latitude), zero)
    return np.where(np.isfinite(found), found, np.nan)
