"""Plain decimal numbers of a column at once, each rounded correctly."""

from fractions import Fraction

import numpy as np

from ...networks.covariances import Bools, Floats
from .grid import Cells

LONGEST = 17
"""Characters of a number that is read here: a sign, a point and 15 digits."""

_EXACT = 2**53
"""Integers up to this are exact as a float."""


def plain_decimals(cells: Cells, factor: Fraction) -> tuple[Floats, Bools]:
    """Return numbers times a factor, NaN where a cell is none, and which were read.

    Only plain numbers like ``-12.345`` are read here, and only where numerator and
    denominator of the result are integers that a float holds exactly: then their
    quotient is correctly rounded, because division is (IEEE 754), and equals that of
    any other correct reading to the last bit.

    Parameters
    ----------
    cells : Cells
    factor : Fraction
        Canonical units in one unit of the column.

    Returns
    -------
    values : ndarray, shape (k,)
    read : ndarray of bool, shape (k,)
        False for cells to be looked at one by one; empty ones are read as NaN.
    """
    length = cells.stop - cells.start
    width = min(int(length.max(initial=0)), LONGEST)
    values = np.full(len(length), np.nan)
    read = length == 0
    if not width:
        return values, read
    laid, inside = cells.laid(width)
    digit = laid - np.uint8(ord("0"))
    is_digit, is_point = digit < 10, laid == ord(".")
    is_sign = (laid[:, 0] == ord("-")) | (laid[:, 0] == ord("+"))
    odd = inside & ~is_digit & ~is_point
    odd[:, 0] &= ~is_sign
    digits, points = is_digit.sum(axis=1), is_point.sum(axis=1)
    plain = ~odd.any(axis=1) & (points < 2) & (digits > 0) & (length <= width)
    whole = np.zeros(len(length), dtype=np.int64)
    for place in range(width):
        more = is_digit[:, place]
        whole = np.where(more, whole * 10 + digit[:, place], whole)
    # Digits after the point are all that follow it.
    behind = np.where(points == 1, length - is_point.argmax(axis=1) - 1, 0)
    scale = 10 ** np.clip(behind, 0, 15) * factor.denominator
    plain &= (digits <= 15) & (whole <= _EXACT // factor.numerator)
    plain &= behind <= _largest_power(_EXACT // factor.denominator)
    quotient = whole * factor.numerator / np.maximum(scale, 1)
    # No negative zero, which would be printed with its sign.
    quotient = np.where(laid[:, 0] == ord("-"), -quotient, quotient) + 0.0
    values[plain] = quotient[plain]
    return values, read | plain


def _largest_power(limit: int) -> int:
    """Return the largest power of ten that is not above a limit; −1 if 1 is."""
    return len(str(limit)) - 1 if limit >= 1 else -1
