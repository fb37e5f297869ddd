"""What `reliability` says: what blunder could hide, and what it would do unseen."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .content_planted import planted_parts
from .document import (
    Column,
    Document,
    Paragraph,
    Part,
    Row,
    Section,
    Table,
    VerdictLine,
    Vial,
)
from .heading import Heading
from .rounding import Units, number, percent
from .words import MODES, range_words, size_words

if TYPE_CHECKING:
    from ..adjust import Adjustment
    from ..adjust.judge.external import Reliability
    from ..adjust.judge.planting import Planted
    from ..networks.covariances import Bools, Ints

MARK = -1
"""No mark is moved."""
_SHOWN = 10
_CALLED = {
    "observation": "observations",
    "set-up": "set-ups",
    "tripod": "tripods",
    "antenna": "antennas",
    "session": "sessions",
}


@dataclass(frozen=True, slots=True)
class Hidden:
    """What could hide in an adjustment, by what could be wrong."""

    adjustment: "Adjustment"
    found: "dict[str, Reliability]"
    """``observation``, ``set-up``, ``tripod``, ``antenna``, ``session``."""
    by: str = ""
    """The one table that is asked for: one of those or ``mark``; empty for all in
    short."""
    only_unchecked: bool = False
    planted: "Planted | None" = None

    @property
    def verdict(self) -> str:
        """``unchecked`` if anything is; else meets: a specification says the rest."""
        some = any(one.unchecked.any() for one in self.found.values())
        return "unchecked" if some else "meets"


def reliability_document(hidden: Hidden, heading: Heading) -> Document:
    """Return what `reliability` prints.

    Parameters
    ----------
    hidden : Hidden
    heading : Heading
    """
    units = heading.units
    parts: list[Part] = []
    if hidden.planted is not None:
        parts += planted_parts(hidden.planted, units)
    else:
        parts += [Paragraph(basis_words(hidden.adjustment)), Paragraph("")]
        parts += [line for by in hidden.found for line in _lines(hidden, by, units)]
        parts += _tables(hidden, units)
    parts.append(Paragraph(f"next: {_next(hidden)}", "next"))
    words = f"What could hide — {title_of(hidden.adjustment)}"
    return Document(words, (Section("", tuple(parts)),))


def title_of(adjustment: "Adjustment") -> str:
    """Return mode and what is held, as the heading of a page."""
    datum = adjustment.datum
    return f"{MODES[datum.mode]} — {datum.text}"


def basis_words(adjustment: "Adjustment") -> str:
    """Return what the figures rest on."""
    options = adjustment.network.options
    return (
        "smallest seen: found with power "
        f"{percent(options.power)} at α {percent(options.outlier_alpha)} for one "
        "component, by the B-method for more, in the direction that hides best; from "
        "the stated covariances. Moves: by one just too small to be seen, the worst "
        "over its directions. Bias to noise: the same for the network as a whole, "
        "whatever is held"
    )


def _lines(hidden: Hidden, by: str, units: Units) -> list[VerdictLine]:
    """Return how many of a kind are checked at all, and from what size on.

    Of set-ups the height alone, and place and height together.
    """
    found = hidden.found[by]
    kinds = np.array([one.kind for one in found.hypotheses], dtype=object)
    if not len(kinds) or hidden.by not in ("", by):
        return []
    if by != "set-up":
        return [_line(found, np.ones(len(kinds), dtype=bool), _CALLED[by], units)]
    heights = kinds == "set-up height"
    both = [(heights, "set-up heights"), (~heights, "set-ups, place and height")]
    return [_line(found, rows, name, units) for rows, name in both if rows.any()]


def _line(found: "Reliability", rows: "Bools", name: str, units: Units) -> VerdictLine:
    count, blind = int(rows.sum()), int(found.unchecked[rows].sum())
    metres = np.array([one.measure == "m" for one in found.hypotheses])
    seen = found.smallest_detectable[rows & metres & ~found.unchecked]
    evidence = (
        f"{blind} of {count}: an error of any size could go unseen"
        if blind
        else f"all {count} are checked; whether what hides matters, a specification "
        "must say"
    )
    return VerdictLine(
        name,
        Vial("unchecked" if blind else "meets"),
        range_words(seen, units) if len(seen) else "",
        evidence,
    )


def _tables(hidden: Hidden, units: Units) -> list[Part]:
    if hidden.by in hidden.found and not len(hidden.found[hidden.by].hypotheses):
        return [Paragraph(f"no {hidden.by} is booked that anything observed uses")]
    if hidden.by in hidden.found:
        return [table_of(hidden, hidden.by, units)]
    parts: list[Part] = [marks_table(hidden, units), *_few_words(hidden)]
    if not hidden.by:
        parts += [
            table_of(hidden, by, units, _SHOWN)
            for by in ("set-up", "observation")
            if len(hidden.found[by].hypotheses)
        ]
    return parts


def _few_words(hidden: Hidden) -> list[Part]:
    """Return what is left out in a network with very many effects."""
    if all(found.few is None for found in hidden.found.values()):
        return []
    return [
        Paragraph(
            "in a network of this size the effects on marks are worked out for what "
            "nothing checks, and in each table for those with the largest bias to "
            "noise; of the others, none moves a mark unseen by more than its bias to "
            "noise times the standard deviation of the mark"
        )
    ]


def rows_of(found: "Reliability", *, only_unchecked: bool) -> "Ints":
    """Return the rows, what moves a mark by any amount first, then by how far."""
    worst = np.nanmax(
        np.stack([np.nan_to_num(found.worst(part)[0]) for part in (0, 1)]), axis=0
    )
    worst = np.where(found.unchecked, np.inf, worst)
    order = np.argsort(-worst.round(9), kind="stable")
    return order[found.unchecked[order]] if only_unchecked else order


def table_of(hidden: Hidden, by: str, units: Units, most: int = 0) -> Table:
    """Return one kind of thing that could be wrong, the worst first.

    Parameters
    ----------
    hidden : Hidden
    by : str
    units : Units
    most : int, optional
        Rows at most; 0 for all.
    """
    found = hidden.found[by]
    rows = rows_of(found, only_unchecked=hidden.only_unchecked)
    left = len(rows) - most if 0 < most < len(rows) else 0
    columns = (
        Column("what could be wrong", number=False),
        Column("smallest seen", number=False),
        Column("bias to noise"),
        Column(f"plan ({units.small_unit})"),
        Column("of mark", number=False),
        Column(f"height ({units.small_unit})"),
        Column("of mark", number=False),
        Column("", number=False),
        Column("", number=False, below=True),
    )
    shown = rows[: len(rows) - left]
    return Table(
        f"{_CALLED[by]}: how far one just too small to be seen moves a mark",
        columns,
        tuple(_row(hidden, found, int(i), units) for i in shown),
        f"and {left} more:  brasscap reliability --by {by}" if left else "",
    )


def _row(hidden: Hidden, found: "Reliability", i: int, units: Units) -> Row:
    one = found.hypotheses[i]
    names = hidden.adjustment.network.marks.name
    cells: list[str | Vial] = [
        f"{one.kind} {one.about}",
        size_words(float(found.smallest_detectable[i]), units, one.measure),
        ratio_words(float(found.bias_to_noise[i])),
    ]
    for part in (0, 1):
        size, mark = (column[i] for column in found.worst(part))
        cells += [units.small(float(size)), names[mark] if mark != MARK else ""]
    cells += [Vial("unchecked") if found.unchecked[i] else "", blind_words(found, i)]
    unlimited = [names[k] for k in found.unlimited(i)]
    if unlimited:
        cells[-1] = f"{cells[-1]}; any amount: {_listed(unlimited)}"
    return Row(tuple(cells))


def ratio_words(ratio: float) -> str:
    """Return a bias-to-noise ratio; empty where nothing bounds it."""
    return number(ratio, "test")


def blind_words(found: "Reliability", i: int) -> str:
    """Return in how many directions nothing checks it; empty where all are checked.

    Of a blunder in one direction only "unchecked".
    """
    null, size = int(found.null_count[i]), len(found.hypotheses[i].axes)
    if not null:
        return ""
    return "unchecked" if null == size else f"unchecked in {null} of {size} directions"


def _listed(names: Sequence[str], most: int = 4) -> str:
    more = len(names) - most
    said = ", ".join(names[:most])
    return f"{said} and {more} more" if more > 0 else said


@dataclass(frozen=True, slots=True)
class OfMark:
    """The worst that one unseen blunder does to a mark, in plan or in height."""

    size: float
    """m; NaN where nothing moves it by a finite amount."""
    by: tuple[str, int] | None
    """Which table and row of it; None where nothing does."""
    unlimited: tuple[tuple[str, int], ...]
    """Those of any size that would not show."""


def of_mark(hidden: Hidden, mark: int, part: int) -> OfMark:
    """Return the worst for a mark over single observations and set-ups.

    Parameters
    ----------
    hidden : Hidden
    mark : int
    part : int
        0 for plan, 1 for height.
    """
    worst, by, unlimited = 0.0, None, []
    for table in ("observation", "set-up"):
        found = hidden.found[table]
        if found.few is not None:
            few = found.few
            here = (few.blind[:, 1] == mark) & (few.blind[:, 2] == part)
            unlimited += [(table, i) for i in few.blind[here, 0].tolist()]
            if few.of_mark[mark, part] > worst + 1e-9:
                worst = float(few.of_mark[mark, part])
                by = (table, int(few.by[mark, part]))
            continue
        for i, size in enumerate(found.effect[:, mark, part].tolist()):
            if size == float("inf"):
                unlimited.append((table, i))
            elif size > worst + 1e-9:
                worst, by = size, (table, i)
    return OfMark(worst if by else float("nan"), by, tuple(unlimited))


def marks_table(hidden: Hidden, units: Units) -> Table:
    """Return, for each mark, the blunder that could move it farthest unseen."""
    columns = (
        Column("mark", number=False),
        Column(f"plan ({units.small_unit})"),
        Column("by", number=False),
        Column(f"height ({units.small_unit})"),
        Column("by", number=False),
        Column("", number=False),
        Column("moved by any amount by", number=False, below=True),
    )
    rows = []
    for mark, name in enumerate(hidden.adjustment.network.marks.name):
        both = [of_mark(hidden, mark, part) for part in (0, 1)]
        blind = list(dict.fromkeys(key for one in both for key in one.unlimited))
        if not blind and (hidden.only_unchecked or not any(one.by for one in both)):
            continue
        cells: list[str | Vial] = [name]
        for one in both:
            cells += [units.small(one.size), _called(hidden, one.by)]
        cells.append(Vial("unchecked") if blind else "")
        cells.append(_listed([_called(hidden, key) for key in blind]))
        rows.append(Row(tuple(cells)))
    return Table(
        "marks: how far one blunder just too small to be seen, of an observation, a "
        "set-up or a known mark, moves each",
        columns,
        tuple(rows),
    )


def _called(hidden: Hidden, key: tuple[str, int] | None) -> str:
    if key is None:
        return ""
    one = hidden.found[key[0]].hypotheses[key[1]]
    return f"{one.kind} {one.name}"


def _next(hidden: Hidden) -> str:
    if hidden.planted is not None:
        return "brasscap reliability"
    if hidden.by or hidden.verdict == "meets":
        return "brasscap report --html"
    by = next(by for by, found in hidden.found.items() if found.unchecked.any())
    return f"brasscap reliability --by {by} --only unchecked"
