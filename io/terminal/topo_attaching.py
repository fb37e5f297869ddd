"""``topo attach``: what each shot hangs on, down to the bytes of the record."""

from pathlib import Path
from typing import TYPE_CHECKING

from brasscap.arguments import Request

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.follow.descent import Descent
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.io.tables.topo_load import LoadedTopo
    from brasscap.networks import Finding

_MISMATCH = 5
"""Exit code: a record does not match."""


def attach(
    request: Request, loaded: "Loaded", topo: "LoadedTopo", control: "Adjustment"
) -> "Answer":
    """Say what each shot hangs on, and whether the records booked are there, sound."""
    from dataclasses import replace

    from brasscap.adjust.follow.descent import instruments
    from brasscap.adjust.follow.topo import learnt_hung
    from brasscap.answer import Answer, code_of
    from brasscap.networks import name_queries
    from brasscap.reports.content_topo_attach import attach_document
    from brasscap.reports.objects_topo import attach_object
    from brasscap.steps import head

    hung, _ = learnt_hung(topo.day, control, loaded.job.topo)
    answers = {d.answers_query: d.name for d in loaded.decisions if d.answers_query}
    of_records = record_findings(request.folder, hung.descent)
    findings = tuple(name_queries((*topo.findings, *of_records), answers))
    heading = replace(head(request, loaded), findings=findings)
    stood = instruments(topo.day.polar, control.network)
    polar = () if topo.day.polar is None else topo.day.polar.name
    data = attach_object(hung, findings, stood, polar)
    unsound = any(f.slug == "record-changed" for f in of_records)
    if of_records:
        data["verdict"] = "fails" if unsound else "query"
    queries = sum(f.verdict == "query" and f.is_open for f in findings)
    code = code_of([data["verdict"]], queries, request.strict)
    document = attach_document(hung, heading, stood)
    return Answer(document, data, _MISMATCH if unsound else code)


def record_findings(folder: Path, found: "Descent") -> "list[Finding]":
    """Return a query for every record that shots hang on and that is not there whole.

    Parameters
    ----------
    folder : Path
        Of the job.
    found : Descent
    """
    import numpy as np

    from brasscap.io.record.issues import RECORDS, shelf
    from brasscap.io.record.manifest import damages
    from brasscap.networks import Finding

    numbers, counts = np.unique(found.record[found.record > 0], return_counts=True)
    issues = shelf(folder).issues
    there = ", ".join(map(str, issues)) or "none"
    made = []
    for number, count in zip(numbers.tolist(), counts.tolist(), strict=True):
        about = f"issue {number}"
        booked = f"record {number} of {count} shots"
        if number not in issues:
            made.append(
                Finding(
                    "record-not-there",
                    "query",
                    about,
                    booked=booked,
                    against=f"an issue in {RECORDS}/; there are {there}",
                    mend=f"bring {RECORDS}/{number} back, or correct record of the "
                    "shots; without it they cannot be moved",
                )
            )
            continue
        bad = damages(folder / RECORDS / str(number))
        if bad:
            made.append(
                Finding(
                    "record-changed",
                    "query",
                    about,
                    booked=booked,
                    against=f"its bytes as recorded; {bad[0].file}: {bad[0].what}",
                    mend="take a copy of the record from another place, then "
                    f"brasscap record verify {number}",
                )
            )
    return made
