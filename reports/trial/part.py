"""The part of a network that a page shows, numbered by itself."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ...networks.covariances import Ints

Object = dict[str, Any]


def renumbered(made: Object, shown: "Ints") -> Object:
    """Return the page's data with the marks and set-ups that are shown counted from 0.

    Parameters
    ----------
    made : dict
        Marks numbered as in the network, in blocks, pairs and set-ups.
    shown : ndarray of int
        Marks that the page shows, ascending.
    """
    mark = {int(m): k for k, m in enumerate(shown)}
    seen = [one for block in made["blocks"] for one in block["observations"]]
    used = sorted({s for one in seen for s in one["set_ups"]})
    set_up = {s: k for k, s in enumerate(used)}
    for one in seen:
        one["marks"] = [mark[m] for m in one["marks"]]
        one["set_ups"] = [set_up[s] for s in one["set_ups"]]
    for block in made["blocks"]:
        for stand in block["stands"]:
            stand["set_up"] = set_up[stand["set_up"]]
    set_ups = [made["set_ups"][s] for s in used]
    pairs = made["specification"]["pairs"]
    if pairs != "all":
        pairs = [[mark[a], mark[b]] for a, b in pairs if a in mark and b in mark]
    return made | {
        "set_ups": [one | {"mark": mark[one["mark"]]} for one in set_ups],
        "specification": made["specification"] | {"pairs": pairs},
    }
