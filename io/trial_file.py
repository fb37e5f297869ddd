"""The trial file: what was switched on a trial page, read with all its faults."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..networks import Finding, InputError

ACTIONS = (
    "leave-out",
    "hold",
    "weight",
    "check-only",
    "free",
    "multiplier",
    "add",
    "plant",
)
"""Those of decisions.csv, and of a trial alone: free, add, plant."""
_KEYS = ("action", "kind", "name", "value")


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that was switched."""

    action: str
    kind: str
    name: str
    value: str = ""


@dataclass(frozen=True, slots=True)
class TrialFile:
    """What a trial page saved."""

    job_hash: str
    datum: str
    changes: tuple[Change, ...]


def read_trial(path: Path) -> TrialFile:
    """Return a trial file.

    Parameters
    ----------
    path : Path

    Raises
    ------
    InputError
        It is not there, no JSON, no trial, or changes that are not known; all of
        them at once.
    """
    try:
        given = json.loads(path.read_text("utf-8"))
    except OSError as error:
        raise InputError(
            [
                _fault(
                    path,
                    "trial-unreadable",
                    f"{error.strerror}",
                    "a file that is there",
                )
            ]
        ) from None
    except ValueError:
        raise InputError(
            [_fault(path, "trial-unreadable", "no JSON", "what Save trial has written")]
        ) from None
    faults = list(_faults(path, given))
    if faults:
        raise InputError(faults)
    changes = tuple(
        Change(**{key: change.get(key, "") for key in _KEYS})
        for change in given["changes"]
    )
    return TrialFile(given["job_hash"], given.get("datum", "constrained"), changes)


def _faults(path: Path, given: Any) -> Iterator[Finding]:
    if not isinstance(given, dict) or given.get("schema") != "brasscap/trial/1":
        said = given.get("schema") if isinstance(given, dict) else type(given).__name__
        yield _fault(path, "trial-unreadable", f"schema {said}", "brasscap/trial/1")
        return
    if not isinstance(given.get("job_hash"), str):
        yield _fault(path, "trial-unreadable", "no job_hash", "the job it was made of")
    if given.get("datum", "constrained") not in ("constrained", "minimal"):
        wanted = "constrained or minimal"
        yield _fault(path, "trial-unreadable", f"datum {given['datum']!r}", wanted)
    changes = given.get("changes")
    if not isinstance(changes, list):
        yield _fault(path, "trial-unreadable", "no changes", "a list of changes")
        return
    for number, change in enumerate(changes, start=1):
        yield from _change_faults(path, number, change)


def _change_faults(path: Path, number: int, change: Any) -> Iterator[Finding]:
    where = f"change {number}"
    if not isinstance(change, dict):
        yield _fault(path, "trial-change", where, "action, kind, name and value")
        return
    words = {key: change.get(key, "") for key in _KEYS}
    if any(not isinstance(word, str) for word in words.values()):
        yield _fault(path, "trial-change", where, "words as action, kind, name, value")
        return
    if words["action"] not in ACTIONS:
        said = f"{where}: action {words['action']!r}"
        yield _fault(path, "trial-change", said, f"one of {', '.join(ACTIONS)}")
    for key in ("kind", "name"):
        if not words[key]:
            yield _fault(path, "trial-change", f"{where}: no {key}", f"its {key}")


def _fault(path: Path, slug: str, booked: str, against: str) -> Finding:
    return Finding(
        slug,
        "fault",
        f"trial file {path.name}",
        file=path.name,
        booked=booked,
        against=against,
        mend="save it again on the trial page (brasscap trial)",
    )
