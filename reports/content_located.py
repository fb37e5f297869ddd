"""Where a misfit cannot be located: what alone would explain all of it."""

from .content_tests import thing_of
from .document import Paragraph
from .judged import Judged

_NAMED = 5
"""Observations named; more are counted."""


def cannot_be_located(judged: Judged) -> tuple[Paragraph, ...]:
    """Return that which observation is wrong cannot be said, where that is so.

    Said only where something is over its limit: then the next step is not to leave
    out what stands first, but to observe once more.

    Parameters
    ----------
    judged : Judged

    Returns
    -------
    tuple of Paragraph
        One, or none.
    """
    from ..adjust.judge import alone_explaining

    tests = judged.tests
    rows = alone_explaining(judged.adjustment, tests).tolist()
    things = list(dict.fromkeys(thing_of(tests.kind[i], tests.name[i]) for i in rows))
    over = any(tests.verdict[i] in ("fails", "query") for i in rows)
    if len(things) < 2 or not (over or judged.variance_factor.verdict == "fails"):
        return ()
    more = f" and {len(things) - _NAMED} more" if len(things) > _NAMED else ""
    named = ", ".join(things[:_NAMED])
    return (
        Paragraph(
            f"cannot be located: {named}{more} – each of them alone explains the whole "
            "misfit; which is wrong only another observation can say"
        ),
    )
