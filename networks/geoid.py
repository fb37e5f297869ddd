"""Geoid grids: undulations from a file that is named and must be there.

PROJ finds the way to orthometric heights by itself only where it has the grid, and
otherwise returns the ellipsoidal height without a word, tens of metres off. So the
grid is named in the job, opened by name, and its absence is an error.
"""

from pathlib import Path
from shutil import copyfile
from tempfile import TemporaryDirectory

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
    if not grid.is_file():
        raise MissingPart(f"geoid grid {grid.name} is not at {grid}")
    path = str(grid.resolve())
    if not set(path) & set(',"'):
        return _looked_up(grid.name, path, latitude, longitude)
    # PROJ takes a comma in a path for the end of a file's name.
    with TemporaryDirectory() as folder:
        copy = str(copyfile(grid, Path(folder) / f"geoid{grid.suffix}"))
        return _looked_up(grid.name, copy, latitude, longitude)


def _looked_up(name: str, path: str, latitude: Floats, longitude: Floats) -> Floats:
    from pyproj import Transformer
    from pyproj.exceptions import ProjError

    # A whole path: PROJ looks up a bare name in its own data folder only.
    text = f'+proj=vgridshift +grids="{path}" +multiplier=1'
    try:
        shift = Transformer.from_pipeline(text)
    except ProjError as error:
        raise MissingPart(f"geoid grid {name} cannot be read: {error}") from error
    _, _, found = shift.transform(longitude, latitude, np.zeros(len(latitude)))
    return np.where(np.isfinite(found), found, np.nan)
