"""What readings say of themselves: spread of rounds, reciprocal zenith angles."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from .covariances import Floats
from .network import Network
from .observations import Sights

RADIUS_M = 6_371_000.0
"""Mean radius of the earth; a thousandth more or less does not show in refraction."""

_REPEATED = ("slope distance", "horizontal distance", "zenith angle", "angle")


@dataclass(frozen=True, slots=True)
class Spread:
    """How far repeated readings of one kind at one instrument set-up differ."""

    kind: str
    node: int
    """Set-up or mark of the instrument."""
    readings: int
    freedom: int
    """Degrees of freedom of the spread."""
    spread: float
    """Standard deviation of one reading from the spread, m or rad."""
    stated: float
    """The same as stated."""
    statistic: float
    """Σ v² / sd²: chi-square with ``freedom`` if the readings are as good as stated."""


@dataclass(frozen=True, slots=True)
class Reciprocal:
    """Zenith angles from both ends of a side, and the refraction they imply."""

    first: int
    second: int
    """Marks."""
    length: float
    """m."""
    coefficient: float
    """Of refraction, with the same at both ends."""
    sd: float
    """From the stated sds of the angles; the heights are taken as exact."""


def spreads(network: Network) -> tuple[Spread, ...]:
    """Return the spread of repeated readings, a row a kind and instrument set-up.

    Directions are compared round with round, each turned by its own zero, over the
    targets that all rounds of the set-up have; other kinds target by target.

    Parameters
    ----------
    network : Network
    """
    found = []
    for sights in network.sights:
        for node in np.unique(sights.at[sights.used]).tolist():
            rows = np.flatnonzero(sights.used & (sights.at == node))
            if sights.kind == "direction":
                residuals, freedom = _of_rounds(sights, rows)
            elif sights.kind in _REPEATED:
                residuals, freedom = _of_repeats(sights, rows)
            else:
                continue
            if freedom:
                found.append(_spread(sights, int(node), residuals, freedom))
    return tuple(found)


def _spread(
    sights: Sights, node: int, residuals: dict[int, float], freedom: int
) -> Spread:
    rows = list(residuals)
    v, sd = np.array(list(residuals.values())), sights.sd[rows]
    return Spread(
        sights.kind,
        node,
        len(rows),
        freedom,
        float(np.sqrt(v @ v / freedom)),
        float(np.sqrt(np.mean(sd**2))),
        float(np.sum((v / sd) ** 2)),
    )


def _of_repeats(sights: Sights, rows: Iterable[int]) -> tuple[dict[int, float], int]:
    """Return readings less the mean of their target, and degrees of freedom."""
    targets: dict[tuple[int, int, float], list[int]] = {}
    for row in rows:
        # Another height of the target is another line of sight.
        height = round(float(sights.to_height[row]), 4)
        line = (int(sights.to[row]), int(sights.back[row]), height)
        targets.setdefault(line, []).append(int(row))
    residuals: dict[int, float] = {}
    for same in targets.values():
        if len(same) > 1:
            values = sights.value[same]
            if not sights.kind.endswith("distance"):
                values = _about(values)
            residuals |= dict(zip(same, (values - values.mean()).tolist(), strict=True))
    return residuals, len(residuals) - sum(len(s) > 1 for s in targets.values())


def _about(angles: Floats) -> Floats:
    """Return angles near each other, counted from the first across the zero."""
    return np.asarray(np.angle(np.exp(1j * (angles - angles[0]))))


def _of_rounds(sights: Sights, rows: Iterable[int]) -> tuple[dict[int, float], int]:
    """Return what is left of directions without the zeros and the targets' means."""
    rounds: dict[int, dict[int, list[int]]] = {}
    for row in rows:
        circle = rounds.setdefault(int(sights.parameter[row, 0]), {})
        circle.setdefault(int(sights.to[row]), []).append(int(row))
    common = sorted(set.intersection(*(set(circle) for circle in rounds.values())))
    if not common:
        return {}, 0
    table = [[row for target in common for row in c[target]] for c in rounds.values()]
    flat = [row for some in table for row in some]
    first = sights.value[[c[common[0]][0] for c in rounds.values()]]
    turned = [
        np.angle(np.exp(1j * (sights.value[some] - zero)))
        for some, zero in zip(table, first, strict=True)
    ]
    targets = [common.index(int(sights.to[row])) for row in flat]
    design = np.zeros((len(flat), len(rounds) + len(common) - 1))
    design[
        np.arange(len(flat)), np.repeat(range(len(table)), list(map(len, table)))
    ] = 1
    for k, target in enumerate(targets):
        if target:
            design[k, len(rounds) + target - 1] = 1
    value = np.concatenate(turned)
    # Readings that lie across the half circle from their target's first one.
    start = value[[targets.index(target) for target in targets]]
    value = start + np.angle(np.exp(1j * (value - start)))
    solved = np.linalg.lstsq(design, value, rcond=None)[0]
    left = (value - design @ solved).tolist()
    return dict(zip(flat, left, strict=True)), len(flat) - design.shape[1]


def reciprocals(network: Network, xyz: Floats) -> tuple[Reciprocal, ...]:
    """Return the refraction that zenith angles from both ends of a side imply.

    k = 1 − (z₁ + z₂ − π) R / s, with both angles reduced to the line between the
    marks (any surveying text, from memory). A side must be long: the sd says so.

    Parameters
    ----------
    network : Network
    xyz : ndarray, shape (m, 3)
        Where the marks are, m.
    """
    seen: dict[tuple[int, int], list[tuple[float, float]]] = {}
    for sights in network.sights:
        if sights.kind != "zenith angle":
            continue
        at, to = network.mark_of(sights.at), network.mark_of(sights.to)
        for i in np.flatnonzero(sights.used).tolist():
            length = float(np.linalg.norm(xyz[to[i]] - xyz[at[i]]))
            if not length > 0:
                continue
            z = float(sights.value[i])
            lift = float(sights.to_height[i] - sights.at_height[i])
            reduced = z + lift / (length * np.sin(z))
            ends = (int(at[i]), int(to[i]))
            seen.setdefault(ends, []).append((reduced, float(sights.sd[i])))
    return tuple(
        _reciprocal(a, b, seen[a, b], seen[b, a], xyz)
        for a, b in sorted(seen)
        if a < b and (b, a) in seen
    )


def _reciprocal(
    a: int,
    b: int,
    forward: list[tuple[float, float]],
    backward: list[tuple[float, float]],
    xyz: Floats,
) -> Reciprocal:
    length = float(np.linalg.norm(xyz[b] - xyz[a]))
    total = sum(float(np.mean([z for z, _ in some])) for some in (forward, backward))
    variance = sum(
        float(np.sum([sd**2 for _, sd in some])) / len(some) ** 2
        for some in (forward, backward)
    )
    share = RADIUS_M / length
    coefficient = 1 - (total - np.pi) * share
    return Reciprocal(
        a, b, length, float(coefficient), float(np.sqrt(variance) * share)
    )
