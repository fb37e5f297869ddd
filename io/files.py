"""Files written whole or not at all; a reader never meets half of one."""

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from ..networks.errors import CannotWrite


def write_whole(path: Path, content: str | bytes) -> None:
    r"""Replace a file by new content, in one step.

    The content goes to a hidden file beside it, is flushed to the disk, and takes
    the file's name only then: whatever interrupts leaves the old file or the new one.

    Parameters
    ----------
    path : Path
        Its folder must exist; a link is followed.
    content : str or bytes
        Text is written as UTF-8 with line ends as they are.

    Raises
    ------
    CannotWrite
        Says which file and why; nothing is left behind.

    Examples
    --------
    >>> import tempfile
    >>> folder = Path(tempfile.mkdtemp())
    >>> write_whole(folder / "notes.csv", "station\nT1\n")
    >>> [file.name for file in folder.iterdir()]
    ['notes.csv']
    """
    target = Path(os.path.realpath(path))
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    raw = content.encode() if isinstance(content, str) else content
    try:
        _write_flushed(part, raw)
        part.replace(target)
        _flush_folder(target.parent)
    except OSError as error:
        raise cannot_write(path, error) from error
    finally:
        # Still there only if something went wrong, Ctrl-C included.
        with suppress(OSError):
            part.unlink()


def write_folder(path: Path, files: Mapping[str, bytes]) -> None:
    """Make a new folder with files in it, complete or not at all.

    Parameters
    ----------
    path : Path
        Must not exist, or be an empty folder; folders above it are made.
    files : mapping of str to bytes
        Name relative to the folder, with ``/``, to content.

    Raises
    ------
    CannotWrite
        Also where the folder has something in it already.
    """
    with new_folder(path) as part:
        for name, raw in files.items():
            write_new(part / name, raw)


@contextmanager
def new_folder(path: Path) -> Iterator[Path]:
    """Give a hidden folder to fill, which takes its name when the block ends.

    Whatever interrupts, the folder is there complete or not at all; every file and
    folder is on the disk before the name is.

    Parameters
    ----------
    path : Path
        Must not exist, or be an empty folder; folders above it are made.

    Yields
    ------
    Path
        The hidden folder; fill it with ``write_new``.

    Raises
    ------
    CannotWrite
        Also where the folder has something in it already.
    """
    import shutil

    target = Path(os.path.realpath(path))
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise CannotWrite(
            f"{path} exists and is not an empty folder; nothing was written; "
            "name another place"
        )
    make_folder(target.parent)
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        try:
            part.mkdir()
        except OSError as error:
            raise cannot_write(path, error) from error
        yield part
        try:
            for folder, _, _ in os.walk(part, topdown=False):
                _flush_folder(Path(folder))
            if target.exists():
                target.rmdir()
            part.rename(target)
            _flush_folder(target.parent)
        except OSError as error:
            raise cannot_write(path, error) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


def write_new(path: Path, raw: bytes) -> None:
    """Write a file into a folder that is being made; folders above it are made too.

    Raises
    ------
    CannotWrite
    """
    make_folder(path.parent)
    try:
        _write_flushed(path, raw)
    except OSError as error:
        raise cannot_write(path, error) from error


def make_folder(path: Path) -> None:
    """Make a folder and those above it, if they do not exist.

    Raises
    ------
    CannotWrite
        Says which folder and why.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise cannot_write(path, error) from error


def cannot_write(path: Path, error: OSError) -> CannotWrite:
    """Return the error to raise: what could not be written, why, what would mend it.

    Examples
    --------
    >>> print(cannot_write(Path("a/b.csv"), PermissionError(13, "Permission denied")))
    a/b.csv cannot be written: permission denied; give write permission on the \
folder a, or name another place
    """
    why = (error.strerror or type(error).__name__).lower()
    mend = f"give write permission on the folder {path.parent}, or name another place"
    if isinstance(error, FileNotFoundError):
        mend = f"make the folder {path.parent} first, or name another place"
    if isinstance(error, IsADirectoryError):
        mend = "name a file in it"
    return CannotWrite(f"{path} cannot be written: {why}; {mend}")


def _write_flushed(path: Path, raw: bytes) -> None:
    # os.open honours the user's umask, as a file made by hand does.
    number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o666)
    with os.fdopen(number, "wb") as file:
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())


def flush_file(path: Path) -> None:
    """Bring a file that was copied onto the disk, not into a cache alone."""
    with path.open("r+b") as file:
        os.fsync(file.fileno())


def _flush_folder(folder: Path) -> None:
    # The new name is safe only when the folder is on the disk too; some systems
    # cannot open a folder, and then there is nothing to flush.
    with suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)
