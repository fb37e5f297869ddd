"""Misclosures against what their covariances allow, and what spoils most loops."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from ...networks import Network, Options
from ...networks.covariances import Floats
from ...networks.loops import Loop
from ...networks.preparation import Spread
from .limits import b_method, chi_square_quantile

CONSTRUCTED = "same session"
"""The kind of loop that closes by construction and is not judged."""


@dataclass(frozen=True, slots=True)
class LoopTests:
    """One row a loop, in the order given."""

    statistic: Floats
    """(n,) T = mᵀS⁻¹m, chi-square with as many components; NaN where not judged."""
    limit: Floats
    """(n,) K, by the B-method as for a blunder test of as many components."""
    test: Floats
    """(n,) √(T / K); over 1 is a query."""
    probability: Floats
    """(n,) of a larger misclosure by chance alone."""
    limit_enu: Floats
    """(n, 3) of one component by itself, m; NaN where there is none."""
    verdict: tuple[str, ...]
    """meets or query; unchecked where a loop closes by construction, or is exact."""


def loop_tests(loops: Sequence[Loop], options: Options) -> LoopTests:
    """Return the tests of misclosures.

    A misclosure over its limit is a query and never a failure: one loop cannot say
    which of its vectors is wrong.

    Parameters
    ----------
    loops : sequence of Loop
    options : Options
        Significance and power of the job's blunder tests.

    Returns
    -------
    LoopTests

    Examples
    --------
    20 mm with a standard deviation of 5 mm: T = 16, limit 10.83.

    >>> loop = Loop("double run", (0, 1), (1, 1), (0, 1), (), 1.0,
    ...             np.array([0.020]), np.array([[25e-6]]))
    >>> made = loop_tests([loop], Options())
    >>> print(made.statistic.round(6), made.verdict)
    [16.] ('query',)
    """
    statistic, limit, probability = np.full((3, len(loops)), np.nan)
    limit_enu = np.full((len(loops), 3), np.nan)
    single = np.sqrt(b_method(options.outlier_alpha, options.power, 1)[1])
    for i, loop in enumerate(loops):
        p = len(loop.misclosure)
        variances = np.diagonal(loop.covariance)
        if loop.kind == CONSTRUCTED or not (variances > 0).all():
            continue
        limit[i] = b_method(options.outlier_alpha, options.power, p)[1]
        solved = np.linalg.solve(loop.covariance, loop.misclosure)
        statistic[i] = loop.misclosure @ solved
        probability[i] = special.chdtrc(p, statistic[i])
        limit_enu[i, 3 - p :] = single * np.sqrt(variances)
    test = np.sqrt(statistic / limit)
    verdict = tuple(
        "unchecked" if np.isnan(t) else "query" if t > 1 else "meets" for t in test
    )
    return LoopTests(statistic, limit, test, probability, limit_enu, verdict)


def spread_verdict(spread: Spread, options: Options) -> tuple[float, str]:
    """Return how large a spread may be, and whether it is a query.

    One-sided, at the significance of a blunder test: readings that agree too well
    are no harm here.

    Parameters
    ----------
    spread : Spread
    options : Options

    Returns
    -------
    limit : float
        Of the standard deviation of one reading, in the spread's unit.
    verdict : str
        meets or query.

    Examples
    --------
    NIST/SEMATECH e-Handbook 1.3.6.7.4: 10.828 for 1 degree of freedom, 0.1 % above.

    >>> spread = Spread("zenith angle", 0, 2, 1, 3.0, 1.0, 9.0)
    >>> limit, verdict = spread_verdict(spread, Options())
    >>> round(limit**2, 3), verdict
    (10.828, 'meets')
    """
    most = chi_square_quantile(1 - options.outlier_alpha, spread.freedom)
    limit = spread.stated * float(np.sqrt(most / spread.freedom))
    return limit, "query" if spread.statistic > most else "meets"


@dataclass(frozen=True, slots=True)
class Hint:
    """What most loops over their limits have in common: where to look first."""

    kind: str
    """``baseline`` or ``set-up``."""
    name: str
    over: int
    """In how many loops over their limit it is."""
    over_all: int
    """How many loops are over their limit."""
    within: int
    """In how many loops within their limit it is too."""


def hints(
    network: Network, loops: Sequence[Loop], tests: LoopTests
) -> tuple[Hint, ...]:
    """Return what is in most loops over their limit, and in fewest of the others.

    A hint and never a verdict. One loop cannot say which of its vectors is wrong, so
    nothing is named where fewer than two loops are over, nor what every good loop
    holds too.

    Parameters
    ----------
    network : Network
    loops : sequence of Loop
        Those of levelled runs are passed over.
    tests : LoopTests

    Returns
    -------
    tuple of Hint
        Those that are equal in both counts; a set-up before a baseline.
    """
    over: Counter[tuple[str, str]] = Counter()
    within: Counter[tuple[str, str]] = Counter()
    queries = judged = 0
    for loop, verdict in zip(loops, tests.verdict, strict=True):
        if len(loop.misclosure) != 3 or verdict == "unchecked":
            continue
        judged += 1
        names = {("baseline", network.vectors.name[v]) for v in loop.members}
        names |= {("set-up", network.set_ups.name[s]) for s in loop.set_ups}
        (over if verdict == "query" else within).update(names)
        queries += verdict == "query"
    found = [
        Hint(*thing, count, queries, within[thing]) for thing, count in over.items()
    ]
    if queries < 2 or not found:
        return ()
    best = min((-hint.over, hint.within) for hint in found)
    good = judged - queries
    if best[0] > -2 or (good and best[1] == good):
        # In every good loop as well: it tells none from the others.
        return ()
    chosen = [hint for hint in found if (-hint.over, hint.within) == best]
    return tuple(sorted(chosen, key=lambda h: (h.kind != "set-up", h.name)))
