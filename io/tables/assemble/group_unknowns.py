"""What a group of vectors or positions has of its own to be estimated."""

from collections.abc import Mapping

import numpy as np

from ....networks.covariances import Bools, Ints
from ..job import Group
from .unknowns import Unknowns


def vector_unknowns(
    names: np.ndarray,
    groups: Mapping[str, Group],
    geocentric: Bools,
    unknowns: Unknowns,
) -> Ints | None:
    """Return (n, 2) the scale and the turn of each vector's group; −1 for none.

    Parameters
    ----------
    names : ndarray of str, shape (n,)
        Groups; empty = none.
    groups : mapping of str to Group
    geocentric : ndarray of bool, shape (n,)
        Vectors that come to a site grid by an unknown turn, which their group shares.
    unknowns : Unknowns
        Extended here.

    Returns
    -------
    ndarray of int or None
        None where there is none at all.

    Examples
    --------
    >>> unknowns = Unknowns()
    >>> groups = {"day 2": Group(free_scale=True)}
    >>> names, geocentric = np.array(["", "day 2"]), np.array([True, True])
    >>> vector_unknowns(names, groups, geocentric, unknowns).tolist()
    [[-1, 0], [1, 2]]
    >>> unknowns.parameters().name[0]
    'turn of the vectors without a group'
    """
    made = np.full((len(names), 2), -1, dtype=np.int64)
    own = {name for name, group in groups.items() if group != Group()}
    asks = geocentric | np.array([name in own for name in names], dtype=bool)
    for i in np.flatnonzero(asks).tolist():
        name = names[i]
        group, words = groups.get(str(name), Group()), _of_group(str(name))
        if group.free_scale:
            made[i, 0] = unknowns.number("vector scale", f"scale of {words}", 0.0)
        if geocentric[i]:
            made[i, 1] = unknowns.number("vector turn", f"turn of {words}")
        elif group.free_turn:
            # In the axes of the frame already, but for seconds or minutes of arc.
            made[i, 1] = unknowns.number("vector turn", f"small turn of {words}", 0.0)
    return made if (made >= 0).any() else None


def position_unknowns(
    names: np.ndarray, groups: Mapping[str, Group], unknowns: Unknowns
) -> Ints | None:
    """Return (n, 3) the shift in east, north, up of each position's group.

    Parameters
    ----------
    names : ndarray of str, shape (n,)
    groups : mapping of str to Group
    unknowns : Unknowns
        Extended here.

    Returns
    -------
    ndarray of int or None
        −1 for none; None where there is none at all.

    Examples
    --------
    >>> unknowns = Unknowns()
    >>> groups = {"week 12": Group(free_shift=True)}
    >>> position_unknowns(np.array(["", "week 12"]), groups, unknowns).tolist()
    [[-1, -1, -1], [0, 1, 2]]
    >>> unknowns.parameters().name
    ('shift east of group week 12', 'shift north of group week 12', \
'shift up of group week 12')
    """
    made = np.full((len(names), 3), -1, dtype=np.int64)
    for i, name in enumerate(names):
        if groups.get(str(name), Group()).free_shift:
            made[i] = [
                unknowns.number("position shift", f"shift {way} of group {name}", 0.0)
                for way in ("east", "north", "up")
            ]
    return made if (made >= 0).any() else None


def _of_group(name: str) -> str:
    return f"group {name}" if name else "the vectors without a group"
