"""``brasscap`` alone: where the job stands; nothing is computed or written."""

from typing import TYPE_CHECKING, Any

from brasscap.arguments import Request

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress
    from brasscap.reports.judged import Judged


def run(request: Request, progress: "Progress") -> "Answer":
    """Read the tables and the kept results, and say what comes next."""
    from brasscap.answer import Answer
    from brasscap.reports.content import next_step
    from brasscap.reports.content_check import check_next, status_document
    from brasscap.reports.content_verdicts import blunder_line, mode_line
    from brasscap.reports.objects import findings_objects, variance_factor_object
    from brasscap.steps import exit_code, head, read_job

    loaded = read_job(request, progress)
    kept = kept_solutions(loaded)
    at_fault = [judged for judged in kept if judged.verdict in ("fails", "query")]
    queries = [f for f in loaded.findings if f.verdict == "query" and f.is_open]
    if not kept:
        step = "brasscap run"
    elif at_fault:
        step = next_step(at_fault[0])
    else:
        step = check_next(0, queries) if queries else next_step(kept[-1])
    units = head(request, loaded).units
    lines = [mode_line(judged) for judged in kept]
    if kept:
        lines.append(blunder_line(kept[0], units))
    verdicts = [judged.verdict for judged in kept]
    data: dict[str, Any] = {
        "schema": "brasscap/stands/1",
        "verdict": _overall(verdicts, bool(queries)),
        "solutions": [
            {
                "datum": judged.adjustment.datum.mode,
                "verdict": judged.verdict,
                "variance_factor": variance_factor_object(judged),
            }
            for judged in kept
        ],
        "findings": findings_objects(loaded.findings),
        "next": step,
    }
    document = status_document(loaded.findings, lines, head(request, loaded), step)
    return Answer(document, data, exit_code(verdicts, loaded, request))


def kept_solutions(loaded: "Loaded") -> "list[Judged]":
    """Return the solutions that results/ holds for exactly this input."""
    if not (loaded.folder / "results").is_dir():
        return []
    from brasscap import __version__
    from brasscap.io.results import read_result, result_key
    from brasscap.reports.judged import judge

    made = []
    for mode in ("minimal", "constrained"):
        network = loaded.network
        key = result_key(loaded.input_hash, network, mode, None, __version__)
        kept = read_result(loaded.folder, network, mode, key)
        if kept is not None:
            made.append(judge(kept))
    return made


def _overall(verdicts: list[str], queries: bool) -> str:
    from brasscap.reports.judged import worst

    if not verdicts:
        return "query" if queries else "unchecked"
    return worst({*verdicts, "query"} if queries else set(verdicts))
