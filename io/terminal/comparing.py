"""``record compare``: two issues, in input, decisions, criteria, results."""

from math import hypot
from pathlib import Path
from typing import TYPE_CHECKING, Any

from brasscap.arguments import Request

_UNIT_MM = 1e-3
"""One unit of the last recorded digit."""

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.progress import Progress


def compare(request: Request, progress: "Progress") -> "Answer":
    """Say what changed from one record to another; nothing is computed anew."""
    from brasscap.answer import Answer
    from brasscap.io.record.changes import input_changes
    from brasscap.io.record.issues import head_of, record_folder, result_of
    from brasscap.io.record.manifest import damages
    from brasscap.networks import RecordDiffers
    from brasscap.reports.content_compare import compare_document

    first, second = (record_folder(request.folder, w) for w in request.words[1:])
    for folder in (first, second):
        progress(f"checking every byte of {folder}")
        bad = damages(folder)
        if bad:
            raise RecordDiffers(
                f"record {folder} is not what was recorded: {bad[0].file}: "
                f"{bad[0].what}; brasscap record verify {folder}"
            )
    progress("comparing")
    changes = [
        {
            "table": one.table,
            "what": one.what,
            "about": one.about,
            "column": one.column,
            "before": one.before,
            "after": one.after,
        }
        for one in input_changes(first, second)
    ]
    heads = (head_of(first), head_of(second))
    results = (result_of(first), result_of(second))
    data: dict[str, Any] = {
        "schema": "brasscap/record-compare/1",
        "records": [_named(f, h) for f, h in zip((first, second), heads, strict=True)],
        "inputs": [one for one in changes if one["table"] != "decisions"],
        "decisions": [one for one in changes if one["table"] == "decisions"],
        "criteria": criteria_changes(*heads),
        **_results(*results),
    }
    return Answer(compare_document(data), data)


def _named(folder: Path, head: dict[str, Any]) -> dict[str, Any]:
    keys = ("issue", "issued_utc", "issued_by", "verdict", "criteria_set")
    return {"record": folder.as_posix()} | {key: head[key] for key in keys}


def criteria_changes(
    first: dict[str, Any], second: dict[str, Any]
) -> list[dict[str, str]]:
    """Return which tests and specifications differ, as text before and after."""
    found = []
    before, after = (_flat(head["criteria"]) for head in (first, second))
    for key in sorted(before.keys() | after.keys()):
        was, now = before.get(key, ""), after.get(key, "")
        if was != now:
            found.append({"criterion": key, "before": was, "after": now})
    return found


def _flat(thing: dict[str, Any], start: str = "") -> dict[str, str]:
    made: dict[str, str] = {}
    for key, value in thing.items():
        if isinstance(value, dict):
            made |= _flat(value, f"{start}{key} ")
        else:
            made[f"{start}{key}"] = str(value)
    return made


def _results(first: dict[str, Any], second: dict[str, Any]) -> dict[str, Any]:
    """Return coordinates and verdicts that differ, of the constrained solutions."""
    from brasscap.comparing_topo import topo_changes

    one, other = (result["solutions"][-1] for result in (first, second))
    refused = ""
    if first["frame"] != second["frame"]:
        refused = f"other frames: {first['frame']}, and {second['frame']}"
    marks = [_by_name(solution["marks"], "station") for solution in (one, other)]
    return {
        "coordinates_refused": refused,
        "coordinates": [] if refused else coordinate_changes(*marks),
        "marks_added": [name for name in marks[1] if name not in marks[0]],
        "marks_removed": [name for name in marks[0] if name not in marks[1]],
        "verdicts": verdict_changes(one, other),
        "topo": topo_changes(first, second, refused),
    }


def _by_name(rows: list[dict[str, Any]], *keys: str) -> dict[str, dict[str, Any]]:
    return {" ".join(str(row[key]) for key in keys): row for row in rows}


def coordinate_changes(
    first: dict[str, dict[str, Any]], second: dict[str, dict[str, Any]]
) -> list[dict[str, Any]]:
    """Return marks whose recorded coordinates differ by more than one last unit.

    A limit is 1.96 times the root of both variances, as if the two were independent.
    They share observations as a rule, so it is on the wide side: what is over it has
    changed, what is under it may have.
    """
    found = []
    for name in first.keys() & second.keys():
        row: dict[str, Any] = {"station": name}
        over = differs = False
        for way, sd in (("north", "north"), ("east", "east"), ("height", "up")):
            by, limit = _by(first[name], second[name], way, sd)
            row |= {f"{way}_mm": by, f"limit_{way}_mm": limit}
            if by is not None and limit is not None and abs(by) > _UNIT_MM:
                differs, over = True, over or abs(by) > max(limit, _UNIT_MM)
        if differs:
            found.append(row | {"over": over})
    return sorted(found, key=lambda row: (not row["over"], row["station"]))


def _by(
    one: dict[str, Any], other: dict[str, Any], way: str, sd: str
) -> tuple[float | None, float | None]:
    """Return difference and limit of one coordinate, mm; None where there is none."""
    before, after = one.get(f"{way}_m"), other.get(f"{way}_m")
    if before is None or after is None:
        return None, None
    sds = [record.get(f"sd_{sd}_m") or 0.0 for record in (one, other)]
    return round(1000 * (after - before), 3), round(1960 * hypot(*sds), 3)


def verdict_changes(
    first: dict[str, Any], second: dict[str, Any]
) -> list[dict[str, str]]:
    """Return what is judged otherwise: solution, factor, tests, known marks."""
    pairs = [
        ("solution", first["verdict"], second["verdict"]),
        (
            "variance factor",
            first["variance_factor"]["verdict"],
            second["variance_factor"]["verdict"],
        ),
    ]
    for part, keys in (("tests", ("kind", "name")), ("known", ("station",))):
        one, other = (_by_name(side[part], *keys) for side in (first, second))
        label = "known mark " if part == "known" else ""
        for name in sorted(one.keys() | other.keys()):
            was, now = (s.get(name, {}).get("verdict", "") for s in (one, other))
            pairs.append((f"{label}{name}", was, now))
    return [
        {"about": about, "before": was, "after": now}
        for about, was, now in pairs
        if was != now
    ]
