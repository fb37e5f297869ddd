"""Which known marks may be held: each against the survey and the other known marks.

A known mark is left out by letting it go: a shift of its own is estimated with
everything else, and that shift is known minus survey, predicted from the others
(Teunissen, Testing Theory; from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...networks.likeness import likenesses
from ...networks.likeness_known import known_mark_names
from ..adjustment import Adjustment
from ..one_thread import one_thread
from .blunder_table import BlunderTests
from .blunders import blunder_tests
from .control_agreement import Agreement, agreement, every_subset, not_judged
from .control_compared import compared, held_there
from .control_joint import LetGo, jointly
from .control_moves import moves
from .control_rows import ControlRow, control_row, observed_pairs, with_effects
from .control_twins import Alone, alone
from .hypotheses import Hypothesis, known_marks
from .names import names

PARTS = ("plan", "height")
MOST = 8
"""Known marks of which all subsets are looked at: 2⁸ of them."""
TOGETHER = 3000
"""Known marks that are taken together; bounds the memory to 1 GB."""
_SOLVED = 30_000_000
"""Marks whose effects are worked out, times unknowns: some seconds …"""
_LEAST = 20
"""… and so many marks in any case."""


@dataclass(frozen=True, slots=True)
class Control:
    """All known marks of a solution."""

    adjustment: Adjustment
    rows: tuple[ControlRow, ...]
    together: tuple[Agreement, ...]
    """All that are in use, plan and height apart."""
    subsets: tuple[Agreement, ...] = ()
    """Every two or more of at most ``MOST`` marks, if asked for."""


@one_thread
def control(
    adjustment: Adjustment,
    *,
    subsets: bool = False,
    effects: bool = True,
    about: str = "",
    tests: BlunderTests | None = None,
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
        like and from which others it cannot be told. What it does and looks like is
        an equation each: of very many marks those with the largest tests have it.
    about : str, optional
        A mark: of no other is this wanted.
    tests : BlunderTests, optional
        Of the adjustment, where they are known.

    Returns
    -------
    Control
    """
    marks = known_marks(adjustment)
    tests = tests or blunder_tests(adjustment)
    pairs = observed_pairs(adjustment.network)
    rows: list[ControlRow] = []
    agree: list[Agreement] = []
    of_subsets: list[Agreement] = []
    for part in PARTS:
        here = [one for one in marks if one.kind == f"known mark {part}"]
        for start in range(0, len(here), TOGETHER):
            joint = jointly(adjustment, here[start : start + TOGETHER])
            found = alone(joint)
            mine = _tested(adjustment, found, tests)
            if effects:
                if len(here) <= TOGETHER:
                    mine = _with_twins(mine, found, about)
                some = _wanted(adjustment, mine, about)
                for k, moved in moves(adjustment, found, some):
                    mine[k] = with_effects(adjustment, mine[k], moved, pairs)
                    mine[k] = _likened(adjustment, mine[k], marks)
            rows += mine
        if len(here) > TOGETHER:
            agree.append(not_judged(here, TOGETHER))
        elif here:
            agree.append(agreement(adjustment, joint, range(len(here))))
        if subsets and 2 < len(here) <= MOST:
            of_subsets += every_subset(adjustment, joint)
        others = compared(adjustment, part)
        if effects:
            for k in _wanted(adjustment, others, about):
                moved = held_there(adjustment, others[k])
                others[k] = with_effects(adjustment, others[k], moved, pairs)
                others[k] = _likened(adjustment, others[k], marks)
        rows += others
    return Control(adjustment, tuple(rows), tuple(agree), tuple(of_subsets))


def _wanted(
    adjustment: Adjustment, rows: Sequence[ControlRow], about: str
) -> list[int]:
    """Return the rows whose effects are worked out, in their order."""
    if about:
        return [k for k, row in enumerate(rows) if row.station == about]
    unknowns = int(adjustment.columns.max(initial=0)) + 1
    most = max(_LEAST, _SOLVED // unknowns)
    test = np.nan_to_num(np.array([row.test for row in rows]), nan=-1.0)
    return sorted(np.argsort(-test.round(6), kind="stable")[:most].tolist())


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
    called = known_mark_names(network, int(np.flatnonzero(its)[0]), row.part)
    seen = np.flatnonzero(np.isfinite(row.difference))
    size, covariance = row.difference[seen], row.covariance[np.ix_(seen, seen)]
    both = [one for one in marks if one.name == row.station]
    if len(both) > 1 and row.use != "check-only":
        whole = jointly(adjustment, both).let_go(range(len(both)))
        at = [k for k, axis in enumerate(_axes(both)) if axis in seen]
        if not whole.free:
            size, covariance = whole.shift[at], whole.covariance[np.ix_(at, at)]
    return replace(row, likeness=likenesses(size, covariance, called))


def _axes(some: Sequence[Hypothesis]) -> list[int]:
    """Return which of east, north, up each component is, one after the other."""
    return [("east", "north", "up").index(axis) for one in some for axis in one.axes]


def _with_twins(
    rows: Sequence[ControlRow], found: Alone, about: str
) -> list[ControlRow]:
    """Return the rows with the marks from which each cannot be told."""
    made = []
    for k, row in enumerate(rows):
        twins: list[int] = []
        if not about or row.station == about:
            twins = found.twins(k, over=row.test > 1)
        made.append(replace(row, twins=tuple(rows[other].station for other in twins)))
    return made


def _tested(
    adjustment: Adjustment, found: Alone, tests: BlunderTests
) -> list[ControlRow]:
    """Return marks that are held or weighted, each left out; not what using it does."""
    here = found.joint.hypotheses
    at = _tests_of(tests, here[0].kind)
    return [
        _row(adjustment, one, its, tests, at[one.name])
        for one, its in zip(here, found.found, strict=True)
    ]


def _row(
    adjustment: Adjustment, one: Hypothesis, its: LetGo, tests: BlunderTests, at: int
) -> ControlRow:
    difference, covariance = np.full(3, np.nan), np.full((3, 3), np.nan)
    axes = _axes([one])
    if not its.free:
        difference[axes] = its.shift
        covariance[np.ix_(axes, axes)] = its.covariance
    use = "held" if one.carried >= 0 else "weighted"
    return control_row(
        adjustment,
        (one.name, one.kind.removeprefix("known mark "), use),
        (difference, covariance),
        (float(tests.basis.test[at]), tests.verdict[at]),
    )


def _tests_of(tests: BlunderTests, kind: str) -> dict[str, int]:
    """Return the rows of the tests of known marks of a part, by their names."""
    made: dict[str, int] = {}
    first = 0
    for run in tests.runs:
        if run.kind == kind:
            for k, name in enumerate(names(tests.network, run.table, run.edge)):
                made.setdefault(name, first + k)
        first += len(run.edge)
    return made
