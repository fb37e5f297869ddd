"""Points in the plane from lines of sight and distances, in complex numbers.

A point is north + i·east, so that a line of sight of azimuth α is exp(iα) and a
clockwise turn is a multiplication.
"""

from collections.abc import Sequence
from math import sqrt

import numpy as np

Found = tuple[complex, float]
"""A point, and the strength of the figure that gives it: 0 = hopeless, 1 = square."""


def crossing(at: complex, ray: complex, other: complex, its: complex) -> Found | None:
    """Return where two lines of sight cross; None where they do not.

    The strength is the sine of the angle at which they cross.

    Examples
    --------
    North-east from the origin and north-west from a point 2 m east of it:

    >>> point, strength = crossing(0, 1 + 1j, 2j, 1 - 1j)
    >>> print(np.round(point, 12), round(strength, 12))
    (1+1j) 1.0
    """
    ray, its = ray / abs(ray), its / abs(its)
    between = other - at
    sine = (its * ray.conjugate()).imag
    if abs(sine) < 1e-12:
        return None
    along = (between.conjugate() * its).imag / sine
    back = (between.conjugate() * ray).imag / sine
    if along <= 0 or back <= 0:
        return None
    return at + along * ray, abs(sine)


def circles(centre: complex, radius: float, other: complex, its: float) -> list[Found]:
    """Return the two points at two distances from two others; none where they miss.

    Circles that miss each other by less than a hundredth of the smaller one touch.

    Examples
    --------
    3 and 4 m from points 5 m apart: 1.8 m along, 2.4 m to either side.

    >>> print(np.round([point for point, _ in circles(0, 3.0, 5, 4.0)], 12))
    [1.8+2.4j 1.8-2.4j]
    """
    between = other - centre
    apart = abs(between)
    if apart == 0:
        return []
    along = (radius**2 - its**2 + apart**2) / (2 * apart)
    square = radius**2 - along**2
    gap = max(apart - radius - its, abs(radius - its) - apart)
    if square < 0 and gap > 0.01 * min(radius, its):
        return []
    across = sqrt(max(square, 0.0))
    strength = across * apart / (radius * its)
    unit = between / apart
    return [(centre + unit * complex(along, s * across), strength) for s in (1, -1)]


def on_ray(at: complex, ray: complex, centre: complex, radius: float) -> list[Found]:
    """Return the points of a line of sight at a distance from another point.

    Examples
    --------
    Due north of the origin, 5 m from a point 3 m east of it:

    >>> print([(complex(point), strength) for point, strength in on_ray(0, 1, 3j, 5.0)])
    [((4+0j), 0.8)]
    """
    ray = ray / abs(ray)
    turned = (centre - at) * ray.conjugate()
    square = radius**2 - turned.imag**2
    if square < 0:
        return []
    half = sqrt(square)
    lengths = {turned.real + half, turned.real - half}
    return [(at + s * ray, half / radius) for s in sorted(lengths) if s > 0]


def resection(
    rays: Sequence[complex], marks: Sequence[complex]
) -> tuple[complex | None, float]:
    """Return the station that sees three or more marks in given directions.

    With q the turn into the directions and v = station·q, every mark says
    Im((mark·q − v)·conj(ray)) = 0: linear, the solution the smallest singular vector.
    The strength is the third singular value over the first; it vanishes where marks
    and station lie on one circle. No station where none has all marks ahead.

    Examples
    --------
    Marks north, east and south-west of the origin:

    >>> point, _ = resection([1, 1j, -1 - 1j], [10, 20j, -5 - 5j])
    >>> print(round(abs(point), 9))
    0.0
    """
    where, seen = np.array(marks), np.array(rays) / np.abs(rays)
    middle = where.mean()
    size = float(np.abs(where - middle).max())
    if size == 0:
        return None, 0.0
    turned = (where - middle) / size * seen.conj()
    rows = np.stack([turned.imag, turned.real, seen.imag, -seen.real], axis=1)
    _, values, vectors = np.linalg.svd(rows)
    strength = float(values[2] / values[0])
    x, y, p, r = vectors[-1]
    turn = complex(x, y)
    if abs(turn) < 1e-9:
        return None, strength
    station = middle + size * complex(p, r) / turn
    ahead = ((where - station) * turn * seen.conj()).real
    if not ((ahead > 0).all() or (ahead < 0).all()):
        return None, strength
    return station, strength


def one_distance(
    ray: complex, distance: float, mark: complex, other_ray: complex, other: complex
) -> list[Found]:
    """Return the stations that see two marks, one of them at a known distance.

    The triangle by two sides and an angle: one solution where the marks are farther
    apart than the distance, else two or none.

    Examples
    --------
    3 m from a mark in the north, a mark in the east 5 m from the first:

    >>> ((point, _),) = one_distance(1, 3.0, 3, 1j, 4j)
    >>> print(round(abs(point), 12))
    0.0
    """
    seen, its = distance * ray / abs(ray), other_ray / abs(other_ray)
    apart = other - mark
    cosine = (seen * its.conjugate()).real
    square = cosine**2 - distance**2 + abs(apart) ** 2
    if square < 0 or apart == 0:
        return []
    lengths = {cosine + sqrt(square), cosine - sqrt(square)}
    made = []
    for length in sorted(lengths):
        if length > 0:
            turn = (length * its - seen) / apart
            made.append((mark - seen / turn, sqrt(square) / abs(apart)))
    return made


def fit(
    points: Sequence[complex], there: Sequence[complex], scale: float | None
) -> tuple[complex, complex] | None:
    """Return factor and shift that lay points on others by least squares.

    ``there`` = factor · points + shift, with |factor| = scale where one is given.

    Examples
    --------
    >>> factor, shift = fit([0, 1, 2], [1j, 1 + 1j, 2 + 1j], 1.0)
    >>> print(np.round([factor, shift], 12))
    [1.+0.j 0.+1.j]
    """
    p, w = np.array(points, dtype=complex), np.array(there, dtype=complex)
    near, far = p.mean(), w.mean()
    size = float((np.abs(p - near) ** 2).sum())
    factor = complex(((p - near).conj() * (w - far)).sum())
    if size == 0 or factor == 0:
        return None
    factor = factor / size if scale is None else scale * factor / abs(factor)
    return factor, complex(far - factor * near)
