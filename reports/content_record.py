"""What `record issue` and `record verify` say, and page 1 of an issued report."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from .document import (
    Column,
    Document,
    Facts,
    Paragraph,
    Part,
    Row,
    Section,
    Table,
    VerdictLine,
    Vial,
)

NOT_A_SEAL = (
    "A record is neither a seal nor a signature: those are the licensed person's, "
    "under the rules of the place."
)
_SHOWN = 50
"""Rows of a table in the terminal; the object has all of them."""


def with_issue(report: Document, head: Mapping[str, Any]) -> Document:
    """Return a report with the issue on page 1: who, when, what is still open.

    Parameters
    ----------
    report : Document
    head : mapping
        The object of ``record.json``.
    """
    parts: list[Part] = [Facts(_facts(head))]
    still = head["open"]
    if still:
        parts.append(
            VerdictLine(
                "issued with open points",
                Vial(
                    "fails" if any(o["verdict"] == "fails" for o in still) else "query"
                ),
                str(len(still)),
                "; ".join(_open_words(one) for one in still),
            )
        )
    parts.append(Paragraph(NOT_A_SEAL, "soft"))
    first, *rest = report.sections
    section = Section(f"Issue {head['issue']}", tuple(parts), "issue")
    foot = f"issue {head['issue']}, {report.foot}".rstrip(", ")
    return replace(report, sections=(first, section, *rest), foot=foot)


def _facts(head: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    before = head["replaces"]
    instead = f"issue {before['issue']}" if before else "none: this is the first"
    pairs = [
        ("issued", f"{head['issued_utc']}, by {head['issued_by']}"),
        ("replaces", instead),
        ("criteria set", head["criteria_set"] or "not kept"),
    ]
    if head["note"]:
        pairs.append(("note", head["note"]))
    return tuple(pairs)


def _open_words(one: Mapping[str, str]) -> str:
    named = f"{one['query']} " if one["query"] else ""
    return f"{named}{one['about']} ({one['slug'] or one['verdict']})"


def refused_document(still: Sequence[Mapping[str, str]]) -> Document:
    """Return why no issue was made: what is open, and the two ways on."""
    rows = [
        Row((one["query"], one["about"], one["slug"], Vial(one["verdict"])))
        for one in still[:_SHOWN]
    ]
    columns = (
        Column("query", False),
        Column("about", False),
        Column("what", False),
        Column("verdict", False),
    )
    more = f"and {len(still) - _SHOWN} more" if len(still) > _SHOWN else ""
    named = next((one["query"] for one in still if one["query"]), "")
    step = f"brasscap decide accept query {named} --reason …" if named else ""
    steps = (
        Paragraph(f"next: {step or 'brasscap suspects'}", "step"),
        Paragraph("or:   brasscap record issue --with-open", "step"),
        Paragraph("which lists them on page 1", "why"),
    )
    count = f"{len(still)} {'point' if len(still) == 1 else 'points'}"
    return Document(
        f"not issued: {count} open; nothing was written",
        (
            Section("", (Table("open points", columns, tuple(rows), more),)),
            Section("", steps),
        ),
    )


def issued_document(
    head: Mapping[str, Any], files: int, digest: str, place: str
) -> Document:
    """Return what was issued, and the hash that stands for the whole of it.

    Parameters
    ----------
    head : mapping
        The object of ``record.json``.
    files : int
        How many files the record holds.
    digest : str
        SHA-256 of its manifest.
    place : str
        Its folder.
    """
    facts = (
        ("record", f"{place}, {files} files"),
        *_facts(head),
        ("result", head["verdict"]),
        ("SHA-256 of the manifest", digest),
    )
    parts: list[Part] = [Facts(facts)]
    if head["open"]:
        words = "; ".join(_open_words(one) for one in head["open"])
        parts.append(Paragraph(f"listed on page 1 as open: {words}"))
    parts.append(
        Paragraph(
            "Write the SHA-256 down in another place: whoever has it can show that "
            f"nothing was changed since. {NOT_A_SEAL}",
            "soft",
        )
    )
    step = f"next: brasscap record initial {head['issue']} --as checker --who INITIALS "
    step += "--ticked all"
    return Document(
        f"issued: {head['issue']}",
        (Section("", tuple(parts)), Section("", (Paragraph(step, "next"),))),
    )


def verify_document(found: Mapping[str, Any]) -> Document:
    """Return what `record verify` found: bytes, rebuilt values, what moved on since.

    Parameters
    ----------
    found : mapping
        The object of `brasscap/record-verify/1`.
    """
    parts: list[Part] = [_bytes_line(found), *_damage_rows(found)]
    parts += [_rebuilt_line(found), *_difference_rows(found)]
    if found["initials"]:
        words = (
            f"{one['who']} as {one['as']}, {one['when_utc']}: "
            + (", ".join(one["ticked"]) or "nothing ticked")
            for one in found["initials"]
        )
        parts.append(Paragraph("initialled: " + "; ".join(words)))
    parts += [Paragraph(f"note: {note}", "soft") for note in found["notes"]]
    parts += _live_parts(found)
    said = f"SHA-256 of the manifest  {found['manifest_sha256']}"
    written = found["written_down_sha256"]
    if written:
        same = written == found["manifest_sha256"]
        said += ", as it was written down" if same else f"; written down was {written}"
    parts.append(Paragraph(said))
    step = f"next: {found['next']}"
    parts.append(Paragraph(step, "next"))
    name = f"issue {found['issue']}" if found["issue"] else "this record"
    stands = found["verdict"] != "fails"
    said = "stands as recorded" if stands else "is not what was recorded"
    return Document(f"{name} {said}", (Section("", tuple(parts)),))


def _bytes_line(found: Mapping[str, Any]) -> VerdictLine:
    bad = len(found["damages"])
    words = f"{found['files_count']} files"
    if not bad:
        return VerdictLine("bytes", Vial("meets"), "", f"{words}, each as recorded")
    count = f"{bad} {'file' if bad == 1 else 'files'}"
    return VerdictLine("bytes", Vial("fails"), "", f"{count} not as recorded")


def _damage_rows(found: Mapping[str, Any]) -> list[Part]:
    if not found["damages"]:
        return []
    rows = tuple(Row((d["file"], d["what"])) for d in found["damages"][:_SHOWN])
    columns = (Column("file", False), Column("what", False))
    return [Table("files not as recorded", columns, rows)]


def _rebuilt_line(found: Mapping[str, Any]) -> VerdictLine:
    if found["rebuilt"] == "not tried":
        words = "not rebuilt: the bytes are not those that were recorded"
        return VerdictLine("result rebuilt", Vial("unchecked"), "", words)
    if found["rebuilt"] != "done":
        words = f"cannot be rebuilt: {found['rebuilt']}"
        return VerdictLine("result rebuilt", Vial("fails"), "", words)
    bad = len(found["differences"])
    if bad:
        words = f"{bad} {'value' if bad == 1 else 'values'} or verdicts differ"
        return VerdictLine("result rebuilt", Vial("fails"), "", words)
    words = (
        f"{found['values_count']} values to one unit of the last recorded digit "
        "(lengths 1e-6 m, ratios 1e-4), every verdict equal"
    )
    return VerdictLine("result rebuilt", Vial("meets"), "", words)


def _difference_rows(found: Mapping[str, Any]) -> list[Part]:
    if not found["differences"]:
        return []
    rows = tuple(
        Row((one["where"], str(one["recorded"]), str(one["found"])))
        for one in found["differences"][:_SHOWN]
    )
    columns = (Column("where", False), Column("recorded"), Column("rebuilt"))
    return [Table("rebuilt and recorded", columns, rows)]


def _live_parts(found: Mapping[str, Any]) -> list[Part]:
    live = found["live"]
    if live is None:
        words = "the record stands alone: no live job beside it to compare with"
        if found["damages"]:
            words = "live tables are compared with nothing that was changed: not done"
        return [Paragraph(words, "soft")]
    if not live:
        return [VerdictLine("live tables", Vial("meets"), "", "as recorded")]
    rows = tuple(Row((one["file"], one["how"])) for one in live[:_SHOWN])
    columns = (Column("file", False), Column("since the issue", False))
    return [
        VerdictLine(
            "live tables",
            Vial("query"),
            "",
            "moved on since; the record is not touched by that",
        ),
        Table("live tables and the record", columns, rows),
    ]


def initial_document(found: Mapping[str, Any], items: Mapping[str, str]) -> Document:
    """Return what a second reader has ticked, and what not.

    Parameters
    ----------
    found : mapping
        The object of `brasscap/record-initial/1`.
    items : mapping of str to str
        Each item that can be ticked, and what it means.
    """
    rows = tuple(
        Row(("ticked" if name in found["ticked"] else "not ticked", name, words))
        for name, words in items.items()
    )
    columns = (Column("", False), Column("item", False), Column("what", False))
    where = f"written: {found['file']}; the record itself is as it was"
    step = f"next: brasscap record verify {found['issue']}"
    title = f"issue {found['issue']} read by {found['who']} as {found['as']}"
    return Document(
        f"{title}, {found['when_utc']}",
        (
            Section("", (Table("what was read", columns, rows), Paragraph(where))),
            Section("", (Paragraph(NOT_A_SEAL, "soft"), Paragraph(step, "next"))),
        ),
    )


def issue_words(
    number: int, by: int | None, moved: Sequence[str], initialled: Sequence[str]
) -> str:
    """Return where one issue stands, in a sentence.

    Examples
    --------
    >>> issue_words(2, None, ["levels.csv"], ["CD"])
    'issue 2 stands, initialled by CD; the input has moved on since: levels.csv'
    >>> issue_words(1, 2, [], [])
    'issue 1 was replaced by issue 2'
    """
    if by is not None:
        return f"issue {number} was replaced by issue {by}"
    read = f", initialled by {', '.join(initialled)}" if initialled else ""
    if not moved:
        return f"issue {number} stands{read}; the input is as it was issued"
    named = ", ".join(moved[:3]) + (f" and {len(moved) - 3} more" if moved[3:] else "")
    return f"issue {number} stands{read}; the input has moved on since: {named}"
