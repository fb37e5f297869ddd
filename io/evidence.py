"""What the result was to be judged by, kept before the result was known.

Tests and specifications are written to ``evidence/criteria.json`` with the date at
the first estimate. A later change is allowed, and is a query: the reader of a report
has a right to know that the bar was moved.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict
from hashlib import sha256
from pathlib import Path
from typing import Any

from ..networks import Finding
from .files import make_folder, write_whole
from .tables.job import Job

_PLACE = Path("evidence", "criteria.json")


def criteria(job: Job) -> dict[str, Any]:
    """Return the tests and specifications of a job, as they are kept.

    Examples
    --------
    >>> criteria(Job())["tests"]["outlier_alpha"]
    0.001
    """
    return {
        "specifications": {k: dict(v) for k, v in job.specifications.items()},
        "tests": asdict(job.options),
    }


def criteria_hash(kept: dict[str, Any]) -> str:
    """Return the hash of criteria: equal exactly when the criteria are.

    Examples
    --------
    >>> criteria_hash(criteria(Job())) == criteria_hash(criteria(Job(title="x")))
    True
    """
    text = json.dumps(kept, sort_keys=True, ensure_ascii=False, default=str)
    return sha256(text.encode()).hexdigest()


def keep_criteria(folder: Path, job: Job, when_utc: str) -> bool:
    """Write the criteria, if none are kept yet.

    Parameters
    ----------
    folder : Path
        The job's folder.
    job : Job
    when_utc : str
        The time to write down.

    Returns
    -------
    bool
        Whether they were written now.

    Raises
    ------
    CannotWrite
    """
    if (folder / _PLACE).exists():
        return False
    now = criteria(job)
    kept = {
        "schema": "brasscap/criteria/1",
        "set_utc": when_utc,
        "hash": criteria_hash(now),
        **now,
    }
    make_folder((folder / _PLACE).parent)
    text = json.dumps(kept, sort_keys=True, ensure_ascii=False, indent=1, default=str)
    write_whole(folder / _PLACE, text + "\n")
    return True


def criteria_set(folder: Path) -> str:
    """Return when the criteria were set, and their hash, in words; empty if never."""
    kept = _read(folder)
    return f"{kept['set_utc']}, hash {kept['hash'][:12]}" if kept else ""


def criteria_findings(
    folder: Path, job: Job, decided: Mapping[str, str] | None = None
) -> list[Finding]:
    """Return a query where the criteria differ from those that are kept.

    Parameters
    ----------
    folder : Path
        The job's folder.
    job : Job
    decided : mapping of str to str, optional
        Criterion to the decision that changed it; a change that is decided through
        and through is a query that is answered.
    """
    if not (folder / _PLACE).exists():
        return []
    kept = _read(folder)
    if kept is None:
        return [
            Finding(
                "criteria-unreadable",
                "query",
                "criteria of the job",
                file=_PLACE.as_posix(),
                against="an object with set_utc, hash, tests and specifications",
                likely="edited or cut off; nothing here edits it",
                mend="put the kept file back, or answer this query with a decision",
            )
        ]
    now = criteria(job)
    if criteria_hash(now) == kept["hash"]:
        return []
    before = {key: kept.get(key, {}) for key in now}
    changes = _changes(before, now)
    by = {(decided or {}).get(change.split()[1], "") for change in changes}
    return [
        Finding(
            "criteria-changed",
            "query",
            "criteria of the job",
            file="job.toml",
            booked=", ".join(changes),
            against=f"the criteria set {kept['set_utc']}, in {_PLACE.as_posix()}",
            likely="the bar was moved after the first result",
            mend="brasscap decide accept query NAME --reason …, or go back",
            answered_by="" if "" in by else ", ".join(sorted(by)),
        )
    ]


def _read(folder: Path) -> dict[str, Any] | None:
    try:
        kept = json.loads((folder / _PLACE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    sound = isinstance(kept, dict) and {"set_utc", "hash"} <= kept.keys()
    return kept if sound else None


def _changes(before: dict[str, Any], now: dict[str, Any]) -> list[str]:
    """Return what differs, each as "tests outlier_alpha 0.01 (was 0.001)"."""
    rows = []
    for part in sorted(now):
        for key in sorted({*before[part], *now[part]}):
            was, value = (_said(d[part], key) for d in (before, now))
            if was != value:
                rows.append(f"{part} {key} {value} (was {was})")
    return rows or ["kept file changed"]


def _said(part: dict[str, Any], key: str) -> str:
    if key not in part:
        return "not stated"
    return json.dumps(part[key], sort_keys=True, ensure_ascii=False, default=str)
