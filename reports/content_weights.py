"""Standard deviations by group as a table, and as an object for JSON."""

from typing import TYPE_CHECKING

from .document import Column, Paragraph, Part, Row, Table, Vial
from .objects_figures import RATIO, Object, rounded, significant
from .rounding import number, percent
from .words_weights import (
    Weighed,
    group_words,
    leading_words,
    meaning_words,
    not_judged_words,
    premise_words,
    support_words,
)

if TYPE_CHECKING:
    from ..adjust.judge.variance_components import VarianceComponents


def components_table(weighed: Weighed, confidence: float) -> Table | None:
    """Return what the residuals say of each group's sds; None where of none.

    Parameters
    ----------
    weighed : Weighed
    confidence : float
        Of the limits.
    """
    found = weighed.weights.components
    rows = [k for k in range(len(found)) if found.judged[k]]
    if not rows:
        return None
    columns = (
        Column("group", number=False),
        Column("values observed"),
        Column("supported by"),
        Column("times what was stated"),
        Column("between", number=False),
        Column("", number=False),
        Column("verdict", number=False),
    )
    premise = premise_words(weighed.weights)
    beside = f", {premise}" if premise else ""
    return Table(
        f"standard deviations by group: what the residuals ask for{beside}; limits "
        f"{percent(confidence)}; a query where all limits together leave out 1",
        columns,
        tuple(_row(found, k) for k in rows),
        not_judged_words(found),
    )


def _row(found: "VarianceComponents", k: int) -> Row:
    low, high = float(found.lower[k]), float(found.upper[k])
    inside = min(max((1 - low) / (high - low), 0.0), 1.0)
    # Right of the middle: stated too good.
    vial = Vial(found.verdict[k], 1 - inside, low=float(found.multiplier[k]) < 1)
    return Row(
        (
            found.component[k].words,
            str(int(found.rows[k])),
            support_words(found, k).removeprefix("supported by "),
            number(float(found.multiplier[k]), "limit"),
            f"{number(low, 'limit')}\u00a0…\u00a0{number(high, 'limit')}",
            vial,
            found.verdict[k],
        )
    )


def weights_parts(weighed: Weighed | str, confidence: float) -> tuple[Part, ...]:
    """Return the section of a report: what stands out, every group, what it means.

    Parameters
    ----------
    weighed : Weighed or str
        Or why nothing is judged.
    confidence : float
        Of the limits.
    """
    if isinstance(weighed, str):
        return (Paragraph(f"Not judged here: {weighed}."),)
    found = weighed.weights.components
    if not len(found):
        return (Paragraph(f"Not judged: {not_judged_words(found)}."),)
    said = leading_words(weighed) or group_words(weighed, weighed.weights.answer)
    if not said:
        said = "no group stands out" if found.judged.any() else "no group can be judged"
    table = _whole_table(weighed, confidence)
    return (Paragraph(f"{said[0].upper()}{said[1:]}."), table, Paragraph(_SAID, "soft"))


_SAID = (
    "By how much the standard deviations of each group would have to be multiplied so "
    "that its residuals are as large as they should be. The fewer degrees of freedom a "
    "group has, the wider its limits; below the floor it cannot be judged and stays as "
    "stated. Nothing is multiplied unless a decision says so."
)


def _whole_table(weighed: Weighed, confidence: float) -> Table:
    """Return every component, also those that cannot be judged, with its meaning."""
    found = weighed.weights.components
    columns = (
        Column("group", number=False),
        Column("", number=False),
        Column("verdict", number=False),
        Column("times what was stated"),
        Column(f"limits {percent(confidence)}", number=False),
        Column("degrees of freedom"),
        Column("it means", number=False, below=True),
    )
    premise = premise_words(weighed.weights)
    beside = f", {premise}" if premise else ""
    caption = (
        f"multipliers of standard deviations, plan and height apart{beside}; a query "
        "where limits that hold for all groups at once leave out 1"
    )
    rows = tuple(_whole_row(found, k) for k in range(len(found)))
    return Table(caption, columns, rows)


def _whole_row(found: "VarianceComponents", k: int) -> Row:
    # Rounded down, so that 5.96 does not read as the floor of 6.
    freedom = f"{int(10 * found.degrees_of_freedom[k] + 1e-6) / 10:.1f}"
    means = meaning_words(found, k)
    name = found.component[k].words
    if not found.judged[k]:
        blank = (Vial("unchecked"), "unchecked", "cannot be judged", "", freedom)
        return Row((name, *blank, means))
    row = _row(found, k).cells
    return Row((name, row[5], row[6], row[3], row[4], freedom, means))


def components_object(weighed: Weighed) -> Object:
    """Return the variance components as an object for JSON.

    Parameters
    ----------
    weighed : Weighed
    """
    one = weighed.weights
    found = one.components
    return {
        "method": "restricted maximum likelihood",
        "settled": found.settled,
        "floor": found.floor,
        "over_limit_count": one.over,
        "tested_count": one.tested,
        "leads": one.leads,
        "trivial_vectors_count": one.surplus,
        "components": [_component(weighed, found, k) for k in range(len(found))],
    }


def _component(weighed: Weighed, found: "VarianceComponents", k: int) -> Object:
    one = found.component[k]
    kind, name = one.decided_as
    return {
        "words": one.words,
        "kind": one.kind,
        "group": one.group,
        "part": one.part,
        "decided_as": [kind, name] if kind else [],
        "values_count": int(found.rows[k]),
        "redundancy": rounded(float(found.redundancy[k]), RATIO),
        "degrees_of_freedom": rounded(float(found.degrees_of_freedom[k]), RATIO),
        "multiplier": significant(float(found.multiplier[k])),
        "multiplier_present": weighed.present.get((kind, name, one.part), 1.0),
        "lower": significant(float(found.lower[k])),
        "upper": significant(float(found.upper[k])),
        "cannot_be_told_from": [found.component[j].words for j in found.twins[k]],
        "verdict": found.verdict[k],
    }
