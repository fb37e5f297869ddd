"""Stiff bodies: marks placed against each other, laid together by common marks."""

from cmath import exp, phase
from dataclasses import dataclass, field

from .geometry import fit


@dataclass(slots=True)
class Body:
    """Marks whose places against each other are known.

    The plan itself is a body, with turn 0 and scale 1; a set-up's polar points are
    one, and so are marks joined by vectors, or by angles alone.
    """

    points: dict[int, complex]
    """Mark to place, north + i·east in the body's own axes and unit."""
    turn: float | None = None
    """What an azimuth in the body lacks of one in the plan, rad; None = not known."""
    scale: float | None = None
    """m in one unit of the body; None = not known."""
    turned: dict[int, complex] = field(default_factory=dict)
    """Rounds observed at its marks, to the factor from their rays to the body."""
    rays: dict[int, list[tuple[int, complex]]] = field(default_factory=dict)
    """Mark outside to the lines of sight that it is seen on: from where, unit."""
    doubtful: dict[int, list[complex]] = field(default_factory=dict)
    """Mark outside to places that fit equally well."""


def laid(body: Body, on: Body, common: list[int]) -> tuple[complex, complex] | None:
    """Return factor and shift that lay a body on another, None if they stay loose.

    Two common marks suffice, or one where both bodies have turn and scale.

    Examples
    --------
    >>> square = Body({1: 0j, 2: 1 + 0j, 3: 1 + 1j, 4: 1j})
    >>> plan = Body({1: 5 + 5j, 2: 5 + 7j}, turn=0.0, scale=1.0)
    >>> factor, shift = laid(square, plan, [1, 2])
    >>> print(factor * square.points[3] + shift)
    (3+7j)
    """
    if not common:
        return None
    scale = None
    if body.scale is not None and on.scale is not None:
        scale = body.scale / on.scale
    here = [body.points[mark] for mark in common]
    there = [on.points[mark] for mark in common]
    if scale is not None and body.turn is not None and on.turn is not None:
        factor = scale * exp(1j * (body.turn - on.turn))
        gaps = [w - factor * p for p, w in zip(here, there, strict=True)]
        return factor, sum(gaps) / len(gaps)
    return fit(here, there, scale) if len(common) > 1 else None


def join(body: Body, on: Body, factor: complex, shift: complex) -> list[int]:
    """Put the points of a body into another, and return the marks that are new there.

    What one knows of turn and scale the other then knows too.
    """
    new = [mark for mark in body.points if mark not in on.points]
    for mark in new:
        on.points[mark] = factor * body.points[mark] + shift
    if on.turn is None and body.turn is not None:
        on.turn = body.turn - phase(factor)
    if on.scale is None and body.scale is not None:
        on.scale = body.scale / abs(factor)
    return new
