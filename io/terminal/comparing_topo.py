"""The topographic days of two records: which points differ, and in what."""

from typing import Any

_UNIT_MM = 1e-3
"""One unit of the last recorded digit."""
_TOLD_MM = 0.1
"""Smallest change of an sd that is told; every change of the control makes some."""
_WORDS = ("code", "line", "hangs_on", "booked_issue")
_WAYS = ("north", "east", "height")


def topo_changes(
    first: dict[str, Any], second: dict[str, Any], refused: str
) -> dict[str, Any] | None:
    """Return what differs among shots and made points; None where neither has any.

    Parameters
    ----------
    first, second : dict
        Recorded results.
    refused : str
        Why coordinates cannot be compared; empty where they can.
    """
    days = [result.get("topo") for result in (first, second)]
    if days == [None, None]:
        return None
    one, other = (_points(day) for day in days)
    rows = [_point(one[name], other[name], refused) for name in one if name in other]
    return {
        "points_added": [name for name in other if name not in one],
        "points_removed": [name for name in one if name not in other],
        "points": [row for row in rows if row is not None],
        "verdicts": _verdicts(*days),
    }


def _points(day: dict[str, Any] | None) -> dict[str, dict[str, Any]]:
    return {point["name"]: point for point in (day or {"points": []})["points"]}


def _point(
    before: dict[str, Any], after: dict[str, Any], refused: str
) -> dict[str, Any] | None:
    """Return how a point differs; None where it does not."""
    row: dict[str, Any] = {"kind": after["kind"], "name": after["name"]}
    differs = False
    for way in _WAYS:
        by = None if refused else _by(before[f"{way}_m"], after[f"{way}_m"])
        row[f"{way}_mm"] = by
        differs = differs or (by is not None and abs(by) > _UNIT_MM)
    for way in _WAYS:
        by = _by(before[f"sd_{way}_m"], after[f"sd_{way}_m"])
        row[f"sd_{way}_mm"] = by
        differs = differs or (by is not None and abs(by) >= _TOLD_MM)
    row["otherwise"] = [
        {"what": key, "before": _said(before[key]), "after": _said(after[key])}
        for key in ("kind", *_WORDS)
        if before[key] != after[key]
    ]
    row["otherwise"] += [
        {
            "what": key,
            "before": _known(before[f"{key}_m"]),
            "after": _known(after[f"{key}_m"]),
        }
        for key in (*_WAYS, *(f"sd_{way}" for way in _WAYS))
        if (before[f"{key}_m"] is None) != (after[f"{key}_m"] is None)
    ]
    return row if differs or row["otherwise"] else None


def _by(before: float | None, after: float | None) -> float | None:
    if before is None or after is None:
        return None
    return round(1000 * (after - before), 3) + 0.0


def _said(value: object) -> str:
    return "none" if value in ("", 0) else str(value)


def _known(value: float | None) -> str:
    return "not known" if value is None else f"{value:.4f} m"


def _verdicts(
    first: dict[str, Any] | None, second: dict[str, Any] | None
) -> list[dict[str, str]]:
    """Return what is judged otherwise, of the day and of everything in it."""
    one, other = (_judged(day) for day in (first, second))
    return [
        {"about": name, "before": one.get(name, ""), "after": other.get(name, "")}
        for name in {**one, **other}
        if one.get(name, "") != other.get(name, "")
    ]


def _judged(day: dict[str, Any] | None) -> dict[str, str]:
    if day is None:
        return {}
    made = {"the topographic day as a whole": day["verdict"]}
    made |= {line["name"]: line["verdict"] for line in day["lines"]}
    made |= {f"{row['kind']} {row['name']}": row["verdict"] for row in day["judged"]}
    return made | {
        f"spread of {row['name']} in {row['kind']}": row["verdict"]
        for row in day["spreads"]
    }
