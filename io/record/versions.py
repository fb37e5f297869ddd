"""What a result was computed with: program, libraries, PROJ, its database, grids."""

import re
import sys
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from ..tables.job import Job
from .manifest import file_hash

_PARTED = ";" if sys.platform == "win32" else ":"
"""What parts the folders in which PROJ looks."""


def versions(program: str, job: Job, folder: Path) -> dict[str, Any]:
    """Return versions and the hashes of all grids, as a record keeps them.

    Parameters
    ----------
    program : str
        Version of this program.
    job : Job
    folder : Path
        The job's folder, in which its geoid grid lies.

    Returns
    -------
    dict
        ``brasscap``, ``python``, ``platform``, ``numpy``, ``scipy``, ``pyproj``,
        ``proj``, ``proj_database`` (SHA-256), ``epsg``, and ``grids``: file to SHA-256.
    """
    import pyproj

    return {
        "brasscap": program,
        "python": sys.version.split()[0],
        "platform": sys.platform,
        **{name: _installed(name) for name in ("numpy", "scipy", "pyproj")},
        "proj": str(pyproj.proj_version_str),
        **_database(),
        "grids": _grids(job, folder),
    }


def _installed(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not known"


def _database() -> dict[str, str]:
    """Return what is known of PROJ's database: its hash, its edition of EPSG."""
    import sqlite3

    from pyproj.datadir import get_data_dir

    for place in get_data_dir().split(_PARTED):
        path = Path(place) / "proj.db"
        if path.is_file():
            made = {"proj_database": file_hash(path)[1], "epsg": "not known"}
            ask = "SELECT value FROM metadata WHERE key = 'EPSG.VERSION'"
            link = sqlite3.connect(f"{path.resolve().as_uri()}?immutable=1", uri=True)
            try:
                made["epsg"] = str(link.execute(ask).fetchone()[0])
            except (sqlite3.Error, TypeError):
                pass
            finally:
                link.close()
            return made
    return {"proj_database": "not found", "epsg": "not known"}


def _grids(job: Job, folder: Path) -> dict[str, str]:
    """Return the grids that took part: the geoid's and those of transformations."""
    made: dict[str, str] = {}
    if job.frame.geoid not in ("none", "table"):
        made[job.frame.geoid] = _hash(folder / job.frame.geoid)
    for name in re.findall(r"\+grids=\"?([^\s\"]+)", repr(job.frame)):
        for grid in name.split(","):
            made[grid] = _hash(_proj_file(grid.lstrip("@")))
    return made


def _proj_file(name: str) -> Path:
    from pyproj.datadir import get_data_dir

    for place in get_data_dir().split(_PARTED):
        if (Path(place) / name).is_file():
            return Path(place) / name
    return Path(name)


def _hash(path: Path) -> str:
    try:
        return sha256(path.read_bytes()).hexdigest()
    except OSError:
        return "not found"
