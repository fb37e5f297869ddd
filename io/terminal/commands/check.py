"""``check``: is the input sound? Every fault and query of every file, in one go."""

from typing import TYPE_CHECKING, Any

from brasscap.arguments import Command, Option, Request

if TYPE_CHECKING:
    from collections.abc import Sequence

    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.networks import Finding
    from brasscap.progress import Progress
    from brasscap.reports.document import Document

COMMAND = Command(
    "",
    0,
    0,
    (Option("--only", "findings whose name contains one of these words", "WORDS"),),
    example="brasscap check --only heights,names",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Read everything, adjust nothing, write nothing."""
    from brasscap.answer import Answer, code_of
    from brasscap.failures import finding_object
    from brasscap.networks import InputError
    from brasscap.steps import read_job, require_job

    require_job(request.folder)
    loaded, findings = None, ()
    try:
        loaded = read_job(request, progress)
        findings = loaded.findings
    except InputError as error:
        findings = error.findings
    faults = sum(f.verdict == "fault" for f in findings)
    queries = sum(f.verdict == "query" and f.is_open for f in findings)
    verdict = "fault" if faults else "query" if queries else "meets"
    shown = chosen(findings, request.values.get("only", ""))
    data: dict[str, Any] = {
        "schema": "brasscap/check/1",
        "verdict": verdict,
        "faults": faults,
        "open_queries": queries,
        "findings": [finding_object(f) for f in shown],
        "contents": _contents(loaded),
        "input_hash": loaded.input_hash if loaded else "",
    }
    document = _document(loaded, findings, shown)
    return Answer(document, data, code_of([verdict], queries, request.strict))


def chosen(findings: "Sequence[Finding]", words: str) -> "list[Finding]":
    """Return the findings whose slug has one of some words, comma between them.

    The words are the subjects of INTERFACE: ``heights`` finds height-looks-like-feet.
    """
    wanted = [word.strip().rstrip("s") for word in words.split(",") if word.strip()]
    return [f for f in findings if not wanted or any(w in f.slug for w in wanted)]


def _contents(loaded: "Loaded | None") -> dict[str, int]:
    if loaded is None:
        return {}
    network = loaded.network
    return {
        "marks": len(network.marks),
        "known_marks": len(set(network.known.mark.tolist())),
        "set_ups": len(network.set_ups),
        "baselines": len(network.vectors),
        "positions": len(network.positions),
        "sessions": len(network.sessions),
    }


def _document(
    loaded: "Loaded | None", findings: "Sequence[Finding]", shown: "Sequence[Finding]"
) -> "Document":
    from brasscap.failures import counted, findings_section
    from brasscap.reports.document import Document, Paragraph, Section

    faults = sum(f.verdict == "fault" for f in findings)
    queries = sum(f.verdict == "query" and f.is_open for f in findings)
    said = [counted(faults, "fault")] if faults else []
    said += [counted(queries, "open query", "open queries")] if queries else []
    title = f"input: {' and '.join(said) or 'no fault and no open query'}"
    parts = []
    if loaded is not None:
        counts = [
            counted(n, _NOUNS[k]) for k, n in _contents(loaded).items() if n
        ]
        parts = [Paragraph(", ".join(counts)), Paragraph(loaded.network.frame.describe())]
    step = "next: brasscap adjust minimal"
    if faults:
        slug = next(f.slug for f in findings if f.verdict == "fault")
        step = f"next: mend the faults; what one means: brasscap help {slug}"
    elif queries:
        name = next(f.query for f in findings if f.verdict == "query" and f.is_open)
        step += f"; a query is answered with  brasscap decide accept query {name} --reason …"
    sections = (
        Section("", tuple(parts)),
        findings_section(shown),
        Section("", (Paragraph(step, "next"),)),
    )
    return Document(title, sections)


_NOUNS = {
    "marks": "mark",
    "known_marks": "known mark",
    "set_ups": "set-up",
    "baselines": "baseline",
    "positions": "position",
    "sessions": "session",
}
