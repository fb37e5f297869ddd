"""What was tried on a page, confirmed by a full adjustment."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from brasscap.arguments import Request
from brasscap.networks import Finding, InputError

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.io.tables.decisions import Decision
    from brasscap.io.tables.load import Loaded
    from brasscap.io.trial_file import Change, TrialFile
    from brasscap.progress import Progress
    from brasscap.reports.trial import Proposed


class Tried(NamedTuple):
    """A job as a trial would have it."""

    loaded: "Loaded"
    adjustment: "Adjustment"
    decide: tuple[str, ...]
    """Command lines that would make the trial a decision."""


_DECIDED = ("leave-out", "hold", "weight", "check-only", "free", "multiplier")
"""What a decision can do too."""


_NOT_DECIDED = {
    "add": "to be observed before it counts",
    "plant": "planted on purpose, nothing to decide",
}


def tried(request: Request, path: Path, mode: str, progress: "Progress") -> Tried:
    """Return the full adjustment of what was tried on a page.

    Parameters
    ----------
    request : Request
    path : Path
        The trial file.
    mode : str
        Empty for that of the trial.
    progress : Progress

    Raises
    ------
    InputError
        A fault in the file, one of another state of the job, or what cannot be done.
    """
    from brasscap.adjust import estimate
    from brasscap.io.tables.load import load
    from brasscap.io.trial_file import read_trial
    from brasscap.steps import read_job
    from brasscap.trial_network import with_added, with_planted
    from brasscap.trialling import proposals

    trial = read_trial(path)
    before = read_job(request, progress)
    if trial.job_hash != before.computed_hash:
        raise InputError([_another_state(path)])
    decisions = tuple(
        _decision(change) for change in trial.changes if change.action in _DECIDED
    )
    _require_possible(request, path, before, decisions)
    loaded = load(request.folder, more=decisions)
    mode = mode or trial.datum
    progress("adjusting the trial")
    network = with_planted(loaded.network, trial.changes)
    names = [(c.kind, c.name) for c in trial.changes if c.action == "add"]
    if names:
        start = estimate(before.network, mode)
        added = _added(path, names, proposals(before, start))
        network = with_added(before, network, mode, added, start)
    adjustment = estimate(network, mode, progress=progress)
    return Tried(loaded, adjustment, tuple(_lines(trial)))


def _added(
    path: Path, names: "Sequence[tuple[str, str]]", offered: "list[Proposed]"
) -> "list[Proposed]":
    """Return the work that is named.

    Raises
    ------
    InputError
        Some of it is not offered in this job.
    """
    by_name = {(one.kind, one.name): one for one in offered}
    missing = [name for name in names if name not in by_name]
    if missing:
        raise InputError(
            [
                Finding(
                    "trial-change",
                    "fault",
                    f"trial file {path.name}",
                    file=path.name,
                    booked=f"add {kind} {name}",
                    against="work that the trial page of this job offers",
                    mend="save the trial again on a page of this job (brasscap trial)",
                )
                for kind, name in missing
            ]
        )
    return [by_name[name] for name in names]


def _another_state(path: Path) -> Finding:
    return Finding(
        "trial-of-another-state",
        "fault",
        f"trial file {path.name}",
        file=path.name,
        booked="made of tables and decisions that are not the present ones",
        against="the job as it is now",
        likely="a table or a decision has changed since the page was made",
        mend="make the page again with  brasscap trial  and try the same there",
    )


def _require_possible(
    request: Request, path: Path, before: "Loaded", decisions: "tuple[Decision, ...]"
) -> None:
    """Raise with every change that cannot be made in this job."""
    from brasscap.io.tables.cell_changes import Refused
    from brasscap.io.tables.deciding import try_decision
    from brasscap.io.tables.reading import read_folder

    reading = read_folder(request.folder)
    faults = []
    for decision in decisions:
        try:
            try_decision(reading.job or before.job, reading.tables, (), decision)
        except Refused as refused:
            faults.append(
                Finding(
                    refused.slug,
                    "fault",
                    f"trial file {path.name}",
                    file=path.name,
                    booked=decision.text,
                    against=refused.against,
                    likely=refused.likely,
                    mend=refused.mend,
                )
            )
    if faults:
        raise InputError(faults)


def _decision(change: "Change") -> "Decision":
    """Return a change as a decision that is kept nowhere."""
    from brasscap.io.tables.decisions import Decision

    action = "check-only" if change.action == "free" else change.action
    return Decision(
        "trial", action, change.kind, change.name, change.value, "tried", "trial"
    )


def _lines(trial: "TrialFile") -> list[str]:
    """Return the command lines that write a trial down as decisions."""
    from shlex import quote

    made = []
    for change in trial.changes:
        if change.action not in _DECIDED:
            made.append(f"{_NOT_DECIDED[change.action]}: {change.kind} {change.name}")
            continue
        decision = _decision(change)
        words = [decision.action, decision.about_kind, decision.about, decision.value]
        said = " ".join(quote(word) for word in words if word)
        made.append(f"brasscap decide {said} --reason …")
    return made
