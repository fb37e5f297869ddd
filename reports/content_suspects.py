"""What `suspects` says: why the misfit, what cannot be told from what, what next."""

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

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
from .rounding import Units, number, percent
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
from .words_weights import Weighed, decide_words, group_words, not_judged_words

if TYPE_CHECKING:
    from ..adjust.causes import Suspects
    from ..adjust.causes.parting import Parting
    from ..networks.covariances import Floats
    from ..networks.likeness import Likeness

_ROWS, _AT_LEAST = 8, 3
_WAYS = {"e": "east", "n": "north", "u": "up"}
_ARCSEC = 3600 * 180 / np.pi
_FINE = 0.002
"""m; an sd under which a size is said with a decimal."""


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
    limits = f"limits {number(factor.lower, 'limit')} … {number(factor.upper, 'limit')}"
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


def size_text(measure: str, size: "Floats", sd: "Floats", units: Units) -> str:
    """Return the amounts of a cause with their sd and unit; a dash for none.

    Examples
    --------
    >>> size_text("u", np.array([0.026]), np.array([0.008]), Units())
    '+26 ± 8 mm'
    >>> size_text("ratio", np.array([-2e-6]), np.array([5e-7]), Units())
    '−2.0 ± 0.5 ppm'
    """
    if not measure or measure == "own" or not np.isfinite(size).any():
        return "–"
    if measure == "factor":
        return _factor(float(size[0]), float(sd[0]))
    if measure == "ratio":
        return f"{_signed(size[0] * 1e6, 1)} ± {sd[0] * 1e6:.1f} ppm"
    if measure == "rad":
        return f"{_signed(size[0] * _ARCSEC, 1)} ± {sd[0] * _ARCSEC:.1f}″"
    if measure in ("m", "u"):
        return _length(float(size[0]), float(sd[0]), units)
    said = [
        f"{_WAYS[way]} {_length(float(one), float(its), units)}"
        for way, one, its in zip(measure, size, sd, strict=True)
        if isfinite(one)
    ]
    return ", ".join(said)


def booked_words(measure: str, size: "Floats", sd: "Floats", units: Units) -> str:
    """Return how wrong something is booked, in words; empty where no size is known.

    Examples
    --------
    >>> booked_words("u", np.array([-0.065]), np.array([0.008]), Units())
    'booked too small by 65 ± 8 mm'
    >>> booked_words("en", np.array([0.026, -0.040]), np.array([8e-3, 8e-3]), Units())
    'booked minus the rest: east +26 ± 8 mm, north −40 ± 8 mm'
    """
    said = size_text(measure, size, sd, units)
    if said == "–":
        return ""
    if measure == "factor":
        return said
    if len(said.split(", ")) > 1 or measure not in ("m", "u", "rad", "ratio"):
        return f"booked minus the rest: {said}"
    way = "small" if size[0] < 0 else "large"
    return f"booked too {way} by {said.lstrip('+−')}"


def _factor(size: float, sd: float) -> str:
    """Return by what the booked value is to be multiplied.

    Examples
    --------
    >>> _factor(0.6951, 0.0012), _factor(2.01e-6, 4e-8)
    ('to be × 0.3049 ± 0.0012', 'to be × (1 − 2.01 ± 0.04 ppm)')
    """
    if abs(size) > 1e-3:
        return f"to be × {1 - size:.4f} ± {max(sd, 1e-4):.4f}"
    sign = "−" if size > 0 else "+"
    return f"to be × (1 {sign} {abs(size) * 1e6:.2f} ± {sd * 1e6:.2f} ppm)"


def _length(size: float, sd: float, units: Units) -> str:
    """Return a length in the small unit; one over a metre in the large."""
    if abs(size) >= 1.0:
        sign = "+" if size > 0 else ""
        return f"{sign}{units.coordinate(size)} ± {units.said(sd)}".replace(
            " ±", f" {units.unit} ±"
        )
    sign = "+" if size > 0 else ""
    if sd < _FINE and units.unit == "m":
        return f"{sign}{units.small(size)} ± {units.small(sd)} mm"
    return f"{sign}{units.small(size, 'said')} ± {units.said(sd)}"


def _signed(value: float, decimals: int) -> str:
    return f"{value:+.{decimals}f}".replace("-", "−")


def suspects_next(found: "Suspects", weighed: Weighed | None = None) -> str:
    """Return the one command that helps most now.

    Parameters
    ----------
    found : Suspects
    weighed : Weighed, optional
    """
    from .content import quoted

    if weighed is not None and weighed.weights.leads:
        command = decide_words(weighed)
        if command:
            return command
    if found.answer == "low" and weighed is not None and not weighed.weights.surplus:
        command = decide_words(weighed, larger=False)
        if command:
            return command
    if found.answer in ("unchecked", "low"):
        return "brasscap loops"
    if weighed is not None and not (len(found) and found.test[0] > 1):
        command = decide_words(weighed)
        if command:
            return command
    if not len(found) or found.test[0] <= 1:
        return "brasscap report --html"
    kind = found.kind[0]
    network = found.adjustment.network
    if kind == "unit":
        return _booked_next(found)
    if kind in ("set-up height", "set-up on wrong mark", "target height"):
        return f"brasscap show set-up {quoted(found.about[0][0])}"
    if kind.startswith("known mark"):
        return f"brasscap show mark {quoted(found.about[0][0])}"
    if kind == "observation" and found.about[0][0] in network.vectors.name:
        return f"brasscap show baseline {quoted(found.about[0][0])}"
    return "brasscap loops"


def _booked_next(found: "Suspects") -> str:
    """Return the command that shows what is booked of the first cause."""
    from .content import quoted

    network = found.adjustment.network
    for word, names in (
        ("set-up", network.set_ups.name),
        ("baseline", network.vectors.name),
        ("mark", network.marks.name),
    ):
        if found.about[0] and found.about[0][0] in names:
            return f"brasscap show {word} {quoted(found.about[0][0])}"
    return "brasscap check --only units"
