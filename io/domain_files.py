"""Domains of a divided network, and what workers leave of them: a file each.

``domain-0003.part`` waits for a worker and is read only by the run that wrote it;
``domain-0003.npz`` is the result of a domain as plain columns, written by the worker
that computed it: node, xyz (m), values (parameters, in their own units), and row,
column, covariance of the unknowns (m², stated), sorted by row and column; then for
every kind of observation its number in the network, redundancy, shift (m, rad) with its
standard deviation, the smallest detectable one, the tests with limit and probability,
and in which directions nothing checks it. ``index.json`` says what there is.
"""

import json
import os
import pickle
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import gettempdir
from typing import Any

import numpy as np

from ..adjust.cluster.domains import Domain
from .files import cannot_write, make_folder, write_whole
from .plain_types import with_plain_types
from .set_aside import OnDisk

INDEX = "index.json"


@dataclass(frozen=True, slots=True)
class FolderStore:
    """A folder that all workers see."""

    folder: Path
    elsewhere: bool = False
    """Whether the folder is on another machine than its workers: what they set aside
    is then in the temporary folder of each."""

    def aside(self, value: Any) -> OnDisk:
        """Set aside what this worker needs again.

        Raises
        ------
        CannotWrite
        """
        return OnDisk(value, Path(gettempdir()) if self.elsewhere else self.folder)

    def put(self, domain: Domain) -> None:
        """Keep a domain until it is worked on.

        Raises
        ------
        CannotWrite
        """
        make_folder(self.folder)
        path = self._waiting(domain.number)
        try:
            with path.open("wb") as file:
                pickle.dump(domain, file, protocol=5)
        except OSError as error:
            raise cannot_write(path, error) from error

    def get(self, number: int) -> Domain:
        """Return a domain that this run has put there."""
        with self._waiting(number).open("rb") as file:
            domain: Domain = with_plain_types(pickle.load(file))
        return domain

    def keep(self, number: int, arrays: Mapping[str, Any]) -> int:
        """Write the result of a domain, whole or not at all; return its bytes."""
        path = self._done(number)
        part = path.with_name(f".{path.name}.{os.getpid()}.part")
        try:
            with part.open("wb") as file:
                np.savez(file, allow_pickle=False, **arrays)
            part.replace(path)
        except OSError as error:
            raise cannot_write(path, error) from error
        finally:
            with suppress(OSError):
                part.unlink()
        return path.stat().st_size

    def kept(self, number: int, names: Sequence[str] = ()) -> dict[str, Any]:
        """Return those of some columns that a result has; all, without names."""
        with np.load(self._done(number), allow_pickle=False) as file:
            there = [name for name in names or file.files if name in file.files]
            return {name: file[name] for name in there}

    def close(self, what: Mapping[str, Any]) -> None:
        """Take away what waited, and say in the index what is left.

        Parameters
        ----------
        what : mapping of str to anything JSON has
            About the run; the files and their bytes are added.
        """
        for path in self.folder.glob("domain-*.part"):
            path.unlink(missing_ok=True)
        files = {p.name: p.stat().st_size for p in sorted(self.folder.glob("*.npz"))}
        text = json.dumps({**what, "bytes": files}, indent=1, ensure_ascii=False)
        write_whole(self.folder / INDEX, text + "\n")

    def clear(self) -> None:
        """Take away what an earlier run left."""
        for pattern in ("domain-*.part", "domain-*.npz", INDEX):
            for path in self.folder.glob(pattern):
                path.unlink(missing_ok=True)

    def _waiting(self, number: int) -> Path:
        return self.folder / f"domain-{number:04d}.part"

    def _done(self, number: int) -> Path:
        return self.folder / f"domain-{number:04d}.npz"
