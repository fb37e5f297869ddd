"""``[spec.NAME]`` of job.toml: what each kind needs, and the limits in metres."""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from math import inf, nan
from typing import Any

from ...networks.findings import Finding
from ...networks.specifications import (
    ABSOLUTE,
    CLASSED,
    PRESETS,
    Limit,
    Specification,
)
from ...networks.units import convert
from .job_keys import NAMED_SECTIONS

Values = Mapping[str, Any]

_PAIR = ("constant_mm", "ppm", "joined", "also_stated_as")
_HEIGHT = ("constant_height_mm", "height_ppm")
_CHOSEN = ("pairs", "within_m", "confidence", "source", "kind")
_ONE = ("limit_mm", "limit_height_mm")
_USED: Mapping[str, tuple[str, ...]] = {
    "relative positional precision": _PAIR,
    "ratio": ("ratio",),
    "height difference": ("mm_per_sqrt_km", "constant_height_mm"),
    "relative uncertainty": _PAIR + _HEIGHT,
    "local accuracy": _PAIR + _HEIGHT,
    "setting out": (*_PAIR, "mm_per_sqrt_m", "least_mm"),
    "uncertainty to datum": _ONE,
    "network accuracy": _ONE,
    "tier and class": _PAIR + _HEIGHT + _ONE,
}
"""Keys that say something, by kind."""
_LIMITS = (
    "constant_mm",
    "ppm",
    "ratio",
    "mm_per_sqrt_km",
    "mm_per_sqrt_m",
    "limit_mm",
    "limit_height_mm",
    *_HEIGHT,
)
_LENGTH = re.compile(r"\s*(\d+(?:\.\d*)?)\s*(m|mm|ift|sft|ft)\s*")


def specification_faults(
    fault: Callable[..., Finding], stated: object
) -> Iterator[Finding]:
    """Yield what a specification lacks, and what it states in vain.

    Parameters
    ----------
    fault : callable
        Makes a finding of slug and path.
    stated : object
        The value of ``spec``, whose keys and types are checked elsewhere.
    """
    if not isinstance(stated, dict):
        return
    for name, values in stated.items():
        if isinstance(values, dict) and not _told_elsewhere(values):
            yield from _faults(fault, f"spec.{name}", values)


def _told_elsewhere(values: Values) -> bool:
    """Return whether a key or a word is wrong in itself."""
    preset, kind = values.get("preset"), values.get("kind")
    return (
        not set(values) <= set(NAMED_SECTIONS["spec"])
        or not (preset is None or (isinstance(preset, str) and preset in PRESETS))
        or not (kind is None or (isinstance(kind, str) and kind in _USED))
    )


def _faults(fault: Callable[..., Finding], path: str, values: Values) -> Iterator[Any]:
    preset = values.get("preset")
    if preset is None:
        for key, says in (
            ("kind", "one of: " + ", ".join(_USED)),
            ("confidence", "at which the limit is stated, 0.95 for 95 %"),
        ):
            if key not in values:
                mend = f"add {key} = … in [{path}], or preset = … with a standard's"
                yield fault("key-missing", f"{path}.{key}", "", says, mend=mend)
    kind = values.get("kind") or (PRESETS[preset].kind if preset else None)
    if kind is None:
        return
    used = (*_USED[kind], *_CHOSEN, "preset")
    for key in values:
        if key not in used:
            against = f"{kind} is limited by: {', '.join(_USED[kind])}"
            yield fault(
                "key-without-effect", f"{path}.{key}", values[key], against,
                mend="take it out, or state another kind",
            )  # fmt: skip
    limits = used_of(kind)
    without = preset is None and not any(key in values for key in limits)
    if without and kind not in CLASSED:
        mend = f"add {' or '.join(limits)}"
        yield fault("key-missing", f"{path}.{limits[0]}", "", "a limit", mend=mend)
    yield from _also(fault, f"{path}.also_stated_as", values.get("also_stated_as"))


