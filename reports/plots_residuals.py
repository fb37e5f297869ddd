"""The quantiles of the residuals against those of the normal distribution."""

from typing import TYPE_CHECKING, Any

import numpy as np

from .judged import Judged
from .plot_files import FAILS, INK, MEETS, RULE
from .plot_labels import write_names
from .rounding import number, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

    from ..adjust.judge.standardized import Standardized
    from ..networks.covariances import Floats

_MARKERS = "os^vDPX<>*hd"
"""A shape for each kind of observation."""
_NAMED = 5
"""Residuals over the limit that are called by name."""


def residuals_figure(judged: Judged) -> "Figure":
    """Return the residuals, each by its standard deviation, in order of size.

    If they are normal and rightly stated they lie along the line; the band holds 95 %
    of each place in the order if they were independent. Plotting positions (i − 3/8) /
    (n + 1/4) (Blom 1958, from memory).

    Parameters
    ----------
    judged : Judged
    """
    from matplotlib.figure import Figure
    from scipy.special import betaincinv, ndtri

    from ..adjust.judge.limits import normal_limit
    from ..adjust.judge.standardized import standardized_residuals

    kinds = standardized_residuals(judged.adjustment)
    value = np.concatenate([np.zeros(0), *(one.value for one in kinds)])
    of = np.repeat(np.arange(len(kinds)), [len(one.value) for one in kinds])
    order = np.argsort(value, kind="stable")
    value, of, count = value[order], of[order], len(value)
    figure = Figure(figsize=(6.4, 7.2), layout="constrained")
    axes = figure.add_subplot()
    rank = np.arange(1, count + 1)
    normal = ndtri((rank - 0.375) / (count + 0.25))
    if count:
        band = [ndtri(betaincinv(rank, count + 1 - rank, p)) for p in (0.025, 0.975)]
        axes.fill_between(normal, *band, color=RULE, linewidth=0, label="95 % of each")
        axes.plot(normal, normal, color=INK, linewidth=1, label="as stated")
    for k, one in enumerate(kinds):
        here = of == k
        if here.any():
            _draw(axes, normal[here], value[here], k, one.kind)
    options = judged.network.options
    limit = normal_limit(options.outlier_alpha)
    for side in (-limit, limit):
        axes.axhline(side, color=FAILS, linewidth=1, linestyle=(0, (4, 3)))
    blind = sum(one.unchecked for one in kinds)
    without = f", without {blind} that nothing checks" if blind else ""
    axes.set_title(
        f"Residual quantiles against the normal\n{count} residuals{without};\n"
        f"dashes: ± {number(limit, 'limit')}, the limit of one "
        f"(α {percent(options.outlier_alpha)})"
    )
    axes.set_xlabel("normal quantile (standard deviations)")
    axes.set_ylabel("residual (its standard deviations)")
    place = normal[np.argsort(order, kind="stable")]
    write_names(axes, _named(judged, kinds, limit, place))
    if count:
        axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.1), ncols=3)
    return figure


def _draw(axes: Any, normal: "Floats", value: "Floats", k: int, kind: str) -> None:
    axes.plot(
        normal,
        value,
        _MARKERS[k % len(_MARKERS)],
        markersize=5,
        markerfacecolor="none" if k % 2 else MEETS,
        markeredgecolor=INK if k % 2 else MEETS,
        label=f"{kind}, {len(value)}",
        linestyle="none",
    )


def _named(
    judged: Judged, kinds: "Sequence[Standardized]", limit: float, normal: "Floats"
) -> list[tuple[float, float, str]]:
    """Return place and name of the largest residuals that are over the limit.

    Parameters
    ----------
    normal : ndarray
        Normal quantile of each residual, kind after kind.
    """
    from ..adjust.judge.names import names

    value = np.concatenate([np.zeros(0), *(one.value for one in kinds)])
    first = np.cumsum([0, *(len(one.value) for one in kinds)])
    over = np.flatnonzero(np.abs(value) > limit)
    points = []
    for i in over[np.argsort(-np.abs(value[over]), kind="stable")][:_NAMED].tolist():
        k = int(np.searchsorted(first, i, side="right")) - 1
        one = kinds[k]
        (name,) = names(judged.network, one.kind, one.edge[[i - first[k]]])
        points.append((float(normal[i]), float(value[i]), f"{one.kind} {name}"))
    return points
