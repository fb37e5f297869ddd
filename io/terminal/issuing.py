"""``record issue``: copies, result, report, manifest; one folder or nothing."""

from typing import TYPE_CHECKING, Any

from brasscap.arguments import Request, wrong

if TYPE_CHECKING:
    from collections.abc import Sequence

    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.networks.queries import Query
    from brasscap.progress import Progress
    from brasscap.rebuilding import Rebuilt
    from brasscap.reports.judged import Judged


def issue(request: Request, progress: "Progress") -> "Answer":
    """Freeze the job as its next issue, or say what is open."""
    from brasscap.answer import Answer
    from brasscap.io.record.issues import RECORDS, shelf
    from brasscap.io.record.manifest import manifest_hash, recorded_files
    from brasscap.queries import all_queries
    from brasscap.reports.content_record import issued_document, refused_document
    from brasscap.reports.judged import judge
    from brasscap.steps import adjusted, read_job

    loaded = read_job(request, progress)
    who = request.values.get("who") or loaded.job.who
    if not who:
        raise wrong(
            "record issue: who issues it? give --who INITIALS, or state [job] who in "
            "job.toml; nothing was written"
        )
    made = adjusted(request, loaded, "constrained", progress)
    judged = judge(made.adjustment)
    queries = all_queries(request, loaded, made.adjustment, progress)
    still = open_points(queries.all, judged)
    data: dict[str, Any] = {
        "schema": "brasscap/record-issue/1",
        "issue": None,
        "open": still,
        "verdict": judged.verdict,
    }
    if still and "with-open" not in request.values:
        return Answer(refused_document(still), data, 1, made.notes)
    on = shelf(request.folder)
    head = _freeze(request, loaded, on.next, who, still, progress)
    place = request.folder / RECORDS / str(on.next)
    digest = manifest_hash(place)
    files = len(recorded_files(place)) + 1
    data |= head | {"schema": data["schema"], "manifest_sha256": digest}
    data |= {"folder": place.as_posix(), "files_count": files}
    notes = made.notes + tuple(
        f"{RECORDS}/{name} is half made, left by something that was stopped; it is no "
        "issue and may be deleted"
        for name in on.half_made
    )
    document = issued_document(head, files, digest, place.as_posix())
    return Answer(document, data, 0, notes)


def open_points(queries: "Sequence[Query]", judged: "Judged") -> list[dict[str, str]]:
    """Return what an examiner still asks: queries without a decision, what fails.

    What fails is asked as queries, and closed with them. What nothing checks is in the
    report; it is neither a pass nor a failure.
    """
    made = [
        {"query": q.name, "about": q.about, "slug": q.slug, "verdict": q.verdict}
        for q in queries
        if q.verdict != "unchecked" and q.state == "open"
    ]
    if any(q.verdict == "fails" for q in queries):
        return made
    factor, tests = judged.variance_factor, judged.tests
    failed = [("variance factor", factor.verdict)]
    failed += [
        (f"{kind} {tests.name[i]}", tests.verdict[i])
        for i, kind in enumerate(tests.kind)
    ]
    made += [
        {"query": "", "about": about, "slug": "", "verdict": "fails"}
        for about, verdict in failed
        if verdict == "fails"
    ]
    return made


def _freeze(
    request: Request,
    loaded: "Loaded",
    number: int,
    who: str,
    still: list[dict[str, str]],
    progress: "Progress",
) -> dict[str, Any]:
    """Write the record; its result is computed from the copies themselves."""
    from brasscap.io.record.copies import INPUT, copy_job
    from brasscap.io.record.issues import new_record, write_contents
    from brasscap.rebuilding import rebuilt

    with new_record(request.folder, number) as part:
        progress("copying the tables")
        copy_job(request.folder, part / INPUT, loaded.job.frame.geoid)
        made = rebuilt(part / INPUT, progress)
        _require_same(loaded, made)
        head = _head(request, made, number, who, still)
        write_contents(part, head, made.result, _report(request, made, head, progress))
    return head


def _require_same(loaded: "Loaded", made: "Rebuilt") -> None:
    """Raise if the tables were changed while they were copied."""
    from brasscap.networks import Finding, InputError

    if loaded.input_hash == made.loaded.input_hash:
        return
    raise InputError(
        [
            Finding(
                "changed-meanwhile",
                "fault",
                "tables of the job",
                booked="changed while they were copied",
                against="a job that stands still while it is issued",
                mend="save and close the tables, then issue again",
            )
        ]
    )


def _head(
    request: Request,
    made: "Rebuilt",
    number: int,
    who: str,
    still: list[dict[str, str]],
) -> dict[str, Any]:
    from brasscap import __version__
    from brasscap.io.evidence import criteria, criteria_set
    from brasscap.io.record.issues import replaced
    from brasscap.io.record.manifest import plain_object
    from brasscap.io.record.versions import versions
    from brasscap.steps import time_utc

    loaded = made.loaded
    return {
        "schema": "brasscap/record-head/1",
        "issue": number,
        "title": loaded.job.title,
        "issued_utc": time_utc(request),
        "issued_by": who,
        "note": request.values.get("note", ""),
        "replaces": replaced(request.folder, number),
        "open": still,
        "verdict": made.constrained.verdict,
        "input_hash": loaded.input_hash,
        "criteria": plain_object(criteria(loaded.job)),
        "criteria_set": criteria_set(loaded.folder),
        "decisions_count": len(loaded.decisions),
        "versions": versions(__version__, loaded.job, loaded.folder),
    }


def _report(
    request: Request, made: "Rebuilt", head: dict[str, Any], progress: "Progress"
) -> str:
    from brasscap.commands.report import full_report
    from brasscap.reports.content_record import with_issue
    from brasscap.reports.html import html

    dated = Request(request.command, (), request.values | {"dated": head["issued_utc"]})
    solutions = made.constrained, made.minimal
    report = full_report(dated, made.loaded, *solutions, progress, topo=made.topo)
    return html(with_issue(report, head))
