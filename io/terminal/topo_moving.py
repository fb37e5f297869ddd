"""``topo move``: two issues read from their records, the shots carried over."""

from typing import TYPE_CHECKING

from brasscap.arguments import Request, wrong

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.follow.moving import Moved
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.io.tables.topo_load import LoadedTopo
    from brasscap.networks.covariances import Floats
    from brasscap.progress import Progress


def move(
    request: Request,
    loaded: "Loaded",
    topo: "LoadedTopo",
    control: "Adjustment",
    progress: "Progress",
) -> "Answer":
    """Move the shots of topo/ from one issue to another; write results/topo/."""
    from brasscap.adjust.follow.descent import descent
    from brasscap.adjust.follow.moving import control_issue, move_shots
    from brasscap.answer import Answer, code_of
    from brasscap.reports.content_topo_move import move_document
    from brasscap.reports.objects_topo_move import move_object
    from brasscap.steps import head

    numbers = _numbers(request)
    shots = topo.day.shots
    above = bool(shots.above_geoid.any())
    made = [_issue(request, loaded, number, progress) for number in numbers]
    old, new = (
        control_issue(number, one, above_geoid=above)
        for number, one in zip(numbers, made, strict=True)
    )
    progress("moving the shots")
    moved = move_shots(
        shots,
        descent(shots, topo.day.bases),
        loaded.network.marks.name,
        loaded.network.frame,
        old,
        new,
        between=request.values.get("between", "prediction"),
        reach=_reach(request),
    )
    covariance = _covariance(loaded, topo, control, moved)
    file, again = _kept(request, topo, moved, covariance)
    document = move_document(moved, shots, head(request, loaded), file, again)
    data = move_object(moved, shots, covariance, file, again)
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


def _issue(
    request: Request, loaded: "Loaded", number: int, progress: "Progress"
) -> "Adjustment":
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
    network = loaded_job(record / INPUT, progress).network
    own, theirs = loaded.network.frame.describe(), network.frame.describe()
    if own != theirs:
        raise wrong(
            f"topo move: issue {number} is in another frame: {theirs}; the job is in "
            f"{own}; bring one of them over first, nothing was moved"
        )
    progress(f"adjusting issue {number}")
    return estimate(network, "constrained", progress=progress)


def _covariance(
    loaded: "Loaded", topo: "LoadedTopo", control: "Adjustment", moved: "Moved"
) -> "Floats":
    """Return (n, 3, 3) of each moved shot: what carried it, its base, its own."""
    import numpy as np

    from brasscap.adjust.follow.budget import base_extra
    from brasscap.adjust.follow.topo import learnt_hung

    hung, _ = learnt_hung(topo.day, control, loaded.job.topo)
    none = np.zeros((1, 3, 3))
    of_base = np.concatenate([base_extra(topo.day.bases), none])
    return np.asarray(hung.budget.own + of_base[topo.day.shots.base] + moved.covariance)


def _kept(
    request: Request, topo: "LoadedTopo", moved: "Moved", covariance: "Floats"
) -> tuple[str, bool]:
    """Write the table of moved shots; return its name, and whether it was there."""
    from brasscap.io.topo_results import FOLDER, keep_topo, moved_csv

    shots, issues = topo.day.shots, (moved.old.number, moved.new.number)
    words = [
        (shots.code.word(i), shots.line.word(i), moved.by[i] or moved.why[i])
        for i in range(len(shots))
    ]
    text = moved_csv(
        shots.name,
        words,
        issues,
        (moved.before, moved.after),
        covariance,
        moved.moved.tolist(),
    )
    name = f"moved_{issues[0]}_to_{issues[1]}.csv"
    again = keep_topo(request.folder, name, text)
    return f"{FOLDER}/{name}", again
