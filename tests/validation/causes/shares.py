"""Shares with their exact intervals, and whether they meet a goal."""

from scipy.special import betaincinv


def interval(hits, of):
    """Return the exact 95 % interval of a share (Clopper and Pearson 1934).

    Examples
    --------
    Of 0 in 10 the upper end is 1 − 0.025^(1/10) = 0.3085:

    >>> [round(float(end), 4) for end in interval(0, 10)]
    [0.0, 0.3085]
    """
    low = betaincinv(hits, of - hits + 1, 0.025) if hits else 0.0
    high = betaincinv(hits + 1, of - hits, 0.975) if hits < of else 1.0
    return low, high


def share(values):
    """Return a share of what is known, in %, with its interval; a dash for none."""
    values = known(values)
    if not values:
        return "–"
    low, high = interval(sum(values), len(values))
    mean = 100 * sum(values) / len(values)
    return f"{mean:.1f} ({100 * low:.1f}–{100 * high:.1f})"


def known(values):
    return [bool(value) for value in values if value is not None]


def meets(values, least=0.0, most=1.0):
    """Return whether a share meets a goal, by the whole of its interval.

    Examples
    --------
    >>> meets([True] * 400, least=0.99), meets([True] * 100, least=0.99)
    ('met', 'open')
    >>> meets([True, False] * 100, least=0.99)
    'not met'
    """
    values = known(values)
    if not values:
        return "not measured"
    low, high = interval(sum(values), len(values))
    if least <= low and high <= most:
        return "met"
    return "not met" if high < least or low > most else "open"
