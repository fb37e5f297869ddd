"""A table as read: columns in canonical units, and where each row was booked."""

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...networks.findings import Finding
from .grid import Words as Words
from .grid import Written

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_NOTHING = np.array("", dtype=object)


@dataclass(frozen=True)
class Table:
    """The rows of ``NAME.csv`` and of ``NAME/*.csv``, read together.

    A column is called by its header without the unit: ``dx_ift`` is ``dx``. Only
    ``_ppm`` stays, for ``sd_distance_mm`` and ``sd_distance_ppm`` belong together.

    Examples
    --------
    >>> table = Table("levels", {"rise": np.array([1.5, np.nan])},
    ...               {"rise": np.array(["1.5", ""], dtype=object)}, {"rise": "rise_m"},
    ...               np.array(["levels.csv"] * 2, dtype=object), np.array([2, 3]),
    ...               np.array([2, 3]))
    >>> len(table), table.has("rise").tolist(), table.word("run").tolist()
    (2, [True, False], ['', ''])
    """

    name: str
    """``baselines`` …"""
    columns: dict[str, NDArray[Any]]
    """Canonical column name to values: float64 in m, m², rad, s, hPa, degC, count,
    ratio, year, ppm (NaN = empty), or an object array of str ('' = empty) for words
    and UTC times. Latitudes and longitudes stay in degrees. A column that the table
    does not know is kept as words under its header."""
    booked: dict[str, Words | Written]
    """The same keys: the text as booked, without blanks around it."""
    header: dict[str, str]
    """Canonical column name to the header as written: ``dx`` to ``dx_ift``."""
    file: Words
    """(n,) name relative to the job folder: ``baselines/day2.csv``."""
    row: Ints
    """(n,) row as a spreadsheet shows it."""
    line: Ints
    """(n,) line of the file, from 1."""
    subject: str = ""
    """What a row is, as a person names it: ``baseline``."""
    key: str = ""
    """The column that names a row."""
    file_headers: dict[str, dict[str, str]] = field(default_factory=dict)
    """File to its own headers, where files of one table differ in unit."""

    def __len__(self) -> int:
        return len(self.row)

    def number(self, name: str) -> Floats:
        """Return a column of numbers, shape (n,); all NaN where it is absent."""
        if name not in self.columns:
            return np.broadcast_to(np.nan, len(self))
        return np.asarray(self.columns[name], dtype=np.float64)

    def word(self, name: str) -> Words:
        """Return a column of words, shape (n,); all empty where it is absent."""
        if name not in self.columns:
            return np.broadcast_to(_NOTHING, len(self))
        return self.columns[name]

    def has(self, name: str) -> NDArray[np.bool_]:
        """Return (n,): whether the column has something booked."""
        if name not in self.booked:
            return np.broadcast_to(np.False_, len(self))
        booked = self.booked[name]
        if isinstance(booked, Written):
            return booked.filled
        return np.asarray(booked != "", dtype=bool)

    def instant(self, name: str) -> NDArray[np.datetime64]:
        """Return a column of UTC times, shape (n,), to the millisecond; NaT = none."""
        return np.array([_instant(str(t)) for t in self.word(name)], "datetime64[ms]")

    def rows(self, some: Ints) -> "Table":
        """Return the table of some rows alone, shape (k,) of their numbers."""
        return replace(
            self,
            columns={name: column[some] for name, column in self.columns.items()},
            booked={name: column[some] for name, column in self.booked.items()},
            file=self.file[some],
            row=self.row[some],
            line=self.line[some],
        )

    def about(self, i: int) -> str:
        """Return row ``i`` as a person names it: "baseline B17 GROVE 3 – T104"."""
        text = f"{self.subject or self.name} {self._text(self.key, i)}".strip()
        ends = [
            self._text(f"{end}_station", i) or self._text(f"{end}_set_up", i)
            for end in ("from", "to")
        ]
        if self.key == "pointing":
            target = self._text("target_station", i) or self._text("target_set_up", i)
            ends = [self._text("set_up", i), target]
        if all(ends):
            text += f" {ends[0]} – {ends[1]}"
        run = self._text("run", i)
        if self.key == "section" and run in ("out", "back"):
            text += f", run {run}"
        session = self._text("session", i)
        return f"{text}, session {session}" if session else text

    def finding(
        self,
        slug: str,
        verdict: str,
        i: int,
        columns: tuple[str, ...] = (),
        *,
        against: str = "",
        likely: str = "",
        mend: str = "",
    ) -> Finding:
        """Return a finding about row ``i``; ``columns`` are quoted as booked."""
        booked = [f"{self._header(c, i)} {self._text(c, i)}" for c in columns]
        return Finding(
            slug,
            verdict,
            self.about(i),
            file=str(self.file[i]),
            row=int(self.row[i]),
            line=int(self.line[i]),
            column=self._header(columns[0], i) if columns else "",
            booked="   ".join(booked),
            against=against,
            likely=likely,
            mend=mend,
        )

    def finding_of(
        self,
        slug: str,
        verdict: str,
        rows: NDArray[np.int64],
        about: str,
        column: str,
        booked: str,
        *,
        against: str = "",
        mend: str = "",
    ) -> Finding:
        """Return one finding about several rows, told at the first of them."""
        first = int(rows[0])
        return Finding(
            slug,
            verdict,
            f"{len(rows)} {about}",
            file=str(self.file[first]),
            row=int(self.row[first]),
            line=int(self.line[first]),
            column=column,
            booked=booked,
            against=against,
            mend=mend,
        )

    def _text(self, column: str, i: int) -> str:
        return str(self.booked[column][i]) if column in self.booked else ""

    def _header(self, column: str, i: int) -> str:
        own = self.file_headers.get(str(self.file[i]), {})
        return own.get(column, self.header.get(column, column))


def _instant(text: str) -> np.datetime64:
    bare = text.rstrip("Z").removesuffix("+00:00").replace(" ", "T")
    try:
        return np.datetime64(bare, "ms")
    except ValueError:
        # What cannot be read was told as a fault of its cell.
        return np.datetime64("NaT", "ms")
