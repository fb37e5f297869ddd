"""``topo move``: two issues read from their records, the shots carried over."""

from typing import TYPE_CHECKING, NamedTuple

from brasscap.arguments import Request, wrong

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.follow.moved_day import MovedDay
    from brasscap.adjust.follow.moving import Moved
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.io.tables.topo_load import LoadedTopo
    from brasscap.progress import Progress


def move(
    request: Request, loaded: "Loaded", topo: "LoadedTopo", progress: "Progress"
) -> "Answer":
    """Move the shots of topo/ from one issue to another; write results/topo/."""
    from brasscap.adjust.follow.control_issue import control_issue
    from brasscap.adjust.follow.descent import descent
    from brasscap.adjust.follow.moving import move_shots
    from brasscap.answer import Answer, code_of
    from brasscap.reports.content_topo_move import move_document
    from brasscap.reports.objects_topo_move import move_object
    from brasscap.steps import head

    numbers = _numbers(request)
    shots = topo.day.shots
    above = bool(shots.above_geoid.any())
    found = descent(shots, topo.day.bases)
    name = loaded.network.marks.name
    tied = {name[m] for some in found.service_marks for m in some.tolist()}
    made = [_issue(request, loaded, number, progress) for number in numbers]
    old, new = (
        control_issue(number, one.control, above_geoid=above, jointly=tied)
        for number, one in zip(numbers, made, strict=True)
    )
    progress("moving the shots")
    moved = move_shots(
        shots,
        found,
        name,
        loaded.network.frame,
        old,
        new,
        between=request.values.get("between", "prediction"),
        reach=_reach(request),
    )
    day = _whole_day(request, moved, made[0], made[1])
    file, again = _kept(request, topo, day)
    document = move_document(day, head(request, loaded), file, again)
    data = move_object(day, file, again)
    code = code_of([data["verdict"]], 0, request.strict)
    return Answer(document, data, code)


def _numbers(request: Request) -> tuple[int, int]:
    made = []
    for name in ("from", "to"):
        given = request.values.get(name, "")
        if not given.isascii() or not given.isdigit() or int(given) < 1:
            raise wrong(
                "topo move: say between which issues of the record, as "
                "brasscap topo move --from 1 --to 2"
            )
        made.append(int(given))
    if made[0] == made[1]:
        raise wrong(f"topo move: issue {made[0]} twice; name two issues")
    return made[0], made[1]


def _reach(request: Request) -> float:
    given = request.values.get("reach")
    if given is None:
        return 0.0
    try:
        reach = float(given)
    except ValueError:
        reach = -1.0
    if not 0 < reach < 1e6:
        raise wrong(f"topo move --reach {given!r}: write metres, as --reach 500")
    return reach


class _Issue(NamedTuple):
    """An issue as its record holds it."""

    number: int
    loaded: "Loaded"
    control: "Adjustment"


def _issue(
    request: Request, loaded: "Loaded", number: int, progress: "Progress"
) -> _Issue:
    """Return the control of an issue as its record holds it, every byte checked."""
    from brasscap.adjust import estimate
    from brasscap.io.record.copies import INPUT
    from brasscap.io.record.issues import record_folder
    from brasscap.io.record.manifest import damages
    from brasscap.networks import RecordDiffers
    from brasscap.rebuilding import loaded_job

    record = record_folder(request.folder, str(number))
    progress(f"checking every byte of issue {number}")
    bad = damages(record)
    if bad:
        named = "; ".join(f"{one.file}: {one.what}" for one in bad[:3])
        raise RecordDiffers(
            f"issue {number} is not what was recorded: {named}; nothing was moved; "
            f"brasscap record verify {number}"
        )
    recorded = loaded_job(record / INPUT, progress)
    network = recorded.network
    own, theirs = loaded.network.frame.describe(), network.frame.describe()
    if own != theirs:
        raise wrong(
            f"topo move: issue {number} is in another frame: {theirs}; the job is in "
            f"{own}; bring one of them over first, nothing was moved"
        )
    progress(f"adjusting issue {number}")
    control = estimate(network, "constrained", progress=progress)
    return _Issue(number, recorded, control)


def _whole_day(
    request: Request, moved: "Moved", old: _Issue, new: _Issue
) -> "MovedDay":
    """Return polar shots and made points beside the moved shots."""
    from contextlib import suppress

    from brasscap.adjust.follow.moved_day import move_day
    from brasscap.adjust.follow.topo import day_polar, learnt_hung
    from brasscap.networks import InputError

    try:
        day = _day_on(request, new).day
    except InputError as error:
        raise wrong(
            f"topo move: topo/ does not fit the control of issue {new.number}: "
            f"{error}; nothing was moved"
        ) from error
    before = None
    # Without polar shots nothing but the booked ones has an old place.
    if day.polar is not None:
        # Detail measured since has no place on the old control, and that is said.
        with suppress(InputError):
            before = day_polar(_day_on(request, old).day, old.control)
    hung, _ = learnt_hung(day, new.control, new.loaded.job.topo)
    return move_day(moved, day, hung, day_polar(day, new.control), before)


def _day_on(request: Request, issue: _Issue) -> "LoadedTopo":
    """Return the live shots on an issue's control, its instruments and set-ups."""
    from dataclasses import replace

    from brasscap.io.tables.topo_load import load_topo

    return load_topo(replace(issue.loaded, folder=request.folder))


def _kept(request: Request, topo: "LoadedTopo", day: "MovedDay") -> tuple[str, bool]:
    """Write the table of moved points; return its name, and whether it was there."""
    from brasscap.io.topo_results import FOLDER, keep_topo, moved_csv
    from brasscap.topo_exporting import coded

    issues = day.shots.old.number, day.shots.new.number
    words = coded(topo.day)
    text = moved_csv(
        day.name,
        [
            (*words.get(name, ("", "")), day.by[i] or day.why[i])
            for i, name in enumerate(day.name)
        ],
        issues,
        (day.before, day.after),
        day.covariance,
        day.moved.tolist(),
    )
    name = f"moved_{issues[0]}_to_{issues[1]}.csv"
    again = keep_topo(request.folder, name, text)
    return f"{FOLDER}/{name}", again
