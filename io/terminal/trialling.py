"""The page on which a job is tried: its parts, its proposals, its specification."""

from typing import TYPE_CHECKING

from brasscap.arguments import Request, nearest, wrong

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.design.block import Block
    from brasscap.adjust.design.rest import Rest
    from brasscap.io.tables.load import Loaded
    from brasscap.networks.covariances import Ints
    from brasscap.networks.specifications import Specification
    from brasscap.progress import Progress
    from brasscap.reports.trial import Proposed


MOST_MARKS = 300
"""Marks up to which a page shows a whole network."""


PART = 200
"""Marks of the part that a page shows of a larger one."""


def trial_page(request: Request, loaded: "Loaded", progress: "Progress") -> str:
    """Return the page of a job.

    Parameters
    ----------
    request : Request
    loaded : Loaded
    progress : Progress
    """
    from brasscap.adjust import estimate
    from brasscap.adjust.design.loosely_held import loosely_held
    from brasscap.reports.trial import Trial, trial_html
    from brasscap.steps import head

    mode = request.values.get("datum", "constrained")
    network = loaded.network
    progress(f"adjusting, {mode}")
    loose = loosely_held(network) if mode == "constrained" else network
    adjustment = estimate(loose, mode, progress=progress)
    chosen = _chosen(request, adjustment)
    blocks, rest = _folded(adjustment, chosen, progress)
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
    said = "" if chosen is None else _part_said(request, adjustment, chosen)
    return trial_html(trial, head(request, loaded), said)


def _folded(
    adjustment: "Adjustment", chosen: "Ints | None", progress: "Progress"
) -> "tuple[list[Block], Rest | None]":
    """Return the blocks of the marks that are shown, and what the rest says of them."""
    from brasscap.adjust.design.folded import blocks_of
    from brasscap.adjust.design.held_azimuth import held_azimuth
    from brasscap.adjust.design.rest import parted, said_by
    from brasscap.adjust.design.unused_known import unused_known

    progress("folding set-ups")
    blocks, held = blocks_of(adjustment), held_azimuth(adjustment)
    # A minimal solution hangs on its origin alone, whatever else is known.
    minimal = adjustment.datum.mode == "minimal"
    idle = [] if minimal else unused_known(adjustment)
    if chosen is None:
        columns = {c for one in held for c in one.columns.tolist()}
        return blocks + idle, said_by(held, columns) if held else None
    progress("folding the rest of the network")
    inside, rest = parted(adjustment, [*blocks, *held], chosen.tolist())
    marks = set(chosen.tolist())
    idle = [one for one in idle if marks.issuperset(one.observations[0].nodes)]
    return inside + idle, rest


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
    from brasscap.offering import second_set_ups
    from brasscap.proposing import offers
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

    from brasscap.networks.neighbours import all_pairs
    from brasscap.present_state import pairs_that_count, specification_that_counts

    one = specification_that_counts(loaded)
    if one is not None and one.pairs == "all" and chosen is not None:
        return one, all_pairs(chosen)
    pairs = pairs_that_count(loaded, adjustment, one)
    if chosen is not None:
        pairs = pairs[np.isin(pairs, chosen).all(axis=1)]
    return one, pairs
