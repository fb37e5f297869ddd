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
    from ..networks.covariances import Bools, Floats, Ints

_MARKERS = "os^vDPX<>*hd"
"""A shape for each kind of observation."""
_MANY = 10_000
"""Residuals that are all drawn."""
_TAIL = 2.5
"""Standard deviations beyond which every one is."""
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
    from scipy.special import ndtri

    from ..adjust.judge.limits import normal_limit
    from ..adjust.judge.standardized import standardized_residuals

    kinds = standardized_residuals(judged.adjustment)
    value = np.concatenate([np.zeros(0), *(one.value for one in kinds)])
    of = np.repeat(np.arange(len(kinds)), [len(one.value) for one in kinds])
    count, order = len(value), np.argsort(value, kind="stable")
    normal = np.empty(count)
    normal[order] = ndtri((np.arange(1, count + 1) - 0.375) / (count + 0.25))
    figure = Figure(figsize=(6.4, 7.2), layout="constrained")
    axes = figure.add_subplot()
    drawn = _drawn(normal, order)
    _band(axes, normal[order])
    for k, one in enumerate(kinds):
        here = drawn & (of == k)
        if here.any():
            _draw(axes, normal[here], value[here], k, f"{one.kind}, {len(one.value)}")
    limit = normal_limit(judged.network.options.outlier_alpha)
    for side in (-limit, limit):
        axes.axhline(side, color=FAILS, linewidth=1, linestyle=(0, (4, 3)))
    axes.set_title(_title(judged, kinds, limit))
    axes.set_xlabel("normal quantile (standard deviations)")
    axes.set_ylabel("residual (its standard deviations)")
    write_names(axes, _named(judged, kinds, limit, normal))
    if count:
        axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.1), ncols=3)
    return figure


def _title(judged: Judged, kinds: "Sequence[Standardized]", limit: float) -> str:
    count = sum(len(one.value) for one in kinds)
    blind, step = sum(one.unchecked for one in kinds), max(1, count // _MANY)
    without = f", without {blind} that nothing checks" if blind else ""
    thin = f"; of the middle one in {step} is drawn" if step > 1 else ""
    alpha = percent(judged.network.options.outlier_alpha)
    return (
        f"Residual quantiles against the normal\n{count} residuals{without}{thin};\n"
        f"dashes: ± {number(limit, 'limit')}, the limit of one (α {alpha})"
    )


def _band(axes: Any, normal: "Floats") -> None:
    """Draw the line, and where 95 % of each place in the order lie."""
    from scipy.special import betaincinv, ndtri

    count = len(normal)
    if not count:
        return
    rank = np.arange(1, count + 1)
    band = [ndtri(betaincinv(rank, count + 1 - rank, p)) for p in (0.025, 0.975)]
    axes.fill_between(normal, *band, color=RULE, linewidth=0, label="95 % of each")
    axes.plot(normal, normal, color=INK, linewidth=1, label="as stated")


def _drawn(normal: "Floats", order: "Ints") -> "Bools":
    """Return which are drawn: the tails whole, in the middle of very many some."""
    step = max(1, len(normal) // _MANY)
    drawn = np.abs(normal) > _TAIL
    drawn[order[::step]] = True
    return np.asarray(drawn, dtype=bool)


def _draw(axes: Any, normal: "Floats", value: "Floats", k: int, label: str) -> None:
    axes.plot(
        normal,
        value,
        _MARKERS[k % len(_MARKERS)],
        markersize=5,
        markerfacecolor="none" if k % 2 else MEETS,
        markeredgecolor=INK if k % 2 else MEETS,
        label=label,
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
