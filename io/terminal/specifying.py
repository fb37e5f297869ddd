"""A job's specifications held against its solutions."""

from collections.abc import Sequence
from math import hypot
from pathlib import Path
from typing import TYPE_CHECKING

from brasscap.arguments import Request, nearest, wrong
from brasscap.networks import Finding, InputError

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.precision.compliance import Compliance
    from brasscap.io.tables.load import Loaded
    from brasscap.networks.covariances import Ints
    from brasscap.networks.specifications import Specification
    from brasscap.progress import Progress
    from brasscap.reports.content_spec import Held

MOST_PAIRS = 100_000
"""More are not gone through; a file names those that matter."""


def specifications(
    loaded: "Loaded", wanted: str = "", pairs: str = ""
) -> "list[Specification]":
    """Return the specifications of a job, or the one that is wanted.

    Parameters
    ----------
    loaded : Loaded
    wanted : str, optional
        Name of one in job.toml, or of a standard's own; empty for all of the job.
    pairs : str, optional
        Which pairs instead of those that it states.

    Raises
    ------
    InputError
        None is stated.
    CommandError
        None has that name.
    """
    from dataclasses import replace

    from brasscap.io.tables.job_specifications import specification_of
    from brasscap.networks.specifications import PRESETS

    stated = loaded.job.specifications
    if wanted and wanted not in stated and wanted not in PRESETS:
        known = [*stated, *PRESETS]
        raise wrong(f"--spec {wanted}: no such specification{nearest(wanted, known)}")
    if not wanted and not stated:
        raise InputError([_none()])
    names = [wanted] if wanted else list(stated)
    made = [
        specification_of(name, stated[name]) if name in stated else PRESETS[name]
        for name in names
    ]
    if not pairs:
        return made
    pairs = _place(loaded, pairs)
    return [replace(one, pairs=pairs) for one in made]


def _place(loaded: "Loaded", pairs: str) -> str:
    """Return where a file of pairs is, from the job's folder: here first, then there.

    Raises
    ------
    InputError
        In neither place.
    """
    from os.path import relpath

    if pairs in ("all", "adjacent"):
        return pairs
    here = Path(pairs)
    if here.is_file():
        return relpath(here, loaded.folder)
    if (loaded.folder / pairs).is_file():
        return pairs
    raise InputError([_not_there(pairs, loaded.folder)])


def _not_there(pairs: str, folder: Path) -> Finding:
    return Finding(
        "pairs-file",
        "fault",
        f"pairs file {pairs}",
        file=pairs,
        booked=f"--pairs {pairs}",
        against=f"a file in the present folder, {Path.cwd()}, or in the job's, "
        f"{folder.resolve()}: there is none in either",
        mend="give its path from where you are, or use  --pairs all  or  "
        "--pairs adjacent",
    )


def _none() -> Finding:
    return Finding(
        "spec-missing",
        "fault",
        "job.toml",
        file="job.toml",
        booked="no [spec.NAME]",
        against="what the client or the law asks for",
        mend='write [spec.site] with kind, limits and confidence, or preset = "…"; to '
        "try a standard's own:  brasscap spec --spec alta-nsps-2026",
    )


def compliance(
    request: Request,
    loaded: "Loaded",
    stated: "Sequence[Specification]",
    progress: "Progress",
) -> "list[Compliance]":
    """Return every specification held against the solutions that it asks for."""
    from dataclasses import replace

    from brasscap.adjust.judge import hypotheses
    from brasscap.adjust.precision.compliance import judge_marks, judge_pairs
    from brasscap.steps import adjusted

    solved: dict[str, Adjustment] = {}
    blunders = {}
    for mode in ("constrained", "minimal"):
        if any(mode in one.solutions for one in stated):
            made = adjusted(request, loaded, mode, progress, keep=False).adjustment
            solved[mode] = made
            blunders[mode] = [
                *hypotheses.observations(made),
                *hypotheses.set_ups(made),
            ]
    found = []
    for one in stated:
        progress(f"specification {one.name}")
        if "constrained" in one.solutions:
            made = solved["constrained"]
            found += judge_marks(made, one, _marks(made), blunders["constrained"])
        if "minimal" in one.solutions:
            made = solved["minimal"]
            pairs = pairs_of(loaded, made, one)
            found += judge_pairs(made, one, pairs, blunders["minimal"])
    sound = {mode: _sound(made) for mode, made in solved.items()}
    return [replace(one, sound=sound[one.adjustment.datum.mode]) for one in found]


