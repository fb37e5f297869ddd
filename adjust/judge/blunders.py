"""Blunder tests of what was observed or is known: vectors, set-ups, marks."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Bools, Floats, Ints
from ..adjustment import Adjustment
from ..equations import Equations
from ..one_thread import one_thread
from .blunder_table import BlunderTests, Run
from .edge_tests import Judge, edge_tests, judge_of
from .edges import of_edges
from .names import rows
from .set_up_tests import set_up_tests
from .shifts import of_nodes, some_of
from .verdicts import Tested, filled, part


@one_thread
def blunder_tests(adjustment: Adjustment) -> BlunderTests:
    """Return the tests of all observations, set-ups and known marks in use.

    * baseline, position, known mark (weighted): all components together; readings of
      an instrument, level differences, parameters with a prior: by themselves;
    * set-up: place and height together, and "set-up height" alone;
    * known mark plan, known mark height: weighted or held, each alone. A held mark
      is tested by letting it go; the one that a minimal solution starts from is no
      more than its origin.

    Sizes are booked minus what the rest says: + is booked too large.

    Parameters
    ----------
    adjustment : Adjustment

    Returns
    -------
    BlunderTests
        A row a test; lengths in m.
    """
    judge = judge_of(adjustment)
    made = [
        _edges(adjustment, some)
        for some in adjustment.equations
        if some.kind != "set-up"
    ]
    made += _set_ups(adjustment) + _known_marks(adjustment, judge)
    return _together(adjustment, [some for some in made if len(some.edge)])


@dataclass(frozen=True, slots=True)
class _Some:
    kind: str
    table: str
    edge: Ints
    row: Ints
    redundancy: Floats
    tests: list[Tested]
    """One; none once it is in the table."""


def _edges(adjustment: Adjustment, some: Equations) -> _Some:
    """Return the tests of one kind of observation, as the rows were booked."""
    made = edge_tests(adjustment, some)
    assert made.tests is not None
    return _named(
        adjustment, some.kind, some.kind, made.edges, made.tests, made.redundancy
    )


def _set_ups(adjustment: Adjustment) -> list[_Some]:
    """Return the tests of set-ups, against all that was observed from them."""
    for some in adjustment.equations:
        if some.kind == "set-up":
            break
    else:
        return []
    found = set_up_tests(adjustment, np.flatnonzero(some.used))
    named = []
    for kind, one in (("set-up", found.place), ("set-up height", found.height)):
        assert one.tests is not None
        share = one.redundancy if kind == "set-up" else None
        named.append(_named(adjustment, kind, "set-up", one.edges, one.tests, share))
    return named


def _known_marks(adjustment: Adjustment, judge: Judge) -> list[_Some]:
    """Return the tests of known plan and height, held ones by letting them go."""
    datum = adjustment.datum
    made = []
    held = np.flatnonzero(datum.held_rows.any(axis=1) & _reached(adjustment))
    if datum.mode != "constrained":
        # The mark that a minimal solution starts from is its origin, no observation.
        held = held[:0]
    # A mark may have a row for its plan and another for its height.
    marks, of_row = np.unique(adjustment.network.known.mark[held], return_inverse=True)
    over = over_known(adjustment, marks)
    found = some_of(of_nodes(adjustment, *over, len(marks)), of_row)
    for word, components in (("plan", [0, 1]), ("height", [2])):
        rows_held = datum.held_rows[held][:, components].any(axis=1)
        alone = part(some_of(found, np.flatnonzero(rows_held)), components)
        kind = f"known mark {word}"
        made.append(
            _named(adjustment, kind, "known mark", held[rows_held], judge(alone))
        )
    weighted = [e for e in adjustment.equations if e.kind == "known mark"]
    if weighted:
        of_rows, _ = of_edges(adjustment, weighted[0])
        for word, components in (("plan", [0, 1]), ("height", [2])):
            active = weighted[0].active[:, components].any(axis=1) & weighted[0].used
            rows_used = np.flatnonzero(active)
            alone = part(some_of(of_rows, rows_used), components)
            kind = f"known mark {word}"
            made.append(_named(adjustment, kind, "known mark", rows_used, judge(alone)))
    return made


def _named(
    adjustment: Adjustment,
    kind: str,
    table: str,
    used: Ints,
    tests: Tested,
    redundancy: Floats | None = None,
) -> _Some:
    nothing = np.full(len(used), np.nan)
    return _Some(
        kind,
        table,
        used,
        rows(adjustment.network, table)[used],
        nothing if redundancy is None else redundancy,
        [tests],
    )


def nodes_over(adjustment: Adjustment, row: int) -> Ints:
    """Return the nodes that move with a known mark: itself and its set-ups."""
    mark = adjustment.network.known.mark[row]
    count = len(adjustment.network.marks)
    over = np.flatnonzero(adjustment.network.set_ups.mark == mark)
    return np.concatenate([[mark], count + over])


def over_known(adjustment: Adjustment, marks: Ints) -> tuple[Ints, Ints]:
    """Return the nodes that move with some known marks, and the place of each's mark.

    Parameters
    ----------
    marks : ndarray of int, shape (k,)
        That differ.

    Returns
    -------
    nodes, place : ndarray of int
        The marks themselves and their set-ups.
    """
    network = adjustment.network
    place = np.full(len(network.marks), -1)
    place[marks] = np.arange(len(marks))
    of = place[network.mark_of(np.arange(len(adjustment.nodes.xyz)))]
    nodes = np.flatnonzero(of >= 0)
    return nodes, of[nodes]


def _reached(adjustment: Adjustment) -> Bools:
    """Return (n,) whether an observation reaches the mark of each known row."""
    from ..observed import observed_components

    observed = np.asarray(observed_components(adjustment.network).any(axis=1))
    return observed[adjustment.network.known.mark]


def _together(adjustment: Adjustment, made: Sequence[_Some]) -> BlunderTests:
    options = adjustment.network.options
    # Of a million marks all tests are two gigabytes: each kind goes when it is in.
    count = sum(len(some.edge) for some in made)
    tests = filled((some.tests.pop() for some in made), count)
    basis = tests.stated if options.tests_from == "stated" else tests.estimated
    judged = np.isfinite(basis.test)
    with np.errstate(divide="ignore"):
        log_none = judged.sum() * np.log1p(-basis.probability)
    family = np.where(judged, -np.expm1(log_none), np.nan)
    over = basis.test > 1
    fails = over & (family < 1 - options.confidence)
    verdict = _VERDICTS[np.where(judged, over + fails.astype(int), 3)]
    redundancy = np.concatenate([some.redundancy for some in made] or [np.zeros(0)])
    none = np.zeros(0, dtype=np.int64)
    return BlunderTests(
        adjustment.network,
        tuple(Run(some.kind, some.table, some.edge) for some in made),
        np.concatenate([some.edge for some in made] or [none]),
        np.concatenate([some.row for some in made] or [none]),
        np.isfinite(redundancy),
        redundancy,
        tests,
        basis,
        family,
        tuple(verdict.tolist()),
    )


_VERDICTS = np.array(["meets", "query", "fails", "unchecked"], dtype=object)
