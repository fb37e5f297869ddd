"""``record initial``: a second reader's initials, with what was read."""

from typing import TYPE_CHECKING, Any

from brasscap.arguments import Request, nearest, wrong

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.progress import Progress


def initial(request: Request, progress: "Progress") -> "Answer":
    """Write initials and ticks beside a record whose every byte is as recorded."""
    from brasscap.answer import Answer
    from brasscap.io.record.initials import ITEMS, add_initials
    from brasscap.io.record.issues import head_of, record_folder
    from brasscap.io.record.manifest import damages, manifest_hash
    from brasscap.networks import RecordDiffers
    from brasscap.reports.content_record import initial_document
    from brasscap.steps import time_utc

    word = request.words[1]
    record = record_folder(request.folder, word)
    progress("checking every byte")
    bad = damages(record)
    if bad:
        raise RecordDiffers(
            f"record {word} is not what was recorded: {bad[0].file}: {bad[0].what}; "
            f"nothing was written; brasscap record verify {word}"
        )
    head = head_of(record)
    who, role = _who(request, head["issued_by"]), request.values.get("as", "")
    if not role:
        raise wrong("record initial: as what? --as checker or --as approver")
    ticked = _ticked(request, list(ITEMS))
    note, when = request.values.get("note", ""), time_utc(request)
    path = add_initials(record, who, role, when, ticked, note)
    data: dict[str, Any] = {
        "schema": "brasscap/record-initial/1",
        "issue": head["issue"],
        "who": who,
        "as": role,
        "when_utc": when,
        "ticked": ticked,
        "not_ticked": [item for item in ITEMS if item not in ticked],
        "note": note,
        "manifest_sha256": manifest_hash(record),
        "file": path.as_posix(),
    }
    return Answer(initial_document(data, ITEMS), data)


def _who(request: Request, issuer: str) -> str:
    who = request.values.get("who", "").strip()
    if not who:
        raise wrong("record initial: who read it? --who INITIALS; nothing was written")
    if who.casefold() == issuer.casefold():
        raise wrong(
            f"record initial: {issuer} issued it; a second reader is somebody else; "
            "nothing was written"
        )
    return who


def _ticked(request: Request, items: list[str]) -> list[str]:
    """Return the items that were read, in their order."""
    given = request.values.get("ticked", "")
    named = [item.strip() for item in given.split(",") if item.strip()]
    if named == ["all"]:
        return items
    unknown = [item for item in named if item not in items]
    if unknown or not named:
        what = f"no item {unknown[0]!r}" if unknown else "what was read?"
        hint = nearest(unknown[0], items) if unknown else ""
        raise wrong(
            f"record initial: {what}{hint}; --ticked takes names with commas, or all: "
            f"{', '.join(items)}; nothing was written"
        )
    return [item for item in items if item in named]
