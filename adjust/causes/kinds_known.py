"""Causes in what is known: a mark that moved, a height from another datum."""

from collections.abc import Iterator

import numpy as np

from ...networks.covariances import Floats, Ints
from ..judge.blunders import nodes_over
from .cause import Cause, together
from .field import Field

_PARTS = {"known mark plan": "en", "known mark height": "u", "known mark": "enu"}


def known_marks(field: Field) -> Iterator[Cause]:
    """Yield plan, height and both of each known mark: held ones by letting go."""
    known = field.network.known
    for row in range(len(known)):
        mark = int(known.mark[row])
        name = field.network.marks.name[mark]
        for kind, measure in _PARTS.items():
            columns = [known_column(field, row, letter) for letter in measure]
            if any(column is None for column in columns):
                continue
            what = {"en": "plan of ", "u": "height of ", "enu": ""}[measure]
            words = f"{what}known mark {name}"
            parts = _joined([column for column in columns if column is not None])
            yield Cause(
                kind, (name,), words, measure, *parts, (mark,), (mark,), (mark,)
            )


def known_together(field: Field) -> Iterator[Cause]:
    """Yield one shift common to all known marks: another frame, epoch or datum."""
    known = field.network.known
    found = []
    for letter in "enu":
        each = [known_column(field, row, letter) for row in range(len(known))]
        some = [column for column in each if column is not None]
        if len(some) > 1:
            columns = np.concatenate([base for base, _ in some])
            weights = np.concatenate([weight for _, weight in some])
            found.append((letter, (columns, weights)))
    if found:
        marks = tuple(dict.fromkeys(known.mark.tolist()))
        # Verticals that lean by a few ten-thousandths over the job are no check.
        yield Cause(
            "all known marks",
            (),
            "all known marks by one shift (another frame, epoch or datum)",
            "".join(letter for letter, _ in found),
            *_joined([column for _, column in found]),
            marks=marks,
            known=marks,
            least=1e-6,
        )


_Column = tuple[Ints, Floats]


def known_column(field: Field, row: int, letter: str) -> _Column | None:
    """Return base columns and weights of one component of a known row in use."""
    k = "enu".index(letter)
    datum = field.adjustment.datum
    if datum.held_rows[row, k]:
        nodes = nodes_over(field.adjustment, row)
        groups = field.of_nodes(nodes, np.array([k]))
        if not groups:
            return None
        base, _, weight = together(groups, -np.ones(len(groups)))
        return base, weight
    used = field.used("known mark")
    if len(used) and used[row] and datum.weighted[row, k]:
        return field.rows.edge("known mark", row)[[k]], np.ones(1)
    return None


def _joined(columns: list[_Column]) -> tuple[Ints, Ints, Floats]:
    base = np.concatenate([own for own, _ in columns])
    weight = np.concatenate([own for _, own in columns])
    number = np.repeat(np.arange(len(columns)), [len(own) for own, _ in columns])
    return base, number, weight
