"""A specification in words, and the draft of what to write about it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..networks.specifications import CLASSED, MEASURES, accuracy_class
from .heading import Heading
from .rounding import Units, percent

if TYPE_CHECKING:
    from ..adjust.precision.compliance import Compliance
    from ..networks.specifications import Limit


_ORDER = ("meets", "query", "unchecked", "fails")


def worst_of(verdicts: tuple[str, ...]) -> str:
    """Return the worst of some verdicts; ``unchecked`` for none.

    Where nothing is limited there are no verdicts, but empty words.

    Examples
    --------
    >>> worst_of(("meets", "query", "meets")), worst_of(()), worst_of(("", ""))
    ('query', 'unchecked', '')
    """
    said = [one for one in verdicts if one]
    if said or not verdicts:
        return max(said, key=_ORDER.index, default="unchecked")
    return ""


def name_of(one: "Compliance", line: int) -> str:
    """Return the mark or the pair of a line."""
    names = one.adjustment.network.marks.name
    first, second = one.pairs[line].tolist()
    return names[second] if first < 0 else f"{names[first]} – {names[second]}"


def is_classed(one: "Compliance") -> bool:
    """Return whether its values are sorted into accuracy classes."""
    stated = one.specification
    return stated.kind in CLASSED and stated.confidence == 0.95


def what_words(one: "Compliance") -> str:
    """Return whether marks or pairs are judged, and in which part."""
    return f"{'marks' if one.of_marks else 'pairs'} in {one.part}"


def shares_of(one: "Compliance") -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    """Return (p,) values as shares of their limits, 1 = the limit."""
    return np.asarray(one.value / one.limit)


def measure_words(one: "Compliance") -> str:
    """Return what is held against the limit."""
    confidence = percent(one.specification.confidence)
    if one.part == "height":
        what = "height" if one.of_marks else "height difference"
        return f"± of the {what} at {confidence}"
    measure = MEASURES[one.specification.kind]
    if measure == "semi-major axis":
        return f"semi-major axis of the {confidence} relative ellipse"
    if measure == "distance":
        return f"± of the distance at {confidence}"
    whose = "" if one.of_marks else "relative "
    return f"radius of the {confidence} {whose}circle"


def limit_words(one: "Compliance", units: Units) -> str:
    """Return the limit as a formula in words."""
    limit = _limit(one)
    parts = []
    if limit.constant or not (limit.proportional or limit.per_sqrt):
        parts.append(f"{units.small(limit.constant)} {units.small_unit}")
    if limit.proportional:
        parts.append(f"{1e6 * limit.proportional:g} ppm")
    if limit.per_sqrt:
        per_km = f"{1000 * limit.per_sqrt * 1000**0.5:g} mm × √km"
        parts.append(per_km if one.part == "height" else _per_metre(limit.per_sqrt))
    joined = " and ".join(parts) + ", joined as squares"
    words = joined if limit.squares and len(parts) > 1 else " + ".join(parts)
    also = (
        "" if np.isnan(limit.also) else f" ({1000 * limit.also:.1f} mm as also stated)"
    )
    return f"limit {words}{also}"


def _per_metre(per_sqrt: float) -> str:
    return f"{1000 * per_sqrt:g} mm × √m"


def _limit(one: "Compliance") -> "Limit":
    from ..networks.specifications import Limit

    stated = one.specification
    if one.of_marks and stated.kind == "tier and class":
        tier = stated.tier_plan if one.part == "plan" else stated.tier_height
        return Limit(tier)
    limit = stated.plan if one.part == "plan" else stated.height
    return limit if limit is not None else Limit()


def statement(
    lines: "Sequence[Compliance]", heading: Heading, record: str = ""
) -> list[str]:
    """Return a draft, a paragraph a specification and part, and what it is not.

    Parameters
    ----------
    lines : sequence of Compliance
    heading : Heading
    record : str, optional
        The issue that stands, in words.
    """
    units = heading.units
    said = [
        "Draft, to be edited and signed by the licensed person, whose judgement and "
        "local rules come first. The tool computes; it does not certify.",
        record or "Record: none is issued yet  (brasscap record issue).",
    ]
    return [*said, *(_sentence(one, heading, units) for one in lines)]


def _sentence(one: "Compliance", heading: Heading, units: Units) -> str:
    verdict = worst_of(one.precision)
    title = heading.title or "this survey"
    when = f", computed {heading.dated}" if heading.dated else ""
    adjustment, scale = one.adjustment, one.multipliers
    basis = (
        f"from the {adjustment.datum.mode} least-squares solution of {title}{when} "
        f"({adjustment.datum.text}; {adjustment.degrees_of_freedom} degrees of "
        f"freedom; {scale.kind} variance factor"
    )
    if not np.isfinite(one.value).any():
        return f"{one.specification.name}: {one.part} cannot be judged {basis})."
    if not one.sound:
        return (
            f"{one.specification.name}, {one.part}: nothing can be stated {basis}). "
            "The solution fails its own tests; settle that first  (brasscap suspects)."
        )
    k = int(one.order()[0])
    if not one.limited:
        return _class_sentence(one, k, units, basis)
    multiplier = (
        scale.height
        if one.part == "height" or MEASURES[one.specification.kind] == "distance"
        else scale.ellipse
    )
    what = "marks" if one.of_marks else "pairs"
    kept = {
        "meets": f"All {len(one.value)} {what} meet",
        "query": f"All {len(one.value)} {what} meet one of the two roundings of",
    }.get(verdict, f"Not all {len(one.value)} {what} meet")
    reliability = {
        "meets": "No single blunder just too small to be detected moves one of them by "
        "more than the limit.",
        "query": "A single blunder just too small to be detected could move some by "
        "more than the limit.",
    }.get(
        worst_of(one.reliability),
        "Of some, nothing in the observations could show an error.",
    )
    return (
        f"{kept} the {limit_words(one, units)} ({one.specification.name}): "
        f"{measure_words(one)}, {basis}; multiplier {multiplier:.3f}). Largest share: "
        f"{name_of(one, k)}, {units.small(float(one.value[k]))} of "
        f"{units.small(float(one.limit[k]))} {units.small_unit}. {reliability}"
    )


def _class_sentence(one: "Compliance", k: int, units: Units, basis: str) -> str:
    what = "Network accuracy" if one.of_marks else "Local accuracy"
    value = float(one.value[k])
    classed = f", class {class_words(value)}" if is_classed(one) else ""
    return (
        f"{what} in {one.part}: {measure_words(one)}, {basis}). Of "
        f"{len(one.value)}, the largest: {name_of(one, k)}, {units.small(value)} "
        f"{units.small_unit}{classed}. No limit is stated."
    )


def class_words(value: float) -> str:
    """Return the accuracy class of a 95 % value in words; empty where none."""
    return accuracy_class(value) if np.isfinite(value) else ""
