"""The tables of a specification held against a solution: lines, means, marks."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from ..networks.specifications import CLASSES
from .document import Column, Paragraph, Row, Table, Vial
from .rounding import Units, number
from .words import MODES
from .words_spec import (
    class_words,
    is_classed,
    limit_words,
    measure_words,
    name_of,
    what_words,
)

if TYPE_CHECKING:
    from ..adjust.precision.compliance import Compliance


def table_of(one: "Compliance", most: int, units: Units) -> Table:
    """Return the worst lines of a specification.

    Parameters
    ----------
    one : Compliance
    most : int
    units : Units
    """
    order = one.order()
    left = len(order) - most
    share = "a smaller share" if one.limited else "smaller"
    note = f"and {left} more, each {share}:  brasscap spec --worst {len(order)}"
    against = limit_words(one, units) if one.limited else "no limit stated"
    return Table(
        f"{one.specification.name}, {what_words(one)}: {measure_words(one)}, "
        f"{against}; {MODES[one.adjustment.datum.mode].lower()}",
        _columns(one, units),
        tuple(_row(one, int(k), units) for k in order[:most]),
        note if left > 0 else "",
    )


def _columns(one: "Compliance", units: Units) -> tuple[Column, ...]:
    small = units.small_unit
    first = (
        (Column("mark", number=False),)
        if one.of_marks
        else (Column("pair", number=False), Column(f"distance ({units.unit})"))
    )
    cubic = (Column(f"by the cubic ({small})"),) if _has_cubic(one) else ()
    limit = (Column(f"limit ({small})"), Column("share (%)"))
    classed = (Column("class", number=False),) if is_classed(one) else ()
    judged = (Column("precision", number=False),) if one.limited else ()
    return (
        *first,
        Column(f"value ({small})"),
        *cubic,
        *classed,
        *(limit if one.limited else ()),
        *judged,
        Column(f"unseen ({small})"),
        Column("reliability", number=False),
        Column("by", number=False, below=True),
    )


def _has_cubic(one: "Compliance") -> bool:
    return bool(np.isfinite(one.cubic).any())


def _row(one: "Compliance", k: int, units: Units) -> Row:
    value, limit = float(one.value[k]), float(one.limit[k])
    cells: list[str | Vial] = [name_of(one, k)]
    if not one.of_marks:
        cells.append(units.coordinate(float(one.distance[k])))
    cells.append(units.small(value))
    if _has_cubic(one):
        cells.append(units.small(float(one.cubic[k])))
    if is_classed(one):
        cells.append(class_words(value))
    share = value / limit if limit > 0 else float("nan")
    effect = float(one.effect[k])
    by = int(one.by[k])
    hypothesis = one.hypotheses[by] if by >= 0 else None
    if one.limited:
        cells += [units.small(limit), number(100 * share, "whole angle")]
        cells.append(Vial(one.precision[k], share if share == share else 0.5))
    place = min(effect / limit, 1.0) if limit > 0 else 0.5
    reliability = one.reliability[k]
    return Row(
        (
            *cells,
            unseen_words(effect, bool(one.at_most[k]), units),
            Vial(reliability, place) if reliability else "",
            f"{hypothesis.kind} {hypothesis.about}" if hypothesis else "",
        )
    )


def unseen_words(effect: float, at_most: bool, units: Units) -> str:
    """Return what one unseen blunder does: "any", a size, or what it is no more than.

    Parameters
    ----------
    effect : float
        m.
    at_most : bool
        Whether it is a bound.
    units : Units
    """
    if effect == float("inf"):
        return "any"
    return f"≤ {units.small(effect)}" if at_most else units.small(effect)


def class_lines(one: "Compliance", units: Units) -> Iterator[Paragraph]:
    """Yield what a classification says in a sentence: how many of each class."""
    name = f"{one.specification.name}, {what_words(one)}"
    judged = one.value[np.isfinite(one.value)].tolist()
    if not judged:
        words = f"{name}: cannot be judged: {one.part} is not estimated in this job"
        yield Paragraph(words)
        return
    worst = max(judged)
    if not is_classed(one):
        said = f"largest {units.small(worst)} {units.small_unit}; classes are of 95 %"
    else:
        found = [class_words(value) for value in judged]
        order = [*(word for _, word in CLASSES), "none"]
        counts = [f"{found.count(word)} of class {word}" for word in order
                  if word in found]  # fmt: skip
        said = f"{', '.join(counts)}; largest {units.small(worst)} {units.small_unit}"
    blind = sum(verdict == "unchecked" for verdict in one.reliability)
    also = f"; of {blind} nothing checks some observation: any size" if blind else ""
    yield Paragraph(f"{name}: {said}{also}; no limit is stated, so no verdict")


def averages_table(one: "Compliance", units: Units) -> Table:
    """Return one local accuracy a mark, as standards report it: the average."""
    from ..adjust.precision.compliance import averages

    made = averages(one)
    names, small = one.adjustment.network.marks.name, units.small_unit
    classed = is_classed(one)
    columns = (
        Column("mark", number=False),
        Column("neighbours"),
        Column(f"average ({small})"),
        *((Column("class", number=False),) if classed else ()),
        Column(f"worst ({small})"),
    )
    rows = []
    for k, mark in enumerate(made.mark.tolist()):
        average = float(made.average[k])
        own = (class_words(average),) if classed else ()
        rows.append(
            Row(
                (
                    names[mark],
                    str(int(made.neighbours[k])),
                    units.small(average),
                    *own,
                    units.small(float(made.worst[k])),
                )
            )
        )
    return Table(
        f"{one.specification.name}, {one.part}: each mark, average over its neighbours",
        columns,
        tuple(rows),
    )


def per_mark_table(one: "Compliance", units: Units) -> Table:
    """Return each mark by its worst pair."""
    worst: dict[int, tuple[int, int]] = {}
    for k in one.order().tolist():
        first, second = one.pairs[k].tolist()
        worst.setdefault(first, (k, second))
        worst.setdefault(second, (k, first))
    names = one.adjustment.network.marks.name
    head = (Column("mark", number=False), Column("against", number=False))
    return Table(
        f"{one.specification.name}, {one.part}: each mark by its worst pair",
        (*head, *_columns(one, units)[1:]),
        tuple(
            Row((names[mark], names[other], *_row(one, k, units).cells[1:]))
            for mark, (k, other) in sorted(worst.items())
        ),
    )
