"""A plan of work in the shape of proposed.csv, read by itself."""

from pathlib import Path

from ..networks import InputError
from .additions import cannot_read
from .tables.rows import read_table
from .tables.schema import schemas
from .tables.sheet import read_sheet
from .tables.table import Table


def read_plan(path: Path) -> Table:
    """Return a plan, a row a piece of work.

    Parameters
    ----------
    path : Path

    Raises
    ------
    InputError
        With every fault of the file.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError([cannot_read(path, error)]) from error
    sheet, findings = read_sheet(path.name, content)
    table = None
    if sheet is not None:
        table, found = read_table([sheet], schemas()["proposed"])
        findings = findings + found
    if table is None or any(f.verdict == "fault" for f in findings):
        raise InputError(findings)
    return table
