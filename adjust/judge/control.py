"""Which known marks may be held: each against the survey and the other known marks.

A known mark is left out by letting it go: a shift of its own is estimated with
everything else, and that shift is known minus survey, predicted from the others
(Teunissen, Testing Theory; from memory).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from ...networks import Network
from ...networks.covariances import Floats, Ints, blocks
from ...networks.likeness import Likeness, likenesses
from ...networks.likeness_known import known_mark_names
from ..adjustment import Adjustment
from ..equations.known_marks import known_minus
from .blunders import BlunderTests, blunder_tests
from .control_agreement import Agreement, LetGo, agreement, every_subset, let_go
from .external import information_of, marks_follow
from .hypotheses import Hypothesis, known_marks, together
from .known_marks import compared_components
from .limits import b_method, chi_square_quantile, normal_limit

PARTS = ("plan", "height")
MOST = 8
"""Known marks of which all subsets are looked at: 2⁸ of them."""
_ADDS = 0.99
"""A mark adds to another, as an explanation, what chance does in 1 of 100 cases."""


@dataclass(frozen=True, slots=True)
class ControlRow:
    """One known mark, plan or height, against the survey and the other known marks."""

    station: str
    part: str
    """``plan`` or ``height``."""
    use: str
    """``held``, ``weighted`` or ``check-only``, in this solution."""
    difference: Floats
    """(3,) known minus survey, east, north, up, m; NaN for the other part."""
    covariance: Floats
    """(3, 3) of it, stated, m²: of the survey from the other marks, and the mark's
    own."""
    limit: Floats
    """(3,) of a single component at the job's confidence, m."""
    test: float
    """√(T/K), 1 = the limit; NaN where nothing checks it."""
    verdict: str
    moved: Floats
    """(m, 3) what using it does to each mark, east, north, up, m: with it minus
    without it."""
    farthest: int
    """The mark, other than itself, that it moves farthest; −1 where it moves none."""
    distortion: float
    """Largest change between two marks that are observed together, by their
    distance: a ratio."""
    pair: tuple[int, int]
    """Between which marks."""
    twins: tuple[str, ...]
    """Marks of which any may be the wrong one, as far as the survey can tell."""
    likeness: tuple[Likeness, ...] = ()
    """What the difference looks like, where the test is over its limit."""

    @property
    def sd(self) -> Floats:
        """(3,) of the difference, m."""
        return np.asarray(np.sqrt(np.diagonal(self.covariance)))


@dataclass(frozen=True, slots=True)
class Control:
    """All known marks of a solution."""

    adjustment: Adjustment
    rows: tuple[ControlRow, ...]
    together: tuple[Agreement, ...]
    """All that are in use, plan and height apart."""
    subsets: tuple[Agreement, ...] = ()
    """Every two or more of at most ``MOST`` marks, if asked for."""


def control(adjustment: Adjustment, *, subsets: bool = False) -> Control:
    """Return each known mark against the survey as the others place it.

    Parameters
    ----------
    adjustment : Adjustment
        Constrained: each mark in use is left out in turn. Minimal: all but the one
        that is held are compared.
    subsets : bool
        Whether to look at all subsets of the marks in use, where they are few.

    Returns
    -------
    Control
    """
    tests = blunder_tests(adjustment)
    marks = known_marks(adjustment)
    rows: list[ControlRow] = []
    agree: list[Agreement] = []
    of_subsets: list[Agreement] = []
    pairs = _observed_pairs(adjustment.network)
    for part in PARTS:
        here = [one for one in marks if one.kind == f"known mark {part}"]
        rows += [_used(adjustment, one, here, tests, pairs) for one in here]
        rows += _compared(adjustment, part, pairs)
        if here:
            agree.append(agreement(adjustment, here, here))
        if subsets and 2 < len(here) <= MOST:
            of_subsets += every_subset(adjustment, here)
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
    tests: BlunderTests,
    pairs: Ints,
) -> ControlRow:
    """Return a mark that is held or weighted, left out."""
    found = let_go(adjustment, one)
    at = next(
        i
        for i in range(len(tests))
        if (tests.kind[i], tests.name[i]) == (one.kind, one.name)
    )
    difference, covariance = np.full(3, np.nan), np.full((3, 3), np.nan)
    axes = _axes([one])
    sound = not found.free
    if sound:
        difference[axes] = found.shift
        covariance[np.ix_(axes, axes)] = found.covariance
    _, columns, coupling = information_of(one)
    follow = marks_follow(adjustment, one, columns, coupling)
    moved = follow @ found.shift
    test = float(tests.basis.test[at])
    use = "held" if one.carried >= 0 else "weighted"
    return _row(
        adjustment,
        (one.name, one.kind.removeprefix("known mark "), use),
        (difference, covariance),
        (test, tests.verdict[at]),
        moved,
        pairs,
        _twins(adjustment, one, found, here, over=test > 1) if sound else (),
    )


