"""Command lines as printed, for the folder that the user named: they can be copied."""

import re
from dataclasses import fields, is_dataclass, replace
from shlex import quote
from typing import Any

from brasscap.catalogue import COMMANDS
from brasscap.reports.document import Document

_OF_A_JOB = "|".join(name for name in COMMANDS if name != "new")
_COMMAND = re.compile(rf"\bbrasscap (?=(?:{_OF_A_JOB})(?![\w-]))(?!\S+ --help)")


def named(document: Document, folder: str) -> Document:
    """Return a document whose command lines name the job's folder.

    Whoever wrote ``--job DIR`` stands elsewhere: a line without it, copied from the
    screen, would look for a job in the wrong place.

    Parameters
    ----------
    document : Document
    folder : str
        As the user wrote it; empty for the present folder, which changes nothing.

    Examples
    --------
    >>> named(Document("next: brasscap check", ()), "my job").title
    "next: brasscap --job 'my job' check"
    """
    changed: Document = _changed(document, folder)
    return changed if folder else document


def named_words(words: str, folder: str) -> str:
    """Return words whose command lines name the job's folder.

    Examples
    --------
    >>> named_words("new DIR, or  brasscap run", "site")
    'new DIR, or  brasscap --job site run'
    """
    start = f"brasscap --job {quote(folder)} "
    return _COMMAND.sub(lambda _: start, words) if folder else words


def _changed(part: Any, folder: str) -> Any:
    """Return texts, and what is made of them, with commands that begin so."""
    if isinstance(part, str):
        return named_words(part, folder)
    if isinstance(part, tuple) and type(part) is tuple:
        return tuple(_changed(one, folder) for one in part)
    if is_dataclass(part) and not isinstance(part, type):
        old = {f.name: getattr(part, f.name) for f in fields(part) if f.init}
        new = {name: _changed(value, folder) for name, value in old.items()}
        other = {name: new[name] for name in old if new[name] != old[name]}
        return replace(part, **other) if other else part
    return part
