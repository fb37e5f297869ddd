"""What `suspects` says: why the misfit, what cannot be told from what, what next."""

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

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
from .rounding import Lengths, number, percent

if TYPE_CHECKING:
    from ..adjust.causes import Suspects
    from ..adjust.causes.parting import Parting
    from ..networks.covariances import Floats
    from ..networks.likeness import Likeness

_ROWS, _AT_LEAST, _ECHOES = 8, 3, 4
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
    """
    lengths = Lengths(heading.unit)
    parts: list[Part] = [_factor_line(found), Paragraph(answer_words(found))]
    weights = weights_words(found)
    parts += [Paragraph(weights)] if weights else []
    rows = _listed(found) if about is None else list(about)
    if rows:
        parts.append(_table(found, rows, lengths))
    elif about is not None:
        parts.append(Paragraph("none of the causes listed is about it"))
    parts += [Paragraph(likeness_words(like, lengths)) for like in likeness]
    parts += [
        Paragraph(said)
        for said in (
            _echo_words(found),
            _parted_words(found, partings),
            _steps_words(found),
            _left_words(found),
            _unchecked_words(found),
        )
        if said
    ]
    parts.append(Paragraph(f"next: {suspects_next(found)}", "next"))
    return Document(
        f"Why the misfit? — {found.adjustment.datum.text}", (Section("", tuple(parts)),)
    )


def likeness_words(like: "Likeness", lengths: Lengths) -> str:
    """Return what a size is like, how near, and by what chance.

    Parameters
    ----------
    like : Likeness
    lengths : Lengths
    """
    size = lengths.said(float(np.linalg.norm(like.size)))
    chance, of_any = percent(round(like.chance, 3)), round(like.chance_of_any, 2)
    return (
        f"likeness: {like.words}, {size}, to {lengths.said(like.off)}; a size at "
        f"random would be as near in {chance} ({percent(of_any)} for any of "
        f"{like.names_tried} names)"
    )


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


def answer_words(found: "Suspects") -> str:
    """Return high, low, and "passes, but": three different answers.

    Parameters
    ----------
    found : Suspects
    """
    over = bool(len(found) and found.test[0] > 1)
    tried = f"{found.tried} causes were tried on the same residuals"
    if found.answer == "unchecked":
        return (
            "nothing was measured more often than needed, so there is no misfit to "
            "explain and no cause can be looked for: a blunder of any size is hidden"
        )
    if found.answer == "high":
        said = "too high: the observations differ by more than was stated of them"
        if not over:
            return (
                f"{said}. {tried}; none alone is over its limit. Then it is many small "
                "things: stated standard deviations that are too good, or a model that "
                "leaves something out"
            )
        return f"{said}. {tried}; best supported first"
    if found.answer == "low":
        said = (
            "too low: the observations agree better than was stated of them. That is "
            "no blunder: the stated standard deviations are too large, or vectors that "
            "are sums of others count as observations"
        )
        return f"{said}. All the same one cause is over its limit" if over else said
    if over:
        return (
            f"passes, but {tried}, and not all stay within their limits. A blunder can "
            "hide in a variance factor that passes"
        )
    return f"passes; {tried}, and none is over its limit. Smaller blunders may hide"


def weights_words(found: "Suspects") -> str:
    """Return the warning that weights, not blunders, are wrong; empty for none.

    Where several causes are over their limits and the search for single ones leaves
    the variance factor too high.
    """
    if found.answer != "high" or found.search.stopped == "explained":
        return ""
    if found.search.steps and found.search.stopped == "freedom":
        return ""
    root = float(np.sqrt(found.variance_factor.value))
    return (
        "no few causes explain it. Before anything is left out, doubt the stated "
        f"standard deviations as a whole: all of them times {number(root, 'limit')} "
        "would make the variance factor 1"
    )


def _listed(found: "Suspects") -> list[int]:
    """Return the causes to read: the first group, and what is no echo of the first.

    No larger causes that explain no more; the best three where none is over.
    """
    plain = [k for k in range(len(found)) if not found.wider[k]]
    if not plain or found.test[0] <= 1:
        return plain[:_AT_LEAST]
    echoes = set(_echoes(found))
    return [k for k in plain if found.test[k] > 1 and k not in echoes][:_ROWS]


def _echoes(found: "Suspects") -> list[int]:
    """Return causes over the limit that are under it once the first is in the model."""
    first = {k for k in range(len(found)) if found.group[k] == 0}
    return [
        k
        for k in range(1, len(found))
        if found.test[k] > 1
        and k not in first
        and not found.wider[k]
        and not found.test_beside_first[k] > 1
    ]


def _echo_words(found: "Suspects") -> str:
    names = [found.words[k] for k in _echoes(found)]
    if not names:
        return ""
    more = f"; and {len(names) - _ECHOES} more" if len(names) > _ECHOES else ""
    return (
        f"echoes of cause 1, under their limits once it is taken as true: "
        f"{'; '.join(names[:_ECHOES])}{more}"
    )


def _table(found: "Suspects", rows: Sequence[int], lengths: Lengths) -> Table:
    over = [found.test_beside_first[k] > 1 for k in rows]
    beside = bool(found.test[0] > 1) and any(over)
    columns = [
        Column(""),
        Column("cause", number=False),
        Column("booked too large by", number=False),
        Column("test"),
        *([Column("test beside 1")] if beside else []),
        Column("", number=False),
        Column("verdict", number=False),
        Column("variance factor, before → without it", number=False),
        Column("cannot be told from", number=False, below=True),
    ]
    made = tuple(Row(_cells(found, k, lengths, beside)) for k in rows)
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
    found: "Suspects", k: int, lengths: Lengths, beside: bool
) -> tuple[str | Vial, ...]:
    before = number(found.variance_factor.value, "limit")
    after = number(float(found.variance_factor_without[k]), "limit")
    test = float(found.test[k])
    return (
        str(k + 1),
        found.words[k],
        size_text(found.measure[k], found.size[k], found.sd_size[k], lengths),
        number(test, "test"),
        *([number(float(found.test_beside_first[k]), "test") or "–"] if beside else []),
        Vial(found.verdict[k], test),
        found.verdict[k],
        f"{before} → {after}" if after else "–",
        _twins_words(found, k),
    )


def size_text(measure: str, size: "Floats", sd: "Floats", lengths: Lengths) -> str:
    """Return the amounts of a cause with their sd and unit; a dash for none.

    Examples
    --------
    >>> size_text("u", np.array([0.026]), np.array([0.008]), Lengths())
    '+26 ± 8 mm'
    >>> size_text("ratio", np.array([-2e-6]), np.array([5e-7]), Lengths())
    '−2.0 ± 0.5 ppm'
    """
    if not measure or measure == "own" or not np.isfinite(size).any():
        return "–"
    if measure == "ratio":
        return f"{_signed(size[0] * 1e6, 1)} ± {sd[0] * 1e6:.1f} ppm"
    if measure == "rad":
        return f"{_signed(size[0] * _ARCSEC, 1)} ± {sd[0] * _ARCSEC:.1f}″"
    if measure in ("m", "u"):
        return _length(float(size[0]), float(sd[0]), lengths)
    said = [
        f"{_WAYS[way]} {_length(float(one), float(its), lengths)}"
        for way, one, its in zip(measure, size, sd, strict=True)
        if isfinite(one)
    ]
    return ", ".join(said)


def _length(size: float, sd: float, lengths: Lengths) -> str:
    """Return a length in the small unit; one over a metre in the large."""
    if abs(size) >= 1.0:
        sign = "+" if size > 0 else ""
        return f"{sign}{lengths.coordinate(size)} ± {lengths.said(sd)}".replace(
            " ±", f" {lengths.unit} ±"
        )
    sign = "+" if size > 0 else ""
    if sd < _FINE and lengths.unit == "m":
        return f"{sign}{lengths.small(size)} ± {lengths.small(sd)} mm"
    return f"{sign}{lengths.small(size, 'said')} ± {lengths.said(sd)}"


def _signed(value: float, decimals: int) -> str:
    return f"{value:+.{decimals}f}".replace("-", "−")


def _twins_words(found: "Suspects", k: int) -> str:
    group = found.groups[int(found.group[k])]
    if group.members[0] != k:
        return ""
    others = [found.words[m] for m in group.members[1:]]
    said = "; ".join(others[:4])
    if len(others) > 4:
        said += f"; and {len(others) - 4} more"
    if group.wider and found.test[k] > 1:
        wider = "; ".join(found.words[w] for w in group.wider[:3])
        said = f"{said or 'nothing else'}. No better for being larger: {wider}"
    return said


def _parted_words(found: "Suspects", partings: "Mapping[int, Parting]") -> str:
    if not len(found) or found.test[0] <= 1 or len(found.groups[0].members) < 2:
        return ""
    parting = partings.get(0)
    if parting is None:
        return (
            "to part 1 from what it cannot be told from: no observation of a kind this "
            "job has would help; look at field book and photographs"
        )
    return f"to part 1 from its twin: {parting_words(found, parting)}"


def parting_words(found: "Suspects", parting: "Parting") -> str:
    """Return the observation that would part two causes, and what it buys.

    Parameters
    ----------
    found : Suspects
    parting : Parting
    """
    one, marks = parting.candidate, found.adjustment.network.marks.name
    named = f"{one.name}, " if one.name else ""
    time = f" ({one.minutes:.0f} min)" if isfinite(one.minutes) else ""
    own = " from set-ups of its own" if one.kind == "baseline" else ""
    return (
        f"{named}one more {one.kind} {marks[one.start]} – {marks[one.end]}{own}{time}; "
        f"test of 1 beside its twin then "
        f"{number(parting.after, 'test')}, now {number(parting.before, 'test')}"
    )


def _steps_words(found: "Suspects") -> str:
    said = []
    for n, step in enumerate(found.search.steps, start=1):
        causes = found.made.causes
        words = (
            f"{n}. {causes[step.accepted].words} taken as true (test "
            f"{number(step.test, 'test')}): variance factor "
            f"{number(step.variance_factor, 'limit')} on {step.degrees_of_freedom} "
            "degrees of freedom"
        )
        if step.given_up:
            gone = ", ".join(causes[g].words for g in step.given_up)
            words += f"; looking back, given up: {gone}"
        said.append(words)
    if not said:
        return ""
    return (
        "one after another: " + "; ".join(said) + f". {_STOPPED[found.search.stopped]}"
    )


_STOPPED = {
    "explained": "Nothing more is over its limit and asked for",
    "freedom": "Stopped: another would leave too little to judge by",
    "share": "Stopped: another would set aside more than a tenth of the observations; "
    "then the weights or the model are wrong, not the observations",
    "steps": "Stopped after five: then the weights or the model are wrong, not the "
    "observations",
}


def _left_words(found: "Suspects") -> str:
    if found.answer == "unchecked" or found.enough or not len(found):
        return ""
    left = found.variance_factor.degrees_of_freedom - int(found.components[0])
    return (
        f"not enough to leave anything out: {max(left, 0)} degrees of freedom would be "
        "left, and a cause can hardly be told from another below 6. Measure more first"
    )


def _unchecked_words(found: "Suspects") -> str:
    names = found.unchecked
    if not names:
        return ""
    said = "; ".join(names[:3])
    more = f"; and {len(names) - 3} more" if len(names) > 3 else ""
    return f"nothing checks, so no cause can be looked for in: {said}{more}"


def suspects_next(found: "Suspects") -> str:
    """Return the one command that helps most now.

    Parameters
    ----------
    found : Suspects
    """
    from .content import quoted

    if found.answer in ("unchecked", "low"):
        return "brasscap loops"
    if not len(found) or found.test[0] <= 1:
        return "brasscap report --html"
    kind = found.kind[0]
    network = found.adjustment.network
    if kind in ("set-up height", "set-up on wrong mark", "target height"):
        return f"brasscap show set-up {quoted(found.about[0][0])}"
    if kind.startswith("known mark"):
        return f"brasscap show mark {quoted(found.about[0][0])}"
    if kind == "observation" and found.about[0][0] in network.vectors.name:
        return f"brasscap show baseline {quoted(found.about[0][0])}"
    return "brasscap loops"
