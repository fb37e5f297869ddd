"""``topo``: whether shots are good, what they hang on, and what moves them."""

from typing import TYPE_CHECKING, Any

from brasscap.arguments import Command, Option, Request, wrong

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.io.tables.topo_load import LoadedTopo
    from brasscap.progress import Progress
    from brasscap.reports.heading import Heading

ACTIONS = ("check", "attach", "move", "sheet")

COMMAND = Command(
    "check | attach | move | sheet",
    1,
    1,
    (
        Option("--from", "move: the issue that the shots hang on", "N"),
        Option("--to", "move: the issue that they go to", "N"),
        Option(
            "--between",
            "move: how a shot goes that hangs on several marks",
            "HOW",
            choices=("prediction", "similarity"),
        ),
        Option("--reach", "move: of the prediction, metres", "METRES"),
    ),
    ACTIONS,
    "brasscap topo check",
)


def more() -> str:
    """Return the columns of the tables of topo/, for ``--help``."""
    from brasscap.io.tables.schemas.topo import FIELD_TEST, SHOTS
    from brasscap.io.tables.topo import columns_help

    return (
        "topo/NAME.csv: shots, a row each; the other headers as needed\n"
        + columns_help(SHOTS)
        + "\n\ntopo/field_test.csv: a rover's field test, a set a row\n"
        + columns_help(FIELD_TEST)
        + "\n\nempty tables, of constructions and checks too, into a job:\n"
        "  brasscap new DIR --table topo/shots,topo/constructions,topo/checks,"
        "topo/field_test"
    )


def run(request: Request, progress: "Progress") -> "Answer":
    """Judge the shots of topo/, or say what they hang on; topo/ is never written."""
    from brasscap.io.tables.topo_load import load_topo
    from brasscap.steps import adjusted, read_job

    what = request.words[0]
    alone = {"from", "to", "between", "reach"} & set(request.values)
    if what != "move" and alone:
        raise wrong(f"topo {what} takes no --{sorted(alone)[0]}; that is for topo move")
    loaded = read_job(request, progress)
    progress("reading the shots")
    topo = load_topo(loaded)
    if what == "move":
        from brasscap.topo_moving import move

        return move(request, loaded, topo, progress)
    made = adjusted(request, loaded, "constrained", progress, keep=False)
    from brasscap.topo_attaching import attach

    acts = {"check": _check, "attach": attach, "sheet": _sheet}
    return acts[what](request, loaded, topo, made.adjustment)


def _heading(request: Request, loaded: "Loaded", topo: "LoadedTopo") -> "Heading":
    from dataclasses import replace

    from brasscap.steps import head

    return replace(head(request, loaded), findings=topo.findings)


def _check(
    request: Request, loaded: "Loaded", topo: "LoadedTopo", control: "Adjustment"
) -> "Answer":
    from brasscap.adjust.follow.topo import judge_topo
    from brasscap.answer import Answer
    from brasscap.reports.content_topo import topo_document, verdict_of
    from brasscap.reports.objects_topo import topo_object
    from brasscap.topo_exporting import keep_points

    judged = judge_topo(topo.day, control, loaded.job.topo)
    document = topo_document(judged, _heading(request, loaded, topo))
    verdict = verdict_of(judged)
    # Of a hundred thousand shots the object takes longer than all else.
    data: dict[str, Any] = {"schema": "brasscap/topo/1", "verdict": verdict}
    if "json" in request.values:
        data = topo_object(judged, topo.findings)
    notes = keep_points(request, judged)
    return Answer(document, data, _code(request, [verdict], topo), notes)


def _sheet(
    request: Request, loaded: "Loaded", topo: "LoadedTopo", control: "Adjustment"
) -> "Answer":
    from brasscap.adjust.follow.topo import judge_topo
    from brasscap.answer import Answer
    from brasscap.io.files import make_folder, write_whole
    from brasscap.reports.content_topo_sheet import sheet_document
    from brasscap.reports.html import html

    judged = judge_topo(topo.day, control, loaded.job.topo)
    document = sheet_document(judged, _heading(request, loaded, topo))
    path = request.folder / "reports" / "topo_sheet.html"
    make_folder(path.parent)
    write_whole(path, html(document))
    data = {
        "schema": "brasscap/topo-sheet/1",
        "verdict": "meets",
        "file": path.as_posix(),
        "findings": [],
    }
    return Answer(document, data, 0, (f"written: {path.as_posix()}",))


def _code(request: Request, verdicts: list[str], topo: "LoadedTopo") -> int:
    from brasscap.answer import code_of

    queries = sum(f.verdict == "query" and f.is_open for f in topo.findings)
    return code_of(verdicts, queries, request.strict)
