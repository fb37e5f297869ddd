"""What several commands do: read the job, adjust it or reuse, head a report."""

import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from brasscap.arguments import Request
from brasscap.networks import CannotWrite, Finding, InputError, name_queries

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.cluster import Workers
    from brasscap.io.tables.load import Loaded
    from brasscap.networks.queries import Query
    from brasscap.progress import Progress
    from brasscap.reports.heading import DecisionLine, Heading


class Adjusted(NamedTuple):
    """An adjustment, and what is to be said about its files."""

    adjustment: "Adjustment"
    notes: tuple[str, ...]


def read_job(request: Request, progress: "Progress") -> "Loaded":
    """Return the job, with queries where criteria or evidence have changed.

    Raises
    ------
    InputError
        The folder is no job, or a fault is left in a table.
    """
    from brasscap.io.evidence import criteria_findings
    from brasscap.io.kept_evidence import evidence_findings
    from brasscap.io.tables.load import load

    require_job(request.folder)
    progress("reading the tables")
    loaded = load(request.folder, check_only=request.command == "check")
    decided = {
        d.about.removeprefix("tests."): d.name
        for d in loaded.decisions
        if d.action == "criteria" and d.in_force
    }
    changed = [
        *criteria_findings(request.folder, loaded.job, decided),
        *evidence_findings(request.folder, loaded.decisions),
    ]
    if not changed:
        return loaded
    findings = name_queries([*loaded.findings, *changed], loaded.answers)
    return replace(loaded, findings=tuple(findings))


def read_for_result(request: Request, progress: "Progress") -> "Loaded":
    """Return the job for a command that is done with its tables: large ones let go."""
    from brasscap.io.tables.let_go import with_tables_let_go

    return with_tables_let_go(read_job(request, progress))


def require_job(folder: Path) -> None:
    """Raise unless the folder holds a job."""
    try:
        if (folder / "job.toml").is_file():
            return
        here = "no job.toml in it" if folder.is_dir() else "no folder of this name"
    except OSError as error:
        here = f"no way in: {(error.strerror or 'it cannot be read').lower()}"
    raise InputError(
        [
            Finding(
                "not-a-job",
                "fault",
                f"folder {folder.resolve() if folder == Path() else folder}",
                against=f"a folder with job.toml and tables; there is {here}",
                mend="go to a job's folder, name it with --job DIR, or start one with  "
                "brasscap new DIR --kind gnss",
            )
        ]
    )


def adjusted(
    request: Request,
    loaded: "Loaded",
    mode: str,
    progress: "Progress",
    over: str | Sequence[str] | None = None,
    keep: bool = True,
    workers: "Workers | None" = None,
) -> Adjusted:
    """Return the adjustment of a mode: the one kept in results/, else a new one.

    Parameters
    ----------
    keep : bool
        Whether to write results/ and, the first time, evidence/criteria.json. A
        folder that cannot be written is a note, not a failure.
    workers : Workers, optional
        Who share the work; a kept result is then not used.
    """
    from brasscap import __version__
    from brasscap.adjust import estimate
    from brasscap.io.results import as_kept, read_result, result_key

    network = loaded.network
    key = result_key(loaded.computed_hash, network, mode, over, __version__)
    if workers is not None:
        far = "scheduler" in request.values
        made = _shared(loaded, mode, progress, over, workers, far)
        return Adjusted(made, _keep(request, loaded, made, key) if keep else ())
    kept = read_result(loaded.folder, network, mode, key)
    if kept is not None:
        return Adjusted(kept, _keep(request, loaded, None, key) if keep else ())
    progress(f"adjusting, {mode}")
    made = as_kept(estimate(network, mode, over=over, progress=progress))
    return Adjusted(made, _keep(request, loaded, made, key) if keep else ())


def _shared(
    loaded: "Loaded",
    mode: str,
    progress: "Progress",
    over: str | Sequence[str] | None,
    workers: "Workers",
    far: bool,
) -> "Adjustment":
    """Return an adjustment that workers made; they leave results/domains/.

    ``far``: they may be of other machines.
    """
    from brasscap import __version__
    from brasscap.adjust.cluster import estimate_in_parts
    from brasscap.io.domain_files import FolderStore

    progress(f"adjusting, {mode}")
    store = FolderStore(loaded.folder.resolve() / "results" / "domains", far)
    store.clear()
    made = estimate_in_parts(
        loaded.network,
        mode,
        workers=workers,
        store=store,
        over=over,
        progress=progress,
    )
    store.close(
        {
            "mode": mode,
            "datum": made.datum.text,
            "input": loaded.input_hash,
            "version": __version__,
            "unknowns": int(made.columns.max()) + 1,
            "iterations": made.iterations,
        }
    )
    return made


