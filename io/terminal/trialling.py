"""A trial page made, and what was tried on one confirmed by a full adjustment."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from brasscap.arguments import Request, nearest, wrong
from brasscap.networks import Finding, InputError

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.io.tables.decisions import Decision
    from brasscap.io.tables.load import Loaded
    from brasscap.io.trial_file import Change, TrialFile
    from brasscap.networks.covariances import Ints
    from brasscap.networks.specifications import Specification
    from brasscap.progress import Progress
    from brasscap.reports.trial import Proposed


def trial_page(request: Request, loaded: "Loaded", progress: "Progress") -> str:
    """Return the page of a job.

    Parameters
    ----------
    request : Request
    loaded : Loaded
    progress : Progress
    """
    from brasscap.adjust import estimate
    from brasscap.adjust.design.folded import blocks_of
    from brasscap.adjust.design.loosely_held import loosely_held
    from brasscap.adjust.design.rest import parted
    from brasscap.adjust.design.unused_known import unused_known
    from brasscap.reports.trial import Trial, trial_html
    from brasscap.steps import head

    mode = request.values.get("datum", "constrained")
    network = loaded.network
    progress(f"adjusting, {mode}")
    loose = loosely_held(network) if mode == "constrained" else network
    adjustment = estimate(loose, mode, progress=progress)
    progress("folding set-ups")
    blocks = [*blocks_of(adjustment), *unused_known(adjustment)]
    chosen = _chosen(request, adjustment)
    rest, said = None, ""
    if chosen is not None:
        progress("folding the rest of the network")
        inside, rest = parted(adjustment, blocks_of(adjustment), chosen.tolist())
        marks = set(chosen.tolist())
        blocks = inside + [
            block
            for block in unused_known(adjustment)
            if marks.issuperset(block.observations[0].nodes)
        ]
        said = _part_said(request, adjustment, chosen)
    specification, pairs = _specified(loaded, adjustment, chosen)
    trial = Trial(
        adjustment,
        network,
        blocks,
        proposals(loaded, adjustment, chosen),
        specification,
        pairs,
        {
            name: (group.sd_multiplier_plan, group.sd_multiplier_height)
            for name, group in loaded.job.groups.items()
        },
        loaded.computed_hash,
        chosen,
        rest,
    )
    return trial_html(trial, head(request, loaded), said)


MOST_MARKS = 300
"""Marks up to which a page shows a whole network."""
PART = 200
"""Marks of the part that a page shows of a larger one."""


def _chosen(request: Request, adjustment: "Adjustment") -> "Ints | None":
    """Return the marks that the page shows, ascending; None for all.

    Raises
    ------
    CommandError
        A name that is no mark, or more marks than a page can carry.
    """
    import numpy as np

    from brasscap.adjust.design.rest import neighbourhood

    names = adjustment.network.marks.name
    if "stations" not in request.values:
        return neighbourhood(adjustment, PART) if len(names) > MOST_MARKS else None
    wanted = [word.strip() for word in request.values["stations"].split(",")]
    wanted = [word for word in wanted if word]
    for word in wanted:
        if word not in names:
            raise wrong(f"--stations {word}: no such mark{nearest(word, names)}")
    if not 2 <= len(set(wanted)) <= MOST_MARKS:
        raise wrong(
            f"--stations: two marks at least, {MOST_MARKS} at most, with commas between"
        )
    number = {name: k for k, name in enumerate(names)}
    chosen = np.array(sorted({number[word] for word in wanted}), dtype=np.int64)
    return None if len(chosen) == len(names) else chosen


def _part_said(request: Request, adjustment: "Adjustment", chosen: "Ints") -> str:
    """Return in words which part of the network a page shows."""
    whole = len(adjustment.network.marks)
    which = (
        "those named with --stations"
        if "stations" in request.values
        else "the worst placed one and those nearest to it; --stations chooses others"
    )
    return (
        f"A part: {len(chosen)} of {whole} marks, {which}. The rest of the network is "
        "in the figures, but cannot be switched; tests are those of the part."
    )


def proposals(
    loaded: "Loaded", adjustment: "Adjustment", chosen: "Ints | None" = None
) -> "list[Proposed]":
    """Return what could be observed, each with a name of its own.

    What proposed.csv lists, a second set-up over each mark that vectors reach, and
    what lies near.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    chosen : ndarray of int, optional
        Marks between which it is; all if left out.
    """
    from brasscap.proposing import offers, second_set_ups
    from brasscap.reports.trial import Proposed

    names = adjustment.network.marks.name
    made: list[Proposed] = []
    seen: set[tuple[str, str]] = set()
    fresh = second_set_ups(loaded, adjustment)
    inside = set(range(len(names)) if chosen is None else chosen.tolist())
    for one in [*offers(loaded, adjustment)[0], *fresh]:
        # A tie to a known mark that nothing uses needs a decision, no trial.
        untold = one.kind == "control tie" and not one.proposal
        if untold or not inside.issuperset(one.observable.marks):
            continue
        marks = " – ".join(names[mark] for mark in one.observable.marks)
        name = one.proposal or marks
        if (one.kind, name) in seen:
            name = f"{name}, {marks}"
        seen.add((one.kind, name))
        made.append(
            Proposed(
                one.kind,
                name,
                bool(one.proposal) and one not in fresh,
                one.task.minutes,
                one.note,
                one.observable,
            )
        )
    return made


def _specified(
    loaded: "Loaded", adjustment: "Adjustment", chosen: "Ints | None"
) -> "tuple[Specification | None, Ints]":
    """Return the first specification between marks, and the pairs it asks for."""
    import numpy as np

    from brasscap.networks.neighbours import all_pairs, observed_pairs
    from brasscap.networks.specifications import RELATIVE
    from brasscap.specifying import pairs_of, specifications

    stated = specifications(loaded) if loaded.job.specifications else []
    one = next((one for one in stated if one.kind in RELATIVE), None)
    if one is not None and one.pairs == "all" and chosen is not None:
        return one, all_pairs(chosen)
    pairs = (
        observed_pairs(adjustment.network)
        if one is None
        else pairs_of(loaded, adjustment, one)
    )
    if chosen is not None:
        pairs = pairs[np.isin(pairs, chosen).all(axis=1)]
    return one, pairs


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
    from brasscap.trial_network import with_added, with_planted

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


_DECIDED = ("leave-out", "hold", "weight", "check-only", "free", "multiplier")
"""What a decision can do too."""


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


_NOT_DECIDED = {
    "add": "to be observed before it counts",
    "plant": "planted on purpose, nothing to decide",
}


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
        made.append(f"brasscap decide {said} --reason TEXT")
    return made
