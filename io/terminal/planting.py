"""What ``--plant`` says: which booking, in which direction, by how much."""

from typing import TYPE_CHECKING

from brasscap.arguments import nearest, wrong

if TYPE_CHECKING:
    from brasscap.adjust.judge.planting import Blunder

_UNITS = ("mm", "m", "ift", "sft", "arcsec", "deg", "gon")
_AXES = {"east": "east", "north": "north", "height": "height", "up": "height"}
_EXAMPLE = '--plant "set-up O11 height 30 mm"'


def read_blunder(said: str) -> "Blunder":
    """Return the blunder that is meant.

    Parameters
    ----------
    said : str
        KIND NAME [east|north|height] SIZE UNIT; the size with its sign.

    Raises
    ------
    CommandError
        Something is missing or not known, with what is.

    Examples
    --------
    >>> read_blunder("known mark BRIDGE 1 height -30 mm")
    Blunder(kind='known mark', name='BRIDGE 1', axis='height', size=-0.03)
    """
    from brasscap.adjust.judge.planting import ANGLES, IN_AXES, Blunder

    kind, rest = _kind(said)
    size, measure = _size(rest[-2:])
    axis = _AXES.get(rest[-3], "") if len(rest) > 3 else ""
    name = " ".join(rest[: -3 if axis else -2])
    if not name:
        raise wrong(f"--plant names no {kind}; write it as {_EXAMPLE}")
    if (measure == "angle") != (kind in ANGLES):
        unit = "arcsec" if kind in ANGLES else "mm"
        raise wrong(f"--plant: a {kind} is off by so many {unit}, not {rest[-1]}")
    turned = kind in IN_AXES or kind in ("tripod", "antenna")
    if turned != bool(axis):
        ways = "east, north or height" if turned else "no direction: its value is off"
        raise wrong(
            f"--plant: a {kind} takes {ways};  "
            + (f'--plant "{kind} {name} height 30 mm"' if turned else _EXAMPLE)
        )
    return Blunder(kind, name, axis, size)


def _kind(said: str) -> tuple[str, list[str]]:
    """Return the kind and the words after it."""
    from brasscap.adjust.judge.planting import KINDS

    words = said.split()
    for length in (2, 1):
        kind = " ".join(words[:length])
        if kind in KINDS:
            if len(words) < length + 3:
                raise wrong(
                    f"--plant {said!r}: something is missing; write kind, name, "
                    f"direction, size and unit, as in {_EXAMPLE}"
                )
            return kind, words[length:]
    first = words[0] if words else ""
    raise wrong(
        f"--plant {said!r}: it begins with one of {', '.join(KINDS)}"
        f"{nearest(first, KINDS)}; as in {_EXAMPLE}"
    )


def _size(words: list[str]) -> tuple[float, str]:
    """Return the size, m or rad, and what it measures."""
    from math import radians

    from brasscap.networks.units import UNITS, convert

    text, unit = words
    if unit not in _UNITS:
        raise wrong(
            f"--plant: the unit {unit!r} is none of {', '.join(_UNITS)}; "
            f"as in {_EXAMPLE}"
        )
    try:
        size = convert(text.replace("−", "-"), unit)
    except ValueError as error:
        raise wrong(f"--plant: {error}; as in {_EXAMPLE}") from None
    if not size:
        raise wrong(f"--plant: nothing is planted with {text} {unit}")
    measure = UNITS[unit].measure
    return (radians(size) if measure == "angle" else size), measure