def _sound(adjustment: "Adjustment") -> bool:
    """Return whether a solution passes its own tests: precision rests on that."""
    from brasscap.adjust.judge import blunder_tests, variance_factor_test

    if variance_factor_test(adjustment).verdict == "fails":
        return False
    return "fails" not in blunder_tests(adjustment).verdict


def specified(
    request: Request, loaded: "Loaded", progress: "Progress"
) -> "Held | str | None":
    """Return the job's specifications held against it, for a report.

    None where the job states none; words where they cannot be judged: a report is
    written all the same.
    """
    from brasscap.networks.errors import CommandError, NoSolution
    from brasscap.reports.content_spec import Held

    if not loaded.job.specifications:
        return None
    try:
        stated = specifications(loaded)
        lines = compliance(request, loaded, stated, progress)
    except InputError as error:
        return "; ".join(f"{f.about}: {f.booked}, {f.against}" for f in error.findings)
    except (CommandError, NoSolution) as error:
        return str(error)
    return Held(tuple(lines), record=record_words(loaded))


def record_words(loaded: "Loaded") -> str:
    """Return the issue that stands, its date, and whether the input has moved on."""
    from brasscap.io.record.copies import moved_on
    from brasscap.io.record.issues import RECORDS, head_of, shelf
    from brasscap.networks.errors import CommandError

    issues = shelf(loaded.folder).issues
    if not issues:
        return ""
    record = loaded.folder / RECORDS / str(issues[-1])
    try:
        head = head_of(record)
        moved = moved_on(record, loaded.folder, loaded.job.frame.geoid)
    except CommandError as error:
        return f"Record: issue {issues[-1]} cannot be named: {error}."
    said = f"Record: issue {issues[-1]} of {str(head['issued_utc'])[:10]}"
    if moved:
        files = ", ".join(one.file for one in moved)
        return f"{said}; these figures are later: since then {files} changed."
    return f"{said}, made from the same input."


def _marks(adjustment: "Adjustment") -> "Ints":
    import numpy as np

    return np.flatnonzero(adjustment.estimated.any(axis=1))


def pairs_of(
    loaded: "Loaded", adjustment: "Adjustment", one: "Specification"
) -> "Ints":
    """Return the pairs of marks that a specification asks for, (P, 2).

    Raises
    ------
    InputError
        There is none, or a fault in the file that names them.
    CommandError
        They are too many to be gone through.
    """
    from brasscap.io.tables.pairs_file import read_pairs
    from brasscap.networks.neighbours import all_pairs, observed_pairs

    network = adjustment.network
    if one.pairs == "adjacent":
        pairs = observed_pairs(network)
    elif one.pairs == "all" and one.within < float("inf"):
        pairs = _within(adjustment, one)
    elif one.pairs == "all":
        marks = _marks(adjustment)
        if len(marks) * (len(marks) - 1) // 2 > MOST_PAIRS:
            raise wrong(
                f"specification {one.name}: all pairs of {len(marks)} marks are too "
                "many; name those that matter with --pairs FILE, or --pairs adjacent"
            )
        pairs = all_pairs(marks)
    else:
        numbers = {name: k for k, name in enumerate(network.marks.name)}
        pairs = read_pairs(loaded.folder, one.pairs, numbers)
    if not len(pairs):
        raise InputError([_no_pairs(one)])
    return pairs


def _within(adjustment: "Adjustment", one: "Specification") -> "Ints":
    """Return the pairs of marks that may lie within the stated distance."""
    from brasscap.adjust.precision.near import count_within, pairs_within

    marks = _marks(adjustment)
    places = adjustment.nodes.xyz[marks]
    heights = adjustment.network.frame.heights(places)
    # The limit is on the level distance; the pairs are sought in space.
    reach = hypot(one.within, float(heights.max() - heights.min()))
    count = count_within(places, reach)
    if count > MOST_PAIRS:
        raise wrong(
            f"specification {one.name}: {count} pairs of marks lie within "
            f"{one.within:g} m, too many; name those that matter with --pairs FILE"
        )
    found: Ints = marks[pairs_within(places, reach)]
    return found


def _no_pairs(one: "Specification") -> Finding:
    return Finding(
        "pairs-none",
        "fault",
        f"specification {one.name}",
        file="job.toml",
        booked=f'pairs = "{one.pairs}"',
        against="no two marks of this job are such a pair",
        mend="state which pairs: all, adjacent, or a file",
    )
