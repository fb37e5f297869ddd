"""How a fault of each kind happens: which way it goes, before its size is set.

Its size is then a multiple of the smallest detectable one: √λ of the cause's own test
is that multiple of √17.075 (Baarda 1968: α 0.1 %, power 80 %).
"""

import numpy as np

from brasscap.adjust.judge.limits import noncentrality

UNIT = noncentrality(0.001, 0.80)

WAYS = {
    "set-up on wrong mark": "beside its mark in plan, at any azimuth",
    "known mark plan": "at any azimuth",
    "known mark": "in plan and in height, each as detectable as the other",
    "session": "each vector by itself, any way in space, by the same length",
    "pointing": "everything read in it, by the same multiple of its sd",
}
"""Of other kinds: of three components any way in space; of one too large or small."""


def fault(design, random, cause, size, kind):
    """Return residuals of a fault free of noise, and the amounts of its cause.

    The residuals have the sign of misclosures.

    Parameters
    ----------
    design : Design
    random : numpy.random.Generator
    cause : int
    size : float
        Multiple of the smallest detectable size.
    kind : str
        As it is counted.
    """
    made = design.made
    inverse = np.linalg.pinv(made.roots[cause])
    at = np.arange(made.first[cause], made.first[cause + 1])
    columns = made.scaled[:, at]
    amounts = _way(random, kind, inverse, columns)
    amounts *= size * np.sqrt(UNIT) / np.linalg.norm(amounts)
    return design.left(columns @ amounts), made.roots[cause] @ amounts


def _way(random, kind, inverse, columns):
    """Return the scaled amounts of a fault, of any size."""
    count = inverse.shape[1]
    if kind == "known mark" and count == 3:
        plan, up = inverse[:, :2] @ _turn(random), inverse[:, 2] * _sign(random, 1)
        return plan / np.linalg.norm(plan) + up / np.linalg.norm(up)
    if kind == "set-up on wrong mark" and count == 3:
        return inverse[:, :2] @ _turn(random)
    if kind == "known mark plan":
        return inverse @ _turn(random)
    if kind == "session":
        return inverse @ np.concatenate([_sphere(random, 3) for _ in range(count // 3)])
    if kind == "pointing":
        effect = np.linalg.norm(columns @ inverse, axis=0)
        sign = _sign(random, count)
        return inverse @ np.divide(sign, effect, out=sign * 0, where=effect > 0)
    return inverse @ _sphere(random, count)


def _turn(random):
    angle = random.uniform(0, 2 * np.pi)
    return np.array([np.sin(angle), np.cos(angle)])


def _sphere(random, count):
    way = random.standard_normal(count)
    return way / np.linalg.norm(way)


def _sign(random, count):
    return random.choice([-1.0, 1.0], count)
