"""Local clock times of a day, and minutes since its midnight."""


def minutes_of(clock: str) -> float:
    """Return minutes since midnight of a clock time.

    Examples
    --------
    >>> minutes_of("14:05")
    845.0
    """
    hours, _, minutes = clock.partition(":")
    return 60.0 * int(hours) + float(minutes)


def clock_of(minutes: float) -> str:
    """Return the clock time of minutes since midnight, to the minute.

    Examples
    --------
    >>> clock_of(844.6)
    '14:05'
    """
    whole = round(minutes)
    return f"{whole // 60:02d}:{whole % 60:02d}"
