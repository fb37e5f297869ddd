"""What floats of a divided network: found part by part, named as a whole."""

import numpy as np

from ...networks.covariances import Floats, Ints
from ..floating import floating
from . import separators, tasks
from .parted import Parted
from .passes import Tickets


def refuse_floating(some: Parted, stages: Tickets, above: Tickets) -> None:
    """Raise where something floats, with the names of all marks that do.

    Parameters
    ----------
    some : Parted
    stages, above : tickets
        Domains and separators, eliminated.

    Raises
    ------
    NoSolution
    """
    passes = some.passes
    said = passes.gather({1: passes.submit(1, separators.border, above[1])})
    if not said[1].free:
        return
    count = int(some.columns.max()) + 1
    found = [
        _spread(count, some.unknowns[leaf], null)
        for leaf, null in passes.gather(passes.each(tasks.null_of, stages)).items()
        if null.shape[1]
    ]
    if not found:
        found = _of_separators(some, stages, above, count)
    raise floating(some.network, some.begin, some.columns, np.hstack(found))


def _spread(count: int, unknowns: Ints, values: Floats) -> Floats:
    made = np.zeros((count, values.shape[1]))
    made[unknowns] = values
    return made


def _of_separators(
    some: Parted, stages: Tickets, above: Tickets, count: int
) -> list[Floats]:
    """Return what the lowest separators that are not determined leave free."""
    passes, tree = some.passes, some.passes.tree
    gathered_ = passes.gather({p: above[p] for p in tree.separators()})
    bad = [p for p, one in gathered_.items() if one.null.shape[1]]
    lowest = [p for p in bad if not any(_is_above(p, q) for q in bad)]
    found = []
    for place in lowest:
        one = gathered_[place]
        made = np.zeros((count, one.null.shape[1]))
        known = {place: separators.Sides(one.columns, one.null)}
        made[one.columns] = one.null
        for below in sorted(p for p in tree.separators() if _is_above(place, p)):
            width = one.null.shape[1]
            none = separators.Raised(
                np.zeros((gathered_[below].size, width)), known[below // 2]
            )
            known[below] = separators.lowered(gathered_[below], none, known[below // 2])
            made[known[below].columns] = known[below].values
        for leaf in tree.leaves:
            if leaf // 2 in known:
                zero = np.zeros((len(some.unknowns[leaf]), one.null.shape[1]))
                ticket = passes.submit(
                    leaf, tasks.completed, stages[leaf], zero, known[leaf // 2]
                )
                made[some.unknowns[leaf]] = passes.gather({leaf: ticket})[leaf]
        found.append(made)
    return found


def _is_above(high: int, low: int) -> bool:
    while low > high:
        low //= 2
        if low == high:
            return True
    return False
