"""Every quantile that the page needs, as tables: it computes none itself."""

from typing import Any

import numpy as np
from scipy import special

from ...adjust.judge.limits import b_method, noncentrality
from ...networks import Options


def limits_object(options: Options, most: int) -> dict[str, Any]:
    """Return the limits of tests and ellipses for up to ``most`` degrees of freedom.

    Parameters
    ----------
    options : Options
    most : int
        Degrees of freedom that a trial can have at most.

    Returns
    -------
    dict
        Lists by degrees of freedom begin with 1.
    """
    freedom = np.arange(1.0, most + 1)
    tail = (1 - options.confidence) / 2
    tests = [b_method(options.outlier_alpha, options.power, p) for p in (1, 2, 3)]
    return {
        "confidence": options.confidence,
        "alpha": options.outlier_alpha,
        "power": options.power,
        "tests_from": options.tests_from,
        "ellipses_from": options.ellipses_from,
        "noncentrality": noncentrality(options.outlier_alpha, options.power),
        "chi_square": [limit for _, limit in tests],
        "fisher": [
            _short(special.fdtri(p, freedom, 1 - alpha))
            for p, (alpha, _) in enumerate(tests, start=1)
        ],
        "lower": _short(special.chdtri(freedom, 1 - tail) / freedom),
        "upper": _short(special.chdtri(freedom, tail) / freedom),
        "ellipse": float(np.sqrt(special.chdtri(2, 1 - options.confidence))),
        "height": float(-special.ndtri(tail)),
        "ellipse_estimated": _short(
            np.sqrt(2 * special.fdtri(2, freedom, options.confidence))
        ),
        "height_estimated": _short(special.stdtrit(freedom, 1 - tail)),
    }


def _short(values: Any) -> list[float]:
    return [float(f"{value:.9g}") for value in np.asarray(values)]
