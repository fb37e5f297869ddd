"""What a real-time position is good for: detail, weak control, or neither."""

# Common practice, no source: real-time positions under vegetation with 14 mm in plan
# and in height, or 19 mm in plan and 15 mm in height, are acceptable as detail, and
# repeated independently as weak control.
LIMITS_M = ((0.014, 0.014), (0.019, 0.015))

INDEPENDENT_MINUTES = 20.0
"""Least time between independent positions of a mark (common practice, no source)."""


def classify(sd_plan: float, sd_height: float, independent_repeats: int) -> str:
    """Return what a real-time position may be used for.

    Parameters
    ----------
    sd_plan, sd_height : float
        One standard deviation, m; in plan the root of the mean of the two variances.
    independent_repeats : int
        Further positions of the same mark, each at least 20 minutes apart and with
        another initialisation.

    Returns
    -------
    str
        ``detail``, ``weak control`` or ``neither``.

    Examples
    --------
    >>> classify(0.014, 0.014, 0), classify(0.019, 0.015, 1), classify(0.02, 0.01, 3)
    ('detail', 'weak control', 'neither')
    """
    rounding = 1e-9
    good = any(
        sd_plan <= plan + rounding and sd_height <= height + rounding
        for plan, height in LIMITS_M
    )
    if not good:
        return "neither"
    return "weak control" if independent_repeats > 0 else "detail"