def _twins(
    adjustment: Adjustment,
    one: Hypothesis,
    found: LetGo,
    here: Sequence[Hypothesis],
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
        alone = let_go(adjustment, other)
        both = let_go(adjustment, together([one, other]))
        more = both.rank - alone.rank
        adds = both.statistic - alone.statistic
        none = more < 1 or (over and adds < chi_square_quantile(_ADDS, more))
        # A mark that the survey does not see moves nothing and explains nothing.
        if alone.rank and none and found.rank:
            names.append(other.name)
    return tuple(names)


def _compared(adjustment: Adjustment, part: str, pairs: Ints) -> Iterator[ControlRow]:
    """Yield the marks that this solution only compares."""
    network = adjustment.network
    options, known = network.options, network.known
    components = slice(0, 2) if part == "plan" else slice(2, 3)
    asked = compared_components(adjustment)[:, components]
    rows = np.flatnonzero(asked.all(axis=1))
    difference = known_minus(network, adjustment.nodes)
    own = np.nan_to_num(blocks(known.covariances, len(known), 3))
    for row in rows.tolist():
        mark = int(known.mark[row])
        node = np.array([mark])
        survey = adjustment.covariance(node, node)[0][components, components]
        both = survey + own[row][components, components]
        off, covariance = np.full(3, np.nan), np.full((3, 3), np.nan)
        off[components] = difference[row, components]
        covariance[components, components] = both
        size = len(both)
        sound = np.linalg.eigvalsh(both)[0] > 1e-9 * max(np.trace(both), 1e-300)
        test, verdict = float("nan"), "unchecked"
        if sound:
            statistic = float(off[components] @ np.linalg.solve(both, off[components]))
            limit = b_method(options.outlier_alpha, options.power, size)[1]
            test = float(np.sqrt(statistic / limit))
            single = float(special.chdtrc(size, statistic))
            family = -np.expm1(len(rows) * np.log1p(-single))
            over = "fails" if family < 1 - options.confidence else "query"
            verdict = over if test > 1 else "meets"
        moved = np.zeros((len(network.marks), 3))
        if sound and np.linalg.eigvalsh(survey)[0] > 0:
            moved = _held_there(adjustment, mark, components, survey, off[components])
        named = (network.marks.name[mark], part, "check-only")
        yield _row(
            adjustment, named, (off, covariance), (test, verdict), moved, pairs, ()
        )


def _held_there(
    adjustment: Adjustment, mark: int, components: slice, own: Floats, off: Floats
) -> Floats:
    """Return (m, 3) how marks would move if one were held: Q_k Q⁻¹ d."""
    count = len(adjustment.network.marks)
    every = np.arange(count)
    cross = adjustment.covariance(every, np.full(count, mark))[:, :, components]
    return np.asarray(cross @ np.linalg.solve(own, off))


def _row(
    adjustment: Adjustment,
    named: tuple[str, str, str],
    sizes: tuple[Floats, Floats],
    judged: tuple[float, str],
    moved: Floats,
    pairs: Ints,
    twins: tuple[str, ...],
) -> ControlRow:
    difference, covariance = sizes
    sd = np.sqrt(np.diagonal(covariance))
    limit = normal_limit(1 - adjustment.network.options.confidence) * sd
    length = np.linalg.norm(moved, axis=1)
    length[adjustment.network.marks.name.index(named[0])] = 0.0
    farthest = int(np.argmax(length.round(9))) if length.max(initial=0) > 1e-9 else -1
    distortion, pair = _distortion(adjustment, moved, pairs)
    return ControlRow(
        *named,
        difference,
        covariance,
        limit,
        *judged,
        moved,
        farthest,
        distortion,
        pair,
        twins,
    )


def _distortion(
    adjustment: Adjustment, moved: Floats, pairs: Ints
) -> tuple[float, tuple[int, int]]:
    """Return the largest change between marks observed together, by distance."""
    place = adjustment.nodes.xyz
    first, second = pairs.T
    distance = np.linalg.norm(place[second] - place[first], axis=1)
    apart = distance > 1.0
    if not apart.any():
        return 0.0, (-1, -1)
    change = np.linalg.norm(moved[second] - moved[first], axis=1)
    ratio = np.where(apart, change / np.maximum(distance, 1.0), 0.0)
    at = int(np.argmax(ratio.round(12)))
    return float(ratio[at]), (int(first[at]), int(second[at]))


def _observed_pairs(network: Network) -> Ints:
    """Return (k, 2) marks that one observation in use joins, each pair once."""
    ends = [np.stack([network.vectors.start, network.vectors.end], axis=1)]
    ends[0] = ends[0][network.vectors.used]
    for some in network.sights:
        ends.append(np.stack([some.at, some.to], axis=1)[some.used])
    if network.levels is not None:
        levels = network.levels
        ends.append(np.stack([levels.start, levels.end], axis=1)[levels.used])
    marks = np.sort(network.mark_of(np.concatenate(ends)), axis=1)
    apart = marks[marks[:, 0] != marks[:, 1]]
    return np.unique(apart, axis=0)
