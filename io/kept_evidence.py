"""Evidence of decisions: copies in ``evidence/`` whose names say what was in them.

A name carries the first twelve digits of the SHA-256 of its content, so that a piece
that was changed since is seen without another file, and two pieces never share a name.
"""

import re
from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path

from ..networks import CannotWrite, CommandError, Finding
from .files import make_folder, write_whole
from .tables.decisions import Decision

FOLDER = "evidence"
_DIGITS = 12
_HASHED = re.compile(rf"-([0-9a-f]{{{_DIGITS}}})(\.[^.]*)?$")


def keep_evidence(folder: Path, source: Path) -> str:
    """Copy a file into ``evidence/`` under a name that carries its hash.

    Parameters
    ----------
    folder : Path
        The job's folder.
    source : Path
        Any file; it stays where it is.

    Returns
    -------
    str
        Of the copy, relative to the job's folder. A file that is kept already, with
        the same content, is not copied again.

    Raises
    ------
    CommandError
        There is no such file, or it cannot be read.
    CannotWrite

    Examples
    --------
    >>> import tempfile
    >>> job = Path(tempfile.mkdtemp())
    >>> _ = (job / "tape.txt").write_text("1.617")
    >>> keep_evidence(job, job / "tape.txt")
    'evidence/tape-ac2e5b8dba47.txt'
    """
    try:
        content = source.read_bytes()
    except OSError as error:
        why = (error.strerror or "it cannot be read").lower()
        raise CommandError(f"--evidence {source}: {why}; nothing was written") from None
    digits = sha256(content).hexdigest()[:_DIGITS]
    stem, suffix = source.stem, source.suffix
    found = _HASHED.search(source.name)
    if found and found[1] == digits:
        stem = stem.removesuffix(f"-{digits}")
    place = folder / FOLDER / f"{stem}-{digits}{suffix}"
    if not place.exists():
        make_folder(place.parent)
        write_whole(place, content)
    elif place.read_bytes() != content:
        raise CannotWrite(
            f"{place} is there with other content; it was changed since it was kept, "
            "and nothing is overwritten"
        )
    return f"{FOLDER}/{place.name}"


def evidence_findings(
    folder: Path, decisions: Sequence[Decision]
) -> tuple[Finding, ...]:
    """Return a query for each piece of evidence that is missing or was changed.

    Parameters
    ----------
    folder : Path
        The job's folder.
    decisions : sequence of Decision
        Superseded ones count too: their evidence was kept for a reason.
    """
    found = []
    for decision in decisions:
        if decision.evidence:
            problem = _problem(folder, decision.evidence)
            if problem:
                found.append(_finding(decision, *problem))
    return tuple(found)


def _problem(folder: Path, name: str) -> tuple[str, str] | None:
    """Return slug and what was found of a piece; None where it is as it was kept."""
    try:
        content = (folder / name).read_bytes()
    except OSError as error:
        return "evidence-missing", (error.strerror or "it cannot be read").lower()
    noted = _HASHED.search(name)
    digits = sha256(content).hexdigest()[:_DIGITS]
    if noted is None or noted[1] == digits:
        return None
    return "evidence-changed", f"its SHA-256 begins {digits}"


def _finding(decision: Decision, slug: str, said: str) -> Finding:
    return Finding(
        slug,
        "query",
        f"evidence of decision {decision.name}",
        file="decisions.csv",
        row=0,
        booked=f"{decision.evidence}: {said}",
        against="the file as it was when the decision was made",
        mend="put the kept file back, or answer this query with a decision",
    )
