"""The example jobs that come with the package: invented, complete, plain text."""

from importlib.resources import files
from importlib.resources.abc import Traversable

from .errors import CommandError


def example_names() -> tuple[str, ...]:
    """Return the names of the examples, sorted.

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> "harbour" in example_names()
    True
    """
    jobs = _home().iterdir()
    return tuple(sorted(job.name for job in jobs if (job / "job.toml").is_file()))


def example_files(name: str) -> dict[str, bytes]:
    """Return the files of an example.

    Parameters
    ----------
    name : str

    Returns
    -------
    dict of str to bytes
        Name relative to the job's folder, with ``/`` between folders, to content.

    Raises
    ------
    CommandError
        There is no example of that name.

    Examples
    --------
    >>> sorted(example_files("harbour"))[0]
    'antennas.csv'
    """
    if name not in example_names():
        known = ", ".join(example_names())
        raise CommandError(f"there is no example {name!r}; there are: {known}")
    return dict(sorted(_walk(_home() / name, "").items()))


def _home() -> Traversable:
    # Not files("brasscap") / "networks": an editable install has no such folder.
    return files("brasscap.networks") / "examples"


def _walk(folder: Traversable, prefix: str) -> dict[str, bytes]:
    found: dict[str, bytes] = {}
    for entry in folder.iterdir():
        if entry.name == "__pycache__":
            continue
        if entry.is_dir():
            found |= _walk(entry, f"{prefix}{entry.name}/")
        else:
            found[prefix + entry.name] = entry.read_bytes()
    return found
