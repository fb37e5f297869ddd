"""Tables of a large job that are let go once the network is made, and read again.

Bytes and cells are as large as the network itself. Few steps ask for a table later;
then the folder is read again, and refused if a byte of it has changed meanwhile.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from ...networks.errors import InputError
from ...networks.findings import Finding
from .deciding import decide
from .load import Loaded
from .reading import read_folder
from .table import Table

LARGE = 20_000
"""Rows from which a table is let go."""


class LetGo(Mapping[str, Table]):
    """Tables by name, of which the large ones are read when they are asked for.

    Whether there is a table is known without reading it.
    """

    def __init__(
        self, kept: Mapping[str, Table | None], read: Callable[[], Mapping[str, Table]]
    ) -> None:
        self._tables = dict(kept)
        self._read = read

    def __getitem__(self, name: str) -> Table:
        table = self._tables[name]
        if table is None:
            again = self._read()
            self._tables = {one: again[one] for one in self._tables}
            table = again[name]
        return table

    def __contains__(self, name: object) -> bool:
        return name in self._tables

    def __iter__(self) -> Iterator[str]:
        return iter(self._tables)

    def __len__(self) -> int:
        return len(self._tables)


def with_tables_let_go(loaded: Loaded) -> Loaded:
    """Return a job without its large tables, which are read again if asked for.

    Parameters
    ----------
    loaded : Loaded

    Returns
    -------
    Loaded
        The same job where no table is large. Who asks for a table of a folder that
        has changed meanwhile gets an ``InputError``.
    """
    large = {name for name, table in loaded.tables.items() if len(table) >= LARGE}
    if not large:
        return loaded
    kept = {
        name: None if name in large else table for name, table in loaded.tables.items()
    }
    without = replace(loaded, tables={})
    return replace(loaded, tables=LetGo(kept, lambda: _read_again(without)))


def _read_again(loaded: Loaded) -> Mapping[str, Table]:
    """Return the tables with decisions applied, of the bytes that were read before."""
    reading = read_folder(loaded.folder)
    if reading.input_hash != loaded.input_hash or reading.job is None:
        raise InputError([_changed(loaded)])
    return decide(reading.job, reading.tables, loaded.tried, []).tables


def _changed(loaded: Loaded) -> Finding:
    return Finding(
        "changed-meanwhile",
        "fault",
        f"folder {loaded.folder}",
        file=str(loaded.folder),
        booked="a table that is not what it was when this command began",
        against=f"the input with SHA-256 {loaded.input_hash[:16]}",
        likely="somebody saved a table, or another program writes to the folder",
        mend="let nobody write to the folder, and run the command again",
    )
