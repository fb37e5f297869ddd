"""What `reobserve --done` says: what was bought, predicted against what is true."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..adjust.design.standing import blind_of, over_count, worst_hidden, worst_share
from ..networks import Finding
from .document import Column, Document, Paragraph, Part, Row, Section, Table
from .heading import Heading
from .objects import findings_objects
from .objects_figures import RATIO, Object, rounded
from .rounding import Units
from .words_planned import hidden_words

if TYPE_CHECKING:
    from ..adjust.design import State

_MM = 4


@dataclass(frozen=True, slots=True)
class Done:
    """How a network stood before some jobs, would by prediction, and does now."""

    jobs: tuple[str, ...]
    """Each in words."""
    unread: tuple[str, ...]
    """Of which nothing can be predicted, with why."""
    missing: tuple[str, ...]
    """Whose observations are not in the job yet."""
    specification: str
    lambda0: float
    before: "State"
    predicted: "State"
    now: "State | None"


def done_document(made: Done, heading: Heading) -> Document:
    """Return what `reobserve --done` prints.

    Parameters
    ----------
    made : Done
    heading : Heading
    """
    units = heading.units
    parts: list[Part] = [
        Paragraph(f"done: {'; '.join(made.jobs)}"),
        _table(made, units),
    ]
    parts += [Paragraph(f"not predicted: {one}") for one in made.unread]
    if made.missing:
        names = ", ".join(made.missing)
        parts.append(Paragraph(f"not in the job yet: {names}"))
    words = (
        "Predicted: the state before with what was planned, at its expected precision. "
        "Now: with what was really observed, at the precision that it states."
    )
    parts.append(Paragraph(words, "soft"))
    step = "brasscap import" if made.missing else "brasscap reobserve"
    parts.append(Paragraph(f"next: {step}", "next"))
    title = "What the work bought: predicted, and what is true now"
    return Document(title, (Section("", tuple(parts)),))


def _table(made: Done, units: Units) -> Table:
    columns = (
        Column("", number=False),
        Column("before"),
        Column("predicted"),
        Column("now"),
    )
    states = (made.before, made.predicted, made.now)
    rows = [
        _row(
            "unchecked observations and set-ups",
            states,
            lambda s: str(len(blind_of(s))),
        ),
        _row(
            "largest blunder that could hide",
            states,
            lambda s: hidden_words(worst_hidden(s, made.lambda0), units),
        ),
        _row(
            "worst pair, share of its limit or size",
            states,
            _worst,
        ),
    ]
    if made.specification:
        words = f"{made.specification}, over the limit"
        rows.insert(1, _row(words, states, lambda s: str(over_count(s))))
    return Table("before, predicted and now", columns, tuple(rows))


def _row(
    what: str, states: "Sequence[State | None]", words: "Callable[[State], str]"
) -> Row:
    return Row((what, *("not yet" if s is None else words(s) for s in states)))


def _worst(state: "State") -> str:
    return f"{worst_share(state):.3g}"


def done_object(made: Done, findings: Sequence[Finding] = ()) -> Object:
    """Return the object of `brasscap/reobserve-done/1`.

    Parameters
    ----------
    made : Done
    findings : sequence of Finding
        Of the input.
    """
    return {
        "schema": "brasscap/reobserve-done/1",
        "units": {"length": "m"},
        "jobs": list(made.jobs),
        "not_predicted": list(made.unread),
        "not_in_the_job": list(made.missing),
        "specification": made.specification,
        "before": _standing(made, made.before),
        "predicted": _standing(made, made.predicted),
        "now": None if made.now is None else _standing(made, made.now),
        "findings": findings_objects(findings),
    }


def _standing(made: Done, state: "State") -> Object:
    return {
        "unchecked_count": len(blind_of(state)),
        "over_limit_count": over_count(state) if made.specification else None,
        "largest_hidden_mm": rounded(1000 * worst_hidden(state, made.lambda0), _MM),
        "worst_pair_ratio": rounded(worst_share(state), RATIO),
    }
