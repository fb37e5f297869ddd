"""An adjustment together with everything that is said about it.

Gathered once, so that text, page, drawing and JSON read the same figures.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ..adjust import Adjustment
    from ..adjust.judge import (
        BlunderTests,
        KnownMinusSurvey,
        ParameterEstimates,
        VarianceFactor,
    )
    from ..adjust.precision import MarkPrecision, OrthometricHeights
    from ..networks import Network
    from ..networks.covariances import Bools, Floats


@dataclass(frozen=True)
class Judged:
    """An adjustment, its tests and its precision."""

    adjustment: "Adjustment"
    variance_factor: "VarianceFactor"
    tests: "BlunderTests"
    known: "KnownMinusSurvey"
    marks: "MarkPrecision"
    checked: "Bools"
    """(m, 2) whether plan and height of each mark are checked."""
    parameters: "ParameterEstimates"
    heights: "OrthometricHeights | None" = None
    """Above the geoid; None where it is not known."""

    @property
    def network(self) -> "Network":
        """The network that was adjusted."""
        return self.adjustment.network

    @cached_property
    def held(self) -> "Bools":
        """(m, 3) whether a mark's east, north, up is held: none in a free solution."""
        held = self.adjustment.datum.held_marks(self.network)
        return held & (self.adjustment.inner is None)

    @cached_property
    def estimated(self) -> "Bools":
        """(m, 2) whether a mark has a plan, and a height, in this solution.

        A mark that only levels reach has no plan, whatever stands in its place.
        """
        each = self.marks.estimated
        return np.stack([each[:, :2].all(axis=1), each[:, 2]], axis=1)

    @property
    def dimension(self) -> str:
        """``space``, ``plan`` or ``height``: what of the marks was adjusted."""
        plan, height = self.estimated[:, 0].any(), self.estimated[:, 1].any()
        if plan and height:
            return "space"
        return "plan" if plan else "height"

    @cached_property
    def grid(self) -> "Floats":
        """(m, 3) north, east, height, m; NaN for what is neither known nor estimated.

        North and east are of the site grid or map grid, NaN where there is none.
        """
        return np.where(
            self.estimated[:, [0, 0, 1]],
            self.network.frame.grid(self.marks.xyz),
            np.nan,
        )

    @cached_property
    def all_checked(self) -> "Bools":
        """(m,) whether all that a mark has, plan or height or both, is checked."""
        has = self.estimated
        return np.asarray((self.checked | ~has).all(axis=1) & has.any(axis=1))

    @cached_property
    def verdict(self) -> str:
        """The worst verdict of variance factor, blunder tests and known marks.

        What nothing checks is no worse than a query, and no better.
        """
        verdicts = {
            self.variance_factor.verdict,
            *self.tests.verdict,
            *self.known.verdict,
        }
        return worst(verdicts)


def worst(verdicts: "set[str]") -> str:
    """Return the worst of some verdicts.

    Examples
    --------
    >>> worst({"meets", "unchecked", "query"})
    'query'
    """
    order = ("fault", "fails", "query", "unchecked")
    return next((verdict for verdict in order if verdict in verdicts), "meets")


def judge(adjustment: "Adjustment") -> Judged:
    """Return an adjustment with its tests and its precision."""
    from ..adjust.judge import (
        blunder_tests,
        checked_marks,
        known_minus_survey,
        parameter_estimates,
        variance_factor_test,
    )
    from ..adjust.precision import mark_precision, orthometric_heights

    tests = blunder_tests(adjustment)
    return Judged(
        adjustment,
        variance_factor_test(adjustment),
        tests,
        known_minus_survey(adjustment),
        mark_precision(adjustment),
        checked_marks(adjustment, tests),
        parameter_estimates(adjustment),
        orthometric_heights(adjustment),
    )


def without_factor(judged: Judged) -> Judged:
    """Return the same; a large network's factor is made again if it is asked for.

    Parameters
    ----------
    judged : Judged
    """
    from ..adjust.again import without_factor as let_go

    return replace(judged, adjustment=let_go(judged.adjustment))


@dataclass(frozen=True, slots=True)
class BroughtBack:
    """What an observation that a decision left out would do if it came back."""

    kind: str
    name: str
    shift: "Floats"
    """(3,) booked minus what the rest says, m; of a reading its own value first."""
    measure: str
    """What the shift is in: ``enu``, or of a reading ``m`` or ``rad``."""
    test: float
    verdict: str
    variance_factor: float
    """With the observation back in."""


BACK_AT_MOST = 20
"""Left-out observations that are brought back: one adjustment each."""


def brought_back(adjustment: "Adjustment") -> list[BroughtBack]:
    """Return each left-out observation, brought back alone and tested.

    The whole network is adjusted again for each, so that the figure is what the
    network would have said, not an estimate of it; of very many, the first are.
    """
    from ..adjust import Adjustment, estimates

    mode = adjustment.datum.mode
    some = list(islice(_with_one_back(adjustment.network), BACK_AT_MOST))
    made = []
    found = estimates((network for _, _, network in some), mode)
    for (kind, name, _), again in zip(some, found, strict=True):
        if not isinstance(again, Adjustment):
            raise again
        made.append(_tested(again, kind, name))
    return made


def _with_one_back(network: "Network") -> "Iterator[tuple[str, str, Network]]":
    """Yield kind and name of each left-out observation, and the network with it."""
    vectors, positions, levels = network.vectors, network.positions, network.levels
    for i, used in _each_back(vectors.used):
        more = replace(network, vectors=replace(vectors, used=used))
        yield "baseline", vectors.name[i], more
    for i, used in _each_back(positions.used):
        more = replace(network, positions=replace(positions, used=used))
        yield "position", positions.name[i], more
    for k, some in enumerate(network.sights):
        before, after = network.sights[:k], network.sights[k + 1 :]
        for i, used in _each_back(some.used):
            sights = (*before, replace(some, used=used), *after)
            yield some.kind, some.name[i], replace(network, sights=sights)
    if levels is not None:
        for i, used in _each_back(levels.used):
            more = replace(network, levels=replace(levels, used=used))
            yield "level difference", levels.name[i], more
    known = network.known
    for i, used in _each_back(known.used):
        more = replace(network, known=replace(known, used=used))
        mark = network.marks.name[known.mark[i]]
        uses = (("plan", known.use_plan[i], 0), ("height", known.use_height[i], 2))
        for part, use, axis in uses:
            if use in ("held", "weighted") and known.components[i, axis]:
                yield f"known mark {part}", mark, more


def _each_back(used: "Bools") -> "Iterator[tuple[int, Bools]]":
    for i in np.flatnonzero(~used):
        made = used.copy()
        made[i] = True
        yield int(i), made


def _tested(again: "Adjustment", kind: str, name: str) -> BroughtBack:
    from ..adjust.judge import blunder_tests, variance_factor_test

    tests = blunder_tests(again)
    at = next(
        i
        for i, (k, n) in enumerate(zip(tests.kind, tests.name, strict=True))
        if (k, n) == (kind, name)
    )
    return BroughtBack(
        kind,
        name,
        tests.tests.shift[at],
        tests.measure[at],
        float(tests.basis.test[at]),
        tests.verdict[at],
        variance_factor_test(again).value,
    )
