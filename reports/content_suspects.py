"""What `suspects` says: why the misfit, what cannot be told from what, what next."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from .content_likeness import likeness_words
from .content_tests import could_hide
from .content_weights import components_table
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
from .judged import judge
from .rounding import Units, limits_text, number, percent
from .words_cause_size import size_text
from .words_suspects import (
    answer_words,
    echo_words,
    echoes,
    left_words,
    parted_words,
    simulation_words,
    steps_words,
    twins_words,
    unchecked_words,
    weights_words,
)
from .words_suspects_next import suspects_next
from .words_weights import Weighed, group_words, not_judged_words

if TYPE_CHECKING:
    from ..adjust.causes import Suspects
    from ..adjust.causes.parting import Parting
    from ..networks.likeness import Likeness

_ROWS, _AT_LEAST = 8, 3


def suspects_document(
    found: "Suspects",
    partings: "Mapping[int, Parting]",
    heading: Heading,
    likeness: "Sequence[Likeness]" = (),
    about: Sequence[int] | None = None,
    weighed: Weighed | None = None,
) -> Document:
    """Return what `suspects` prints: verdict, evidence, numbers, next step.

    Parameters
    ----------
    found : Suspects
    partings : mapping of int to Parting
        What would part the causes of a group, by the group's number.
    heading : Heading
    likeness : sequence of Likeness
        What the first cause's size is like.
    about : sequence of int, optional
        Places of the causes to list; all when not given.
    weighed : Weighed, optional
        Standard deviations as they are judged.
    """
    units = heading.units
    parts: list[Part] = [_factor_line(found), Paragraph(answer_words(found, weighed))]
    if found.answer.startswith("passes"):
        # Three answers, and the third is the one that misleads: say what may hide.
        parts.append(could_hide(judge(found.adjustment), units))
    weights = weights_words(found, weighed)
    parts += [Paragraph(weights)] if weights else []
    if about is None:
        parts += _all_parts(found, partings, likeness, units)
        parts += _weights_parts(found, weighed)
    else:
        parts += _about_parts(found, about, units)
    parts.append(Paragraph(f"next: {suspects_next(found, weighed)}", "next"))
    return Document(
        f"Why the misfit? — {found.adjustment.datum.text}", (Section("", tuple(parts)),)
    )


def _all_parts(
    found: "Suspects",
    partings: "Mapping[int, Parting]",
    likeness: "Sequence[Likeness]",
    units: Units,
) -> list[Part]:
    rows = _listed(found)
    parts: list[Part] = [_table(found, rows, units)] if rows else []
    parts += [
        Paragraph(f"likeness: {said}")
        for said in likeness_words(likeness, units, len(likeness))
    ]
    sentences = (
        echo_words(found),
        parted_words(found, partings),
        simulation_words(found),
        steps_words(found),
        left_words(found),
        unchecked_words(found),
    )
    return parts + [Paragraph(said) for said in sentences if said]


def _weights_parts(found: "Suspects", weighed: Weighed | None) -> list[Part]:
    """Return what the residuals say of each group's standard deviations."""
    if weighed is None or found.answer == "unchecked":
        return []
    said = group_words(weighed, found.answer)
    confidence = found.adjustment.network.options.confidence
    table = components_table(weighed, confidence)
    parts: list[Part] = [Paragraph(said)] if said else []
    none = not_judged_words(weighed.weights.components)
    return parts + ([table] if table else [Paragraph(none)] if none else [])


def _about_parts(found: "Suspects", about: Sequence[int], units: Units) -> list[Part]:
    """Return the causes about one thing, and whether they echo the first."""
    if not about:
        return [
            Paragraph(
                "nothing checks it: an error of any size in it changes no residual, so "
                "no cause can be looked for there"
            )
        ]
    parts: list[Part] = [_table(found, about, units)]
    gone = set(echoes(found))
    if gone & set(about):
        said = f"over the limit only as an echo of cause 1, {found.words[0]}"
        parts.append(Paragraph(said))
    return parts


def _factor_line(found: "Suspects") -> VerdictLine:
    factor = found.variance_factor
    if factor.verdict == "unchecked":
        nothing = "no degrees of freedom: nothing is observed twice"
        return VerdictLine("variance factor", Vial("unchecked"), "–", nothing)
    inside = (factor.value - factor.lower) / (factor.upper - factor.lower)
    limits = f"limits {limits_text(factor.lower, factor.upper)}"
    return VerdictLine(
        "variance factor",
        Vial(factor.verdict, inside, low=factor.value < factor.lower),
        number(factor.value, "variance factor"),
        f"{limits}, {percent(factor.confidence)}, two-sided, "
        f"{factor.degrees_of_freedom} degrees of freedom",
    )


def _listed(found: "Suspects") -> list[int]:
    """Return the causes to read: the first group, and what is no echo of the first.

    No larger causes that explain no more; the best three where none is over.
    """
    plain = [k for k in range(len(found)) if not found.wider[k]]
    if not plain or found.test[0] <= 1:
        return plain[:_AT_LEAST]
    gone = set(echoes(found))
    return [k for k in plain if found.test[k] > 1 and k not in gone][:_ROWS]


def _table(found: "Suspects", rows: Sequence[int], units: Units) -> Table:
    over = [found.test_beside_first[k] > 1 for k in rows]
    beside = bool(found.test[0] > 1) and any(over)
    columns = [
        Column(""),
        Column("cause", number=False),
        Column("booked minus the rest", number=False),
        Column("test"),
        *([Column("test beside 1")] if beside else []),
        Column("", number=False),
        Column("verdict", number=False),
        Column("variance factor, before → without it", number=False),
        Column("cannot be told from", number=False, below=True),
    ]
    made = tuple(Row(_cells(found, k, units, beside)) for k in rows)
    options = found.adjustment.network.options
    caption = (
        f"causes, best supported first; test 1 = the limit "
        f"(α {percent(options.outlier_alpha)} for one component, power "
        f"{percent(options.power)}); ± one stated sd"
    )
    note = ""
    if beside and found.test[0] > 1:
        note = (
            "test beside 1: what is left of a cause once cause 1 is taken as true; "
            "under 1 it was an echo of cause 1"
        )
    return Table(caption, tuple(columns), made, note)


def _cells(
    found: "Suspects", k: int, units: Units, beside: bool
) -> tuple[str | Vial, ...]:
    before = number(found.variance_factor.value, "limit")
    after = number(float(found.variance_factor_without[k]), "limit")
    test = float(found.test[k])
    return (
        str(k + 1),
        found.words[k],
        size_text(found.measure[k], found.size[k], found.sd_size[k], units),
        number(test, "test"),
        *([number(float(found.test_beside_first[k]), "test") or "–"] if beside else []),
        Vial(found.verdict[k], test),
        found.verdict[k],
        f"{before} → {after}" if after else "–",
        twins_words(found, k),
    )
