"""Two results compared: figures to one unit of the last digit, verdicts exactly."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

_NAMES = ("datum", "station", "kind", "name")
SENTENCE = "said"
"""The key of what is said of a verdict: another version may word it otherwise, and a
rounded figure in it may stand on either side of a half."""
_FUZZ = 1.001
"""A unit apart as decimals is a little more or less as binary fractions."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One figure or word that a result made again has otherwise."""

    where: str
    """``constrained, mark T1, north_m``."""
    recorded: Any
    found: Any

    @property
    def is_verdict(self) -> bool:
        """Whether a verdict differs, and not a figure alone."""
        return self.where.endswith("verdict")


def differences(recorded: dict[str, Any], found: dict[str, Any]) -> list[Difference]:
    """Return what differs between a recorded result and one made again.

    Parameters
    ----------
    recorded, found : dict
        Objects of `brasscap/record-result/1`. The first says in ``resolution`` what
        one unit of its last digit is: of keys ending in ``_m``, and of other figures.

    Returns
    -------
    list of Difference
        Sentences apart: see ``rewordings``.

    Examples
    --------
    >>> unit = {"resolution": {"m": 1e-6, "ratio": 1e-4}}
    >>> differences(unit | {"x_m": 1.000001}, unit | {"x_m": 1.000002})
    []
    >>> [d.where for d in differences(unit | {"x_m": 1.0}, unit | {"x_m": 1.000002})]
    ['x_m']
    """
    every = _compared(recorded, found, (), recorded["resolution"])
    return [one for one in every if not _sentence(one)]


def rewordings(recorded: dict[str, Any], found: dict[str, Any]) -> list[Difference]:
    """Return the sentences that a result made again words otherwise.

    Parameters
    ----------
    recorded, found : dict
        See ``differences``.

    Examples
    --------
    >>> unit = {"resolution": {"m": 1e-6, "ratio": 1e-4}}
    >>> one, other = {"said": "1 pairs"}, {"said": "1 pair"}
    >>> differences(unit | one, unit | other)
    []
    >>> [made.found for made in rewordings(unit | one, unit | other)]
    ['1 pair']
    """
    every = _compared(recorded, found, (), recorded["resolution"])
    return [one for one in every if _sentence(one)]


def _sentence(one: Difference) -> bool:
    whole = isinstance(one.recorded, str) and isinstance(one.found, str)
    return whole and one.where.rsplit(", ", 1)[-1] == SENTENCE


def _compared(
    recorded: Any, found: Any, path: tuple[str, ...], units: dict[str, float]
) -> Iterator[Difference]:
    if isinstance(recorded, dict) and isinstance(found, dict):
        for key in sorted(recorded.keys() | found.keys()):
            one, other = recorded.get(key), found.get(key)
            yield from _compared(one, other, (*path, key), units)
    elif isinstance(recorded, list) and isinstance(found, list):
        yield from _lists(recorded, found, path, units)
    elif not _equal(recorded, found, path[-1] if path else "", units):
        yield Difference(", ".join(path), recorded, found)


def _lists(
    recorded: list[Any],
    found: list[Any],
    path: tuple[str, ...],
    units: dict[str, float],
) -> Iterator[Difference]:
    if len(recorded) != len(found):
        where = ", ".join((*path, "count"))
        yield Difference(where, len(recorded), len(found))
        return
    for i, (one, other) in enumerate(zip(recorded, found, strict=True)):
        name = _name(one) or str(i + 1)
        yield from _compared(one, other, (*path, name), units)


def _name(thing: Any) -> str:
    if not isinstance(thing, dict):
        return ""
    return " ".join(str(thing[key]) for key in _NAMES if key in thing)


def _equal(recorded: Any, found: Any, key: str, units: dict[str, float]) -> bool:
    numbers = [
        isinstance(value, int | float) and not isinstance(value, bool)
        for value in (recorded, found)
    ]
    if not all(numbers) or (isinstance(recorded, int) and isinstance(found, int)):
        return bool(recorded == found) and type(recorded) is type(found)
    unit = units["m" if key.endswith("_m") else "ratio"]
    return bool(abs(recorded - found) <= _FUZZ * unit)


def figures(result: Any) -> int:
    """Return how many figures and verdicts a result holds; sentences are neither.

    Examples
    --------
    >>> figures({"marks": [{"x_m": 1.0, "y_m": None}], "verdict": "meets"})
    3
    """
    if isinstance(result, dict):
        kept = (value for key, value in result.items() if key != SENTENCE)
        return sum(figures(value) for value in kept)
    if isinstance(result, list):
        return sum(figures(value) for value in result)
    return 1
