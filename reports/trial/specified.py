"""What a specification asks of pairs of marks, as the page holds it against them."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from .limits import limits_object

if TYPE_CHECKING:
    from ...networks import Network
    from ...networks.covariances import Ints
    from ...networks.specifications import Limit, Specification


def specified_object(
    one: "Specification | None",
    pairs: "Ints",
    network: "Network",
    most: int,
    shown: int,
) -> dict[str, Any]:
    """Return a specification with its pairs; without one, pairs alone.

    Parameters
    ----------
    one : Specification or None
    pairs : ndarray of int, shape (P, 2)
    network : Network
    most : int
        Degrees of freedom that a trial can have at most.
    shown : int
        Marks that the page shows.
    """
    from ...networks.specifications import MEASURES

    whole = len(pairs) == shown * (shown - 1) // 2
    made: dict[str, Any] = {"name": "", "pairs": "all" if whole else pairs.tolist()}
    if one is None:
        return made
    options = replace(network.options, confidence=one.confidence)
    own = limits_object(options, most)
    keys = ("ellipse", "height", "ellipse_estimated", "height_estimated")
    return made | {
        "name": one.name,
        "kind": one.kind,
        "measure": MEASURES[one.kind],
        "plan": _limit(one.plan),
        "height": _limit(one.height),
        "within": None if one.within == float("inf") else one.within,
        "confidence": one.confidence,
        "multipliers": {key: own[key] for key in keys}
        | {"confidence": one.confidence, "ellipses_from": options.ellipses_from},
    }


def _limit(limit: "Limit | None") -> dict[str, Any] | None:
    if limit is None:
        return None
    keys = ("constant", "proportional", "per_sqrt", "squares", "least")
    return {key: getattr(limit, key) for key in keys}
