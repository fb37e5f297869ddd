"""Which observations alone explain the whole misfit: none can then be singled out."""

import numpy as np

from ...networks.covariances import Ints
from ..adjustment import Adjustment
from .blunder_table import BlunderTests

_WHOLE = 1e-9
"""Share of vᵀPv that rounding may leave over."""


def alone_explaining(adjustment: Adjustment, tests: BlunderTests) -> Ints:
    """Return the tests whose shift alone would leave no misfit at all.

    Its statistic is then vᵀPv itself. Where that is so for several, each fits
    perfectly and which of them is wrong the observations cannot say; so it is for all
    of them with one degree of freedom, where only the test of the variance factor can
    fail (any text on reliability; Ogundare 2019, Example 6.11).

    Parameters
    ----------
    adjustment : Adjustment
    tests : BlunderTests
        Of the same adjustment.

    Returns
    -------
    ndarray of int, shape (k,)
        Rows of the tests, one of an observation or known mark; empty where all fits.
    """
    vtpv = adjustment.vtpv
    if not vtpv > 1e-12 * max(adjustment.degrees_of_freedom, 1):
        return np.zeros(0, dtype=np.int64)
    whole = tests.tests.stated.statistic >= (1 - _WHOLE) * vtpv
    rows = np.flatnonzero(whole & ~tests.tests.unchecked)
    subjects: dict[tuple[str, str], int] = {}
    for row in rows.tolist():
        # "known mark" and "known mark height" of one row are one subject.
        kind = tests.kind[row].removesuffix(" plan").removesuffix(" height")
        subjects.setdefault((kind, tests.name[row]), row)
    return np.array(list(subjects.values()), dtype=np.int64)