def used_of(kind: str) -> list[str]:
    """Return the keys that limit a kind."""
    return [key for key in _USED[kind] if key in _LIMITS]


def _also(fault: Callable[..., Finding], path: str, text: object) -> Iterator[Any]:
    if text is None:
        return
    found = _LENGTH.fullmatch(text) if isinstance(text, str) else None
    if found is None:
        yield fault(
            "value-not-understood", path, text, 'a length and its unit: "0.07 ift"',
            mend="write the constant part as it also stands in the specification",
        )  # fmt: skip
    elif found[2] == "ft":
        yield fault(
            "foot-not-named", path, text,
            "ift (0.3048 m) or sft (1200/3937 m); they differ by 2 ppm",
            mend='name the foot: "ift" or "sft"',
        )  # fmt: skip


def specification_of(name: str, values: Values) -> Specification:
    """Return a specification in metres from what job.toml states of it.

    A preset's own limits stand where nothing else is stated.

    Parameters
    ----------
    name : str
    values : mapping
        Checked.

    Examples
    --------
    >>> stated = {"kind": "ratio", "ratio": 20000, "confidence": 0.95}
    >>> specification_of("traverse", stated).plan.proportional
    5e-05
    """
    given = PRESETS.get(values.get("preset", ""))
    kind = values.get("kind") or (given.kind if given else "")
    # Local accuracy is stated against directly connected marks (FGDC-STD-007.2).
    usual = "adjacent" if kind == "local accuracy" else "all"
    made = given or Specification(name, kind, 0.0, pairs=usual)
    plan, height = _limits(kind, values)
    tiers = kind == "tier and class"
    return replace(
        made,
        name=name,
        kind=kind,
        confidence=float(values.get("confidence", made.confidence)),
        plan=plan if plan is not None else made.plan,
        height=height if height is not None else made.height,
        tier_plan=_mm(values, "limit_mm", made.tier_plan) if tiers else nan,
        tier_height=_mm(values, "limit_height_mm", made.tier_height) if tiers else nan,
        pairs=values.get("pairs", made.pairs),
        within=float(values.get("within_m", made.within if given else inf)),
        source=values.get("source", made.source),
    )


def _limits(kind: str, values: Values) -> tuple[Limit | None, Limit | None]:
    """Return the limits in plan and height that are stated, None where none is."""
    squares = values.get("joined") == "squares"
    if kind in ABSOLUTE:
        plan = {"constant": _mm(values, "limit_mm")}
        height = {"constant": _mm(values, "limit_height_mm")}
    else:
        ratio = float(values["ratio"]) if "ratio" in values else nan
        plan = {
            "constant": _mm(values, "constant_mm"),
            "proportional": float(values["ppm"]) / 1e6
            if "ppm" in values
            else 1 / ratio,
            "per_sqrt": _mm(values, "mm_per_sqrt_m"),
        }
        per_km = _mm(values, "mm_per_sqrt_km") / 1000**0.5
        height = {
            "constant": _mm(values, "constant_height_mm"),
            "proportional": float(values.get("height_ppm", nan)) / 1e6,
            "per_sqrt": per_km,
        }
    least = _mm(values, "least_mm", 0.0)
    also = _also_stated(values.get("also_stated_as"))
    return _made(plan, squares, least, also), _made(height, squares, 0.0, nan)


def _made(
    parts: dict[str, float], squares: bool, least: float, also: float
) -> Limit | None:
    stated = {key: value for key, value in parts.items() if value == value}
    if not stated and not least:
        return None
    return Limit(**stated, squares=squares, least=least, also=also)


def _mm(values: Values, key: str, otherwise: float = nan) -> float:
    # repr gives the decimal digits as booked, so that 1.5 mm is 0.0015 m.
    return convert(repr(values[key]), "mm") if key in values else otherwise


def _also_stated(text: str | None) -> float:
    found = _LENGTH.fullmatch(text) if text else None
    return convert(found[1], found[2]) if found else nan
