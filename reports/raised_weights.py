"""The queries that standard deviations by group raise, each with its mend."""

from typing import TYPE_CHECKING

from ..networks.queries import Query
from .words_weights import PARTS, Weighed, component_words, decide_line, premise_words

if TYPE_CHECKING:
    from ..adjust.judge.variance_components import VarianceComponents


def of_weights(weighed: Weighed) -> list[Query]:
    """Return a query for each group whose standard deviations differ from those stated.

    Plan, height and distance of a group are one query where they stand out together:
    one decision multiplies them. What no decision multiplies (priors of known marks,
    set-ups without a support) can only be looked at, or accepted.

    Parameters
    ----------
    weighed : Weighed
    """
    found = weighed.weights.components
    by: dict[object, list[int]] = {}
    for k in found.standing_out:
        kind, name = found.component[k].decided_as
        by.setdefault((kind, name) if kind else k, []).append(k)
    return [
        Query(
            "standard-deviations-differ",
            _about(found, mine),
            # Where it explains what fails, it comes before the causes.
            "fails" if weighed.weights.leads and _larger(found, mine) else "query",
            "suspects",
            _said(weighed, mine),
            look="brasscap suspects",
            mend=decide_line(weighed, mine) if isinstance(key, tuple) else "",
        )
        for key, mine in by.items()
    ]


def _larger(found: "VarianceComponents", mine: list[int]) -> bool:
    return any(found.multiplier[k] > 1 for k in mine)


def _said(weighed: Weighed, mine: list[int]) -> str:
    """Return what comes first, the blunder or the multiplier, and the figures."""
    one = weighed.weights
    figures = "; ".join(component_words(one.components, k) for k in mine)
    if one.beside:
        which = "cause" if len(one.beside) == 1 else "causes"
        return f"settle the suspected {which} first; {premise_words(one)}: {figures}"
    if one.leads and _larger(one.components, mine):
        return f"multiply first, then look for blunders in what is left: {figures}"
    return figures


def _about(found: "VarianceComponents", mine: list[int]) -> str:
    """Return what is asked about, each part with its way: another is a new query.

    A decision on what was stated too good does not answer what is too poor later.
    """
    one = found.component[mine[0]]
    kind, name = one.decided_as
    ways = {True: "stated too good", False: "stated too poor"}
    if not kind:
        return f"{one.words}: {ways[bool(found.multiplier[mine[0]] > 1)]}"
    said = []
    for larger, way in ways.items():
        parts = {
            found.component[k].part for k in mine if (found.multiplier[k] > 1) == larger
        }
        if parts:
            said.append(f"{' and '.join(p for p in PARTS if p in parts)} {way}")
    return f"standard deviations of {kind} {name}: {', '.join(said)}"
