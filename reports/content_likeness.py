"""What an estimated size looks like, in words and for JSON."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from .objects_figures import Object, rounded, significant
from .rounding import Units

if TYPE_CHECKING:
    from ..networks.likeness import Likeness

_SAID = 3
_MM = 4


def likeness_words(
    found: "Sequence[Likeness]", units: Units, most: int = _SAID
) -> list[str]:
    """Return what a size looks like, the least likely accident first.

    Parameters
    ----------
    found : sequence of Likeness
    units : Units
    most : int, optional
        How many are said.
    """
    return [likeness_sentence(one, units) for one in found[:most]]


def likeness_sentence(one: "Likeness", units: Units) -> str:
    """Return one likeness: what, how near, and by what accident.

    Parameters
    ----------
    one : Likeness
    units : Units
    """
    size = units.said(float(np.linalg.norm(one.size)))
    off = f"{units.small(one.off)} {units.small_unit}"
    return (
        f"{one.words}: {size}, {off} off; {odds(one.chance)} sizes up to "
        f"{units.said(one.range)} is as near by accident, {odds(one.chance_of_any)} "
        f"to any of the {one.names_tried} names tried"
    )


def odds(chance: float) -> str:
    """Return a chance as odds: "1 in 7".

    Examples
    --------
    >>> odds(0.15), odds(0.8), odds(1e-9)
    ('1 in 7', '8 in 10', '1 in over a million')
    """
    if chance > 0.3:
        return f"{round(10 * chance)} in 10"
    if chance < 1e-6:
        return "1 in over a million"
    return f"1 in {float(f'{1 / chance:.2g}'):.0f}"


def likeness_objects(found: "Sequence[Likeness]") -> list[Object]:
    """Return what a size looks like as objects for JSON."""
    return [
        {
            "words": one.words,
            "size_mm": [rounded(1000 * float(value), _MM) for value in one.size],
            "off_mm": rounded(1000 * one.off, _MM),
            "chance": significant(one.chance),
            "chance_of_any": significant(one.chance_of_any),
            "range_mm": rounded(1000 * one.range, _MM),
            "names_tried_count": one.names_tried,
        }
        for one in found
    ]
