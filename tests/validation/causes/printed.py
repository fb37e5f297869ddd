"""The smallest detectable sizes as they are printed: is their power what is claimed?

The sizes come from what the command ``reliability`` prints, and are put upon the
observations as they are booked; the test that must find them is that of the causes.
The two are different code.
"""

from collections import Counter

import numpy as np
from design import kind_of
from faults import UNIT

from brasscap.adjust.causes.cause import shift_matrix
from brasscap.adjust.judge import hypotheses
from brasscap.adjust.judge.external import reliability
from brasscap.adjust.judge.limits import b_method

_OF_THINGS = {
    "set-up": "set-up on wrong mark",
    "set-up height": "set-up height",
    "tripod": "tripod",
    "antenna": "antenna",
    "known mark plan": "known mark plan",
    "known mark height": "known mark height",
}
"""Kinds of cause by what ``reliability`` calls them; others are observations."""
_AXES = {"east": 0, "north": 1, "up": 2, "value": 0}
"""Where ``reliability`` keeps what is along an axis."""


def at_printed_size(design, random, count):
    """Yield kind, (count,) whether it is found, and √λ over what is claimed.

    One cause of each kind that has a printed size along an axis.
    """
    sizes = dict(_sizes(design))
    by_kind = {}
    for cause, along in sizes.items():
        by_kind.setdefault(kind_of(design.made.causes[cause]), []).append(
            (cause, along)
        )
    for kind, some in by_kind.items():
        cause, along = some[int(random.integers(len(some)))]
        axis = int(random.choice(np.flatnonzero(np.isfinite(along))))
        amounts = np.zeros(len(along))
        amounts[axis] = along[axis] * random.choice([-1.0, 1.0])
        rows = _booked(design, cause, amounts)
        at = np.arange(design.made.first[cause], design.made.first[cause + 1])
        pull = design.made.scaled[:, at].T @ (
            design.noise(random, count) + rows[:, None]
        )
        limit = b_method(design.options.outlier_alpha, design.options.power, len(at))[1]
        found = ((pull**2).sum(axis=0) > limit).tolist()
        yield kind, found, float(np.sqrt(rows @ rows / UNIT))


def _booked(design, cause, amounts):
    """Return residuals, signed as misclosures, of amounts as they are booked."""
    made = design.made
    columns, _ = shift_matrix([made.causes[cause]], made.rows.base)
    return design.left(columns @ amounts)


def _sizes(design):
    """Yield the number of a cause and what is printed along each of its axes."""
    adjustment, made = design.adjustment, design.made
    called = Counter(map(_called, made.causes))
    # A tripod that carries instrument and target in turn has two heights.
    known = {
        name: i for i, name in enumerate(map(_called, made.causes)) if called[name] == 1
    }
    wrong = [
        *hypotheses.observations(adjustment),
        *hypotheses.set_ups(adjustment),
        *hypotheses.equipment(adjustment, "tripod"),
        *hypotheses.equipment(adjustment, "antenna"),
    ]
    found = reliability(adjustment, wrong)
    checked = {i for some in design.kinds.values() for i in some}
    for one, along in zip(wrong, found.along, strict=True):
        kind = _OF_THINGS.get(one.kind)
        name = (kind, one.name) if kind else f"{one.kind} {one.about}"
        cause = known.get(name, -1)
        axes = [_AXES[axis] for axis in one.axes]
        sized = along[axes]
        known_axis = cause in checked and np.isfinite(sized).any()
        if known_axis and len(axes) == made.causes[cause].components:
            yield cause, sized


def _called(cause):
    """Return by what a cause is found again: its words, or its kind and its thing."""
    if cause.kind == "observation":
        return cause.words
    return cause.kind, cause.about[0] if cause.about else ""
