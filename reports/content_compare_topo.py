"""What `record compare` says of shots and of what is made from them."""

from collections.abc import Mapping, Sequence
from typing import Any

from .document import Column, Part, Row, Table, Vial
from .rounding import number

_SHOWN, _NAMED = 50, 8
"""Rows of a table, names in a line; the object has all of them."""
_WAYS = ("north", "east", "height")


def shot_words(found: Mapping[str, Any] | None) -> list[str]:
    """Return what changed among the shots, a line each; none without a day."""
    if found is None:
        return []
    lines = []
    for what in ("added", "removed"):
        names = found[f"points_{what}"]
        if names:
            lines.append(f"shots {what}: {_some(names)}")
    points = found["points"]
    moved = [p["name"] for p in points if any(p[f"{way}_mm"] for way in _WAYS)]
    worth = [p["name"] for p in points if _worth(p)]
    booked = [p["name"] for p in points if p["otherwise"]]
    for names, words in (
        (moved, "lie elsewhere"),
        (worth, "have another sd, by 0.1 mm and more"),
        (booked, "are booked otherwise, or hang on something else"),
    ):
        if names:
            lines.append(f"shots: {len(names)} {words}: {_some(names)}")
    count = len(found["verdicts"])
    lines += [f"verdicts on shots: {count} differ"] if count else []
    return lines or ["shots: the same"]


def _worth(point: Mapping[str, Any]) -> bool:
    return any(abs(point[f"sd_{way}_mm"] or 0.0) >= 0.1 for way in _WAYS)


def _some(names: Sequence[str]) -> str:
    more = len(names) - _NAMED
    said = ", ".join(names[:_NAMED])
    return f"{said} and {more} more" if more > 0 else said


def shot_parts(found: Mapping[str, Any] | None) -> tuple[Part, ...]:
    """Return the tables of points and verdicts that differ."""
    if found is None:
        return ()
    parts: list[Part] = []
    points = found["points"]
    if points:
        heads = [f"{way} (mm)" for way in _WAYS] + [f"sd {way} (mm)" for way in _WAYS]
        columns = (
            Column("point", False),
            Column("kind", False),
            *(Column(head) for head in heads),
            Column("otherwise", False, below=True),
        )
        rows = tuple(_row(point) for point in points[:_SHOWN])
        parts.append(
            Table(
                "points that differ, second minus first", columns, rows, _more(points)
            )
        )
    changed = found["verdicts"]
    if changed:
        rows = tuple(
            Row(
                (
                    one["about"],
                    *judged_cells(one["before"]),
                    *judged_cells(one["after"]),
                )
            )
            for one in changed[:_SHOWN]
        )
        judged = ("about", "", "before", "", "after")
        columns = tuple(Column(head, False) for head in judged)
        parts.append(Table("shots judged otherwise", columns, rows, _more(changed)))
    return tuple(parts)


def _row(point: Mapping[str, Any]) -> Row:
    keys = [f"{way}_mm" for way in _WAYS] + [f"sd_{way}_mm" for way in _WAYS]
    figures = ("" if point[k] is None else number(point[k], "small mm") for k in keys)
    otherwise = "; ".join(
        f"{one['what'].replace('_', ' ')}: {one['before']}, then {one['after']}"
        for one in point["otherwise"]
    )
    return Row((point["name"], point["kind"], *figures, otherwise))


def _more(rows: Sequence[Any]) -> str:
    more = len(rows) - _SHOWN
    return f"and {more} more; --json has all of them" if more > 0 else ""


def judged_cells(verdict: str) -> tuple[str | Vial, str]:
    """Return a verdict as vial and word; words alone where there was none.

    Examples
    --------
    >>> judged_cells("")
    ('', 'not there')
    """
    return (Vial(verdict), verdict) if verdict else ("", "not there")