def _keep(
    request: Request, loaded: "Loaded", made: "Adjustment | None", key: str
) -> tuple[str, ...]:
    from brasscap.io.evidence import keep_criteria
    from brasscap.io.results import keep_result

    notes = []
    try:
        keep_criteria(loaded.folder, loaded.job, time_utc(request))
    except CannotWrite as error:
        notes.append(f"the criteria are not kept: {error}")
    try:
        if made is not None:
            keep_result(loaded.folder, made, key)
    except CannotWrite as error:
        notes.append(f"the result is not kept: {error}")
    return tuple(notes)


def time_utc(request: Request) -> str:
    """Return the time to write down: the one of ``--dated``, else now, in UTC."""
    from datetime import UTC, datetime

    from brasscap.arguments import wrong

    given = request.values.get("dated")
    if given is None:
        return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    try:
        when = datetime.fromisoformat(given)
    except ValueError:
        raise wrong(
            f"--dated {given!r} is no time; write it as 2026-05-04T14:30:00Z"
        ) from None
    when = when.replace(tzinfo=UTC) if when.tzinfo is None else when
    return when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def head(request: Request, loaded: "Loaded") -> "Heading":
    """Return the job's own words, and what a stranger needs to rebuild the result."""
    from brasscap.io.evidence import criteria_set
    from brasscap.reports.heading import Heading

    job = loaded.job
    return Heading(
        title=job.title,
        surveyor=job.surveyor_in_charge,
        licence=job.licence,
        unit=request.values.get("units") or job.length_unit,
        angle=job.angle_unit,
        dated=time_utc(request) if "dated" in request.values else "",
        input_hash=loaded.input_hash,
        versions=_versions(),
        decisions=_decision_lines(loaded),
        findings=loaded.findings,
        criteria_set=criteria_set(loaded.folder),
        file_hashes=_file_hashes(loaded),
    )


def _decision_lines(loaded: "Loaded") -> "tuple[DecisionLine, ...]":
    from brasscap.reports.heading import DecisionLine

    later = {d.supersedes: d.name for d in loaded.decisions if d.supersedes}
    return tuple(
        DecisionLine(
            name=d.name,
            action=d.action,
            about=f"{d.about_kind} {d.about}".strip(),
            reason=d.reason,
            who=d.who,
            when=d.when_utc,
            value=d.value,
            evidence=d.evidence,
            answers=d.answers_query,
            superseded_by=later.get(d.name, ""),
        )
        for d in loaded.decisions
    )


def _file_hashes(loaded: "Loaded") -> tuple[tuple[str, str], ...]:
    from brasscap.io.streams import file_hash

    names = sorted({"job.toml", *loaded.files})
    return tuple((name, file_hash(loaded.folder / name)) for name in names)


def _versions() -> tuple[tuple[str, str], ...]:
    from brasscap import __version__

    rows = [("brasscap", __version__), ("Python", sys.version.split()[0])]
    for name in ("numpy", "scipy", "pyproj"):
        module = sys.modules.get(name)
        if module is not None:
            rows.append((name, str(module.__version__)))
    return tuple(rows)


def exit_code(
    verdicts: Sequence[str],
    loaded: "Loaded",
    request: Request,
    queries: "Sequence[Query] | None" = None,
) -> int:
    """Return the exit code of verdicts and of open queries.

    Parameters
    ----------
    verdicts : sequence of str
    loaded : Loaded
    request : Request
    queries : sequence of Query, optional
        Those of input and results, where they are known: one that a decision answers
        then no longer counts under ``--strict``; what fails fails all the same.
    """
    from brasscap.answer import code_of

    asked = sum(f.verdict == "query" and f.is_open for f in loaded.findings)
    if queries is not None:
        asked = sum(q.verdict == "query" and q.state == "open" for q in queries)
        verdicts = [v for v in verdicts if v != "query"]
    return code_of(verdicts, asked, request.strict)
