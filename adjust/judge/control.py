"""Which known marks may be held: each against the survey and the other known marks.

A known mark is left out by letting it go: a shift of its own is estimated with
everything else, and that shift is known minus survey, predicted from the others
(Teunissen, Testing Theory; from memory).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...networks.covariances import Ints
from ...networks.likeness import likenesses
from ...networks.likeness_known import known_mark_names
from ..adjustment import Adjustment
from .blunder_table import BlunderTests
from .blunders import blunder_tests
from .control_agreement import Agreement, LetGo, agreement, every_subset, let_go
from .control_compared import compared
from .control_rows import ControlRow, control_row, observed_pairs, with_effects
from .external import marks_follow
from .hypotheses import Hypothesis, known_marks, together
from .limits import chi_square_quantile
from .unseen import information_of

PARTS = ("plan", "height")
MOST = 8
"""Known marks of which all subsets are looked at: 2⁸ of them."""
_ADDS = 0.99
"""A mark adds to another, as an explanation, what chance does in 1 of 100 cases."""


@dataclass(frozen=True, slots=True)
class Control:
    """All known marks of a solution."""

    adjustment: Adjustment
    rows: tuple[ControlRow, ...]
    together: tuple[Agreement, ...]
    """All that are in use, plan and height apart."""
    subsets: tuple[Agreement, ...] = ()
    """Every two or more of at most ``MOST`` marks, if asked for."""


def control(
    adjustment: Adjustment, *, subsets: bool = False, effects: bool = True
) -> Control:
    """Return each known mark against the survey as the others place it.

    Parameters
    ----------
    adjustment : Adjustment
        Constrained: each mark in use is left out in turn. Minimal: all but the one
        that is held are compared.
    subsets : bool
        Whether to look at all subsets of the marks in use, where they are few.
    effects : bool
        Whether what a mark does to the others is wanted, what its difference looks
        like and from which others it cannot be told: an equation or more a mark.

    Returns
    -------
    Control
    """
    tests = blunder_tests(adjustment)
    marks = known_marks(adjustment)
    rows: list[ControlRow] = []
    agree: list[Agreement] = []
    of_subsets: list[Agreement] = []
    pairs = observed_pairs(adjustment.network)
    for part in PARTS:
        here = [one for one in marks if one.kind == f"known mark {part}"]
        alone = {one.name: let_go(adjustment, one) for one in here}
        use = _used if effects else _tested
        rows += [use(adjustment, one, here, alone, tests, pairs) for one in here]
        rows += compared(adjustment, part, pairs, effects=effects)
        if here:
            agree.append(agreement(adjustment, here, here))
        if subsets and 2 < len(here) <= MOST:
            of_subsets += every_subset(adjustment, here)
    if effects:
        rows = [_likened(adjustment, row, marks) for row in rows]
    return Control(adjustment, tuple(rows), tuple(agree), tuple(of_subsets))


def _likened(
    adjustment: Adjustment, row: ControlRow, marks: Sequence[Hypothesis]
) -> ControlRow:
    """Return the row with what its difference looks like, if it is over its limit.

    Coordinates of another frame are wrong in plan and in height, so that both are
    let go: a height that is held wrong leans on the plan.
    """
    if not row.test > 1:
        return row
    network, known = adjustment.network, adjustment.network.known
    axis = 0 if row.part == "plan" else 2
    mark = network.marks.name.index(row.station)
    its = (known.mark == mark) & known.components[:, axis] & known.used
    names = known_mark_names(network, int(np.flatnonzero(its)[0]), row.part)
    seen = np.flatnonzero(np.isfinite(row.difference))
    size, covariance = row.difference[seen], row.covariance[np.ix_(seen, seen)]
    both = [one for one in marks if one.name == row.station]
    if len(both) > 1 and row.use != "check-only":
        whole = let_go(adjustment, together(both))
        at = [k for k, axis in enumerate(_axes(both)) if axis in seen]
        if not whole.free:
            size, covariance = whole.shift[at], whole.covariance[np.ix_(at, at)]
    return replace(row, likeness=likenesses(size, covariance, names))


def _axes(some: Sequence[Hypothesis]) -> list[int]:
    """Return which of east, north, up each component is, one after the other."""
    return [("east", "north", "up").index(axis) for one in some for axis in one.axes]


def _used(
    adjustment: Adjustment,
    one: Hypothesis,
    here: Sequence[Hypothesis],
    alone: Mapping[str, LetGo],
    tests: BlunderTests,
    pairs: Ints,
) -> ControlRow:
    """Return a mark that is held or weighted, left out, and what using it does."""
    row = _tested(adjustment, one, here, alone, tests, pairs)
    found = alone[one.name]
    _, columns, coupling = information_of(one)
    moved = marks_follow(adjustment, one, columns, coupling) @ found.shift
    twins: tuple[str, ...] = ()
    if not found.free:
        twins = _twins(adjustment, one, here, alone, over=row.test > 1)
    return with_effects(adjustment, row, moved, pairs, twins)


def _tested(
    adjustment: Adjustment,
    one: Hypothesis,
    here: Sequence[Hypothesis],
    alone: Mapping[str, LetGo],
    tests: BlunderTests,
    pairs: Ints,
) -> ControlRow:
    """Return a mark that is held or weighted, left out; not what using it does."""
    found = alone[one.name]
    at = _test_of(tests, one)
    difference, covariance = np.full(3, np.nan), np.full((3, 3), np.nan)
    axes = _axes([one])
    if not found.free:
        difference[axes] = found.shift
        covariance[np.ix_(axes, axes)] = found.covariance
    use = "held" if one.carried >= 0 else "weighted"
    return control_row(
        adjustment,
        (one.name, one.kind.removeprefix("known mark "), use),
        (difference, covariance),
        (float(tests.basis.test[at]), tests.verdict[at]),
    )


def _test_of(tests: BlunderTests, one: Hypothesis) -> int:
    """Return the row of the test of a known mark."""
    first = 0
    for run in tests.runs:
        if run.kind == one.kind:
            at = tests.name[first : first + len(run.edge)]
            if one.name in at:
                return first + at.index(one.name)
        first += len(run.edge)
    raise ValueError(one.name)


def _twins(
    adjustment: Adjustment,
    one: Hypothesis,
    here: Sequence[Hypothesis],
    alone: Mapping[str, LetGo],
    *,
    over: bool,
) -> tuple[str, ...]:
    """Return the marks from which one cannot be told.

    Under which it could add nothing, whatever the figures; and where it is over its
    limit, those under which it adds no more than chance.
    """
    names = []
    for other in here:
        if other.name == one.name:
            continue
        its = alone[other.name]
        both = let_go(adjustment, together([one, other]))
        more = both.rank - its.rank
        adds = both.statistic - its.statistic
        none = more < 1 or (over and adds < chi_square_quantile(_ADDS, more))
        # A mark that the survey does not see moves nothing and explains nothing.
        if its.rank and none and alone[one.name].rank:
            names.append(other.name)
    return tuple(names)
