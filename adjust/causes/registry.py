"""The kinds of cause, each a function from the field to its causes: data, no code.

Nothing else knows which kinds there are. A kind whose names are not booked (one
antenna only, no tripod named) gives no cause.
"""

from collections.abc import Callable, Iterator

from .cause import Cause
from .field import Field
from .kinds_circles import orientations
from .kinds_known import known_marks, known_together
from .kinds_sights import (
    bumped,
    constants,
    instrument_scales,
    pointings,
    target_heights,
)
from .kinds_singles import observations, runs
from .kinds_things import antennas, exchanged, groups, sessions, set_ups, tripods
from .kinds_units import units

KINDS: dict[str, Callable[[Field], Iterator[Cause]]] = {
    "unit": units,
    "observation": observations,
    "pointing": pointings,
    "levelled run": runs,
    "set-up": set_ups,
    "target height": target_heights,
    "set-ups exchanged": exchanged,
    "session": sessions,
    "tripod": tripods,
    "antenna": antennas,
    "prism constant": constants,
    "instrument scale": instrument_scales,
    "direction set broken": bumped,
    "circle orientation": orientations,
    "group": groups,
    "known mark": known_marks,
    "all known marks": known_together,
}
"""What is looked for. A set-up has two causes, its height and its place with it; runs
have a staff scale; an exchange is only named where its size meets the two marks, a
unit where it is that of feet for metres, and then before the same shift of any size."""


def causes_of(field: Field) -> list[Cause]:
    """Return all causes of a field, kind by kind.

    Parameters
    ----------
    field : Field
    """
    return [cause for kind in KINDS.values() for cause in kind(field)]
