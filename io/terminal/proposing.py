"""What could be observed next: the proposals of proposed.csv, and others near them."""

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from brasscap.offer import Offer, Refused, offer_of

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.io.tables.load import Loaded
    from brasscap.io.tables.table import Table


def offers(
    loaded: "Loaded", adjustment: "Adjustment"
) -> tuple[list[Offer], list[Refused]]:
    """Return what could be observed: what is proposed first, then what lies near.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment

    Returns
    -------
    offers : list of Offer
    refused : list of Refused
        Proposals that are blocked, or whose marks or precision are not known.
    """
    from brasscap.offering import near_offers

    made: list[Offer] = []
    refused: list[Refused] = []
    for one in _proposed(loaded, adjustment):
        if isinstance(one, Offer):
            made.append(one)
        else:
            refused.append(one)
    seen = {_key(one) for one in made}
    near = [one for one in near_offers(loaded, adjustment) if _key(one) not in seen]
    return made + near, refused


def _key(one: Offer) -> tuple[str, frozenset[int]]:
    return one.observable.kind, frozenset(one.task.marks)


def _proposed(
    loaded: "Loaded", adjustment: "Adjustment"
) -> "Iterator[Offer | Refused]":
    table = loaded.tables.get("proposed")
    if table is None:
        return
    for rows in pieces(table, range(len(table))):
        yield from _piece(loaded, adjustment, table, rows)


def pieces(table: "Table", some: Iterable[int]) -> list[list[int]]:
    """Return the rows of each piece of work: those of one session are one piece.

    Parameters
    ----------
    table : Table
        proposed.csv, or a plan in its shape.
    some : iterable of int
        Rows that are looked at.
    """
    made: dict[str, list[int]] = {}
    for i in some:
        session = str(table.word("session")[i])
        made.setdefault(session or f" {i}", []).append(i)
    return list(made.values())


def _piece(
    loaded: "Loaded", adjustment: "Adjustment", table: "Table", rows: list[int]
) -> "Iterator[Offer | Refused]":
    """Yield what a piece of proposed work would observe, or why it cannot."""
    from dataclasses import replace

    first = rows[0]
    kind, name = str(table.word("kind")[first]), str(table.word("proposal")[first])
    if len(rows) > 1:
        name = str(table.word("session")[first])
    stations = _stations(table, rows)
    minutes = max(_minutes(loaded, table, i, kind) for i in rows)
    blocked = next((str(w) for w in table.word("blocked")[rows] if w), "")
    why = f"blocked: {blocked}" if blocked else _why_not(adjustment, stations, kind)
    if why:
        yield Refused(kind, name, stations, why, minutes)
        return
    names = adjustment.network.marks.name
    found = False
    for marks in _partners(adjustment, kind, [names.index(one) for one in stations]):
        made = offer_of(loaded, adjustment, kind, marks, name, first)
        if made is None:
            continue
        found = True
        early, late = _window(table, first)
        task = replace(made.task, minutes=minutes, earliest=early, latest=late)
        yield made._replace(task=task, note=str(table.word("note")[first]))
    if not found:
        said = f"its precision is not known: state sd_…_mm, or [planned.{kind}]"
        yield Refused(kind, name, stations, said, minutes)


def _stations(table: "Table", rows: Sequence[int]) -> tuple[str, ...]:
    ends = [
        str(table.word(f"{end}_station")[i]) for i in rows for end in ("from", "to")
    ]
    return tuple(dict.fromkeys(name for name in ends if name))


def _minutes(loaded: "Loaded", table: "Table", i: int, kind: str) -> float:
    from brasscap.expecting import log_minutes

    minutes = float(table.number("minutes")[i])
    return minutes if minutes == minutes else log_minutes(loaded, kind)


def _window(table: "Table", i: int) -> tuple[float, float]:
    early, late = (str(table.word(word)[i]) for word in ("earliest", "latest"))
    return _clock(early, float("-inf")), _clock(late, float("inf"))


def _why_not(adjustment: "Adjustment", stations: Sequence[str], kind: str) -> str:
    """Return why marks cannot be worked with; empty where they can."""
    names = adjustment.network.marks.name
    unknown = [name for name in stations if name not in names]
    if unknown:
        return f"{', '.join(unknown)}: no mark of this network"
    lost = [
        name for name in stations if not adjustment.estimated[names.index(name)].any()
    ]
    if lost:
        return f"{', '.join(lost)}: nothing observed reaches it, its place is not known"
    if len(stations) < (1 if kind in ("position", "second set-up") else 2):
        return "it names too few marks"
    return ""


def _partners(
    adjustment: "Adjustment", kind: str, marks: Sequence[int]
) -> list[tuple[int, ...]]:
    """Return the marks of a proposal; a second set-up seeks the other end itself."""
    from brasscap.offering import nearest_marks

    if kind == "position":
        return [tuple(marks[:1])]
    if kind == "second set-up" and len(marks) == 1:
        return [(marks[0], other) for other in nearest_marks(adjustment, marks[0])]
    return [tuple(marks)]


def _clock(text: str, otherwise: float) -> float:
    from brasscap.networks.clock import minutes_of

    return minutes_of(text) if text else otherwise
