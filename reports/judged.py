"""An adjustment together with everything that is said about it.

Gathered once, so that text, page, drawing and JSON read the same figures.
"""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from ..adjust import Adjustment
    from ..adjust.judge import BlunderTests, KnownMinusSurvey, VarianceFactor
    from ..adjust.precision import MarkPrecision
    from ..networks import Network


@dataclass(frozen=True, slots=True)
class Judged:
    """An adjustment, its tests and its precision."""

    adjustment: "Adjustment"
    variance_factor: "VarianceFactor"
    tests: "BlunderTests"
    known: "KnownMinusSurvey"
    marks: "MarkPrecision"

    @property
    def network(self) -> "Network":
        """The network that was adjusted."""
        return self.adjustment.network

    @property
    def verdict(self) -> str:
        """The worst verdict of the variance factor and of the blunder tests.

        What nothing checks is no worse than a query, and no better.
        """
        verdicts = {self.variance_factor.verdict, *self.tests.verdict}
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
    from ..adjust.judge import blunder_tests, known_minus_survey, variance_factor_test
    from ..adjust.precision import mark_precision

    return Judged(
        adjustment,
        variance_factor_test(adjustment),
        blunder_tests(adjustment),
        known_minus_survey(adjustment),
        mark_precision(adjustment),
    )


@dataclass(frozen=True, slots=True)
class BroughtBack:
    """What an observation that a decision left out would do if it came back."""

    kind: str
    name: str
    shift_enu: "np.typing.NDArray[np.float64]"
    """(3,) booked minus what the rest says, m."""
    test: float
    verdict: str
    variance_factor: float
    """With the observation back in."""


def brought_back(adjustment: "Adjustment") -> list[BroughtBack]:
    """Return each left-out vector and position, brought back alone and tested.

    The whole network is adjusted again for each, so that the figure is what the
    network would have said, not an estimate of it.
    """
    network = adjustment.network
    back = []
    for kind, columns in (
        ("baseline", network.vectors),
        ("position", network.positions),
    ):
        for i in np.flatnonzero(~columns.used):
            used = columns.used.copy()
            used[i] = True
            part = "vectors" if kind == "baseline" else "positions"
            with_it = replace(network, **{part: replace(columns, used=used)})
            back.append(_tested(with_it, adjustment.datum.mode, kind, columns.name[i]))
    return back


def _tested(network: "Network", mode: str, kind: str, name: str) -> BroughtBack:
    from ..adjust import estimate
    from ..adjust.judge import blunder_tests, variance_factor_test

    again = estimate(network, mode)
    tests = blunder_tests(again)
    at = next(
        i
        for i, (k, n) in enumerate(zip(tests.kind, tests.name, strict=True))
        if (k, n) == (kind, name)
    )
    return BroughtBack(
        kind,
        name,
        tests.shift_enu[at],
        float(tests.test[at]),
        tests.verdict[at],
        variance_factor_test(again).value,
    )
