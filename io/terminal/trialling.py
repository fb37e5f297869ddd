"""A trial page made, and what was tried on one confirmed by a full adjustment."""

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


def trial_page(request: Request, loaded: "Loaded", progress: "Progress") -> str:
    """Return the page of a job.

    Parameters
    ----------
    request : Request
    loaded : Loaded
    progress : Progress
    """
    from brasscap.adjust import estimate
    from brasscap.adjust.design.folded import blocks_of, loosely_held
    from brasscap.adjust.design.unused_known import unused_known
    from brasscap.reports.trial import trial_html
    from brasscap.steps import head

    mode = request.values.get("datum", "constrained")
    network = loaded.network
    progress(f"adjusting, {mode}")
    loose = loosely_held(network) if mode == "constrained" else network
    adjustment = estimate(loose, mode, progress=progress)
    progress("folding set-ups")
    blocks = [*blocks_of(adjustment), *unused_known(adjustment)]
    heading = head(request, loaded)
    return trial_html(adjustment, network, blocks, heading, loaded.computed_hash)


class Tried(NamedTuple):
    """A job as a trial would have it."""

    loaded: "Loaded"
    adjustment: "Adjustment"
    decide: tuple[str, ...]
    """Command lines that would make the trial a decision."""


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

    trial = read_trial(path)
    before = read_job(request, progress)
    if trial.job_hash != before.computed_hash:
        raise InputError([_another_state(path)])
    decisions = tuple(_decision(change) for change in trial.changes)
    _require_possible(request, path, before, decisions)
    loaded = load(request.folder, more=decisions)
    progress("adjusting the trial")
    adjustment = estimate(loaded.network, mode or trial.datum, progress=progress)
    return Tried(loaded, adjustment, tuple(_lines(trial)))


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
        decision = _decision(change)
        words = [decision.action, decision.about_kind, decision.about, decision.value]
        said = " ".join(quote(word) for word in words if word)
        made.append(f"brasscap decide {said} --reason TEXT")
    return made
