"""What changed in the input from one record to another: files, rows, cells, keys."""

import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..tables.reading import read_folder
from ..tables.table import Table
from .copies import INPUT
from .manifest import recorded_files

_KEYS = {
    "levels": ("section", "run"),
    "covariances": ("table", "row", "row_axis", "column", "column_axis"),
}
"""Columns that name a row, where it is not one."""


@dataclass(frozen=True, slots=True)
class Change:
    """One difference of the input of two records."""

    table: str
    """Name of the table; ``job.toml``; or the file, where it is no table."""
    what: str
    """``added``, ``removed`` or ``changed``."""
    about: str
    """The row as a person names it, or the key of job.toml."""
    column: str = ""
    """Header of the cell that changed."""
    before: str = ""
    after: str = ""


def input_changes(first: Path, second: Path) -> list[Change]:
    """Return everything in which the input of two records differs.

    Rows are matched by what names them, so another order of rows is no change; cells
    are compared as booked.

    Parameters
    ----------
    first, second : Path
        Folders of records.
    """
    one, other = (read_folder(folder / INPUT) for folder in (first, second))
    found = list(_job_changes(first / INPUT, second / INPUT))
    for name in sorted(one.tables.keys() | other.tables.keys()):
        found += _table_changes(name, one.tables.get(name), other.tables.get(name))
    read = {"job.toml"}
    for reading in (one, other):
        for table in reading.tables.values():
            read |= {str(name) for name in table.file_headers} | set(table.file)
    return found + list(_file_changes(first, second, read))


def _job_changes(first: Path, second: Path) -> Iterator[Change]:
    one, other = (_flat(_toml(folder / "job.toml")) for folder in (first, second))
    for key in sorted(one.keys() | other.keys()):
        before, after = one.get(key, ""), other.get(key, "")
        if before != after:
            what = "added" if key not in one else "removed"
            what = "changed" if key in one and key in other else what
            yield Change("job.toml", what, key, "", before, after)


def _toml(path: Path) -> Mapping[str, Any]:
    return tomllib.loads(path.read_text("utf-8-sig").replace("\r\n", "\n"))


def _flat(section: Mapping[str, Any], start: str = "") -> dict[str, str]:
    made: dict[str, str] = {}
    for key, value in section.items():
        if isinstance(value, dict):
            made |= _flat(value, f"{start}{key}.")
        else:
            made[f"{start}{key}"] = str(value)
    return made


def _table_changes(
    name: str, before: Table | None, after: Table | None
) -> Iterator[Change]:
    one, other = _rows(name, before), _rows(name, after)
    for key, (about, cells) in one.items():
        if key not in other:
            yield Change(name, "removed", about, before=_cells(cells))
            continue
        now = other[key][1]
        for header in sorted(cells.keys() | now.keys()):
            was, text = cells.get(header, ""), now.get(header, "")
            if was != text:
                yield Change(name, "changed", about, header, was, text)
    for key, (about, cells) in other.items():
        if key not in one:
            yield Change(name, "added", about, after=_cells(cells))


def _cells(cells: dict[str, str]) -> str:
    return ", ".join(f"{header} {text}" for header, text in cells.items())


def _rows(
    name: str, table: Table | None
) -> dict[tuple[object, ...], tuple[str, dict[str, str]]]:
    """Return rows by what names them: how a person calls it, and header to cell."""
    if table is None:
        return {}
    columns = _KEYS.get(name, (table.key,))
    words = [table.booked.get(column) for column in columns]
    seen: Counter[tuple[str, ...]] = Counter()
    made: dict[tuple[object, ...], tuple[str, dict[str, str]]] = {}
    for i in range(len(table)):
        key = tuple(str(word[i]) if word is not None else "" for word in words)
        # Rows of one name are told apart by their order.
        seen[key] += 1
        headers = table.file_headers.get(str(table.file[i])) or table.header
        cells = {
            headers.get(column, column): str(text[i])
            for column, text in table.booked.items()
            if text[i] != ""
        }
        made[(*key, seen[key])] = (table.about(i), cells)
    return made


def _file_changes(first: Path, second: Path, read: set[str]) -> Iterator[Change]:
    """Yield changes of files that are no tables: evidence, geoid, matrices, topo."""
    start = f"{INPUT}/"
    one, other = (
        {
            name.removeprefix(start): digest
            for name, digest in recorded_files(folder).items()
            if name.startswith(start)
        }
        for folder in (first, second)
    )
    for name in sorted((one.keys() | other.keys()) - read):
        if name not in other:
            yield Change(name, "removed", name)
        elif name not in one:
            yield Change(name, "added", name)
        elif one[name] != other[name]:
            before, after = one[name][:12], other[name][:12]
            yield Change(name, "changed", name, "SHA-256", before, after)
