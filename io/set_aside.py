"""Something large that a worker needs again later, on a disk until then."""

import pickle
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any
from weakref import finalize

from .files import cannot_write
from .plain_types import with_plain_types


class OnDisk:
    """A value in a file without a name, which goes when this or its process goes.

    Pickled, it takes its value along: what is a file here is none elsewhere.

    Examples
    --------
    >>> OnDisk([1, 2], Path()).back()
    [1, 2]
    """

    def __init__(self, value: Any, folder: Path) -> None:
        """Write the value.

        Raises
        ------
        CannotWrite
            The disk is full, say.
        """
        self._folder = folder
        try:
            self._file = TemporaryFile(dir=folder)  # noqa: SIM115
            finalize(self, self._file.close)
            pickle.dump(value, self._file, protocol=5)
            self._file.flush()
        except OSError as error:
            raise cannot_write(folder, error) from error

    def back(self) -> Any:
        """Read the value."""
        self._file.seek(0)
        return with_plain_types(pickle.load(self._file))

    def __reduce__(self) -> tuple[type["OnDisk"], tuple[Any, Path]]:
        """Return how to make the same elsewhere."""
        return OnDisk, (self.back(), self._folder)
