"""Long text files written piece by piece, whole or not at all, with their hash."""

import os
from collections.abc import Iterable
from contextlib import suppress
from hashlib import file_digest, sha256
from pathlib import Path

from .files import cannot_write, make_folder


def write_pieces(path: Path, pieces: Iterable[str]) -> str:
    r"""Replace a file by text that comes in pieces; return its SHA-256.

    As ``write_whole``, but only one piece is in memory at a time.

    Parameters
    ----------
    path : Path
        Folders above it are made.
    pieces : iterable of str

    Returns
    -------
    str
        SHA-256 of the file, in hexadecimal.

    Raises
    ------
    CannotWrite
        Says which file and why; nothing is left behind.

    Examples
    --------
    >>> import tempfile
    >>> path = Path(tempfile.mkdtemp(), "marks.csv")
    >>> write_pieces(path, ["station\n", "T1\n"])[:8], path.read_text()
    ('0085250f', 'station\nT1\n')
    """
    make_folder(path.parent)
    target = Path(os.path.realpath(path))
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    digest = sha256()
    try:
        with part.open("wb") as file:
            for piece in pieces:
                raw = piece.encode()
                digest.update(raw)
                file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        part.replace(target)
    except OSError as error:
        raise cannot_write(path, error) from error
    finally:
        with suppress(OSError):
            part.unlink()
    return digest.hexdigest()


def file_hash(path: Path) -> str:
    """Return the SHA-256 of a file, in hexadecimal, with little of it in memory.

    Parameters
    ----------
    path : Path
    """
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()
