"""One survey of a design: with no fault, one, several; and what is said of it."""

from itertools import permutations

import numpy as np
from design import kind_of
from faults import UNIT, fault

from brasscap.adjust.causes.beside import family_of
from brasscap.adjust.causes.groups import group_of
from brasscap.adjust.causes.robust_start import searched
from brasscap.adjust.causes.suspects import LISTED, grouped
from brasscap.adjust.judge.limits import b_method
from brasscap.adjust.judge.variance_factor import variance_factor_of
from brasscap.reports.words_suspects import TWINS, WIDER, named_in_row


def clean(design, misclosure):
    """Return what a survey without a fault gives: rejected, a query, a failure."""
    _, now = design.view(misclosure)
    family = family_of(now.basis.probability, now.tried)
    vtpv = float(misclosure @ misclosure)
    factor = variance_factor_of(vtpv, design.freedom, design.options.confidence)
    over = now.basis.test > 1
    fails = over & (family < 1 - design.options.confidence)
    return factor.verdict != "meets", bool(over.any()), bool(fails.any())


def one(design, random, noise, cause, size):
    """Return what a survey with one fault gives, by name of the count."""
    kind = kind_of(design.made.causes[cause])
    rows, amounts = fault(design, random, cause, size, kind)
    _, now = design.view(noise + rows)
    best, mine = int(now.order.order[0]), design.mine(cause)
    found = bool(now.basis.test[best] > 1)
    named, alike, names = first_group(now)
    return {
        "power": bool(now.basis.test[cause] > 1),
        "found": found,
        "named": found and cause in named,
        "alike": found and cause in alike,
        "first": found and best in mine,
        "separable": separable(design, mine, rows),
        "names": names,
        "size within": covered(design, now.joint, cause, amounts),
    }


def first_group(now):
    """Return who is named in the first group, who of these is not nested with its
    first, and how many causes it has.

    The same cuts as on the screen; the number counts those of "and 2 more" too.
    """
    listed = now.order.order[:LISTED]
    (group, *_), _ = grouped(now, listed, 1)
    named = named_in_row(group)
    alike = group.members[: TWINS + 1]
    names = len(named) + len(group.members) - len(alike)
    return set(listed[list(named)].tolist()), set(listed[list(alike)].tolist()), names


def separable(design, mine, rows):
    """Return whether, free of noise, no other cause could stand for it."""
    _, now = design.view(rows)
    best = int(now.order.order[0])
    if best not in mine:
        return False
    return not set(group_of(now.joint, now.order, best)) - mine


def covered(design, joint, cause, amounts):
    """Return whether the told size is within its own 95 % limit, first amount.

    Against the amounts that were planted.
    """
    if not design.made.causes[cause].measure:
        return None
    told, sd = design.made.amounts(joint, cause)
    if not sd[0] > 0:
        return None
    return bool(abs(told[0] - amounts[0]) < 1.959964 * sd[0])


def several(design, random, noise, count, size):
    """Return whether each of several faults is named by the search; None for no try.

    Each in the group of another accepted cause; so, not nested with its first; how
    many causes are accepted; and whether, free of noise, no one cause could stand for
    all.
    """
    kinds = list(design.kinds)
    causes = []
    for kind in random.choice(kinds, count).tolist():
        causes.append((int(random.choice(design.kinds[kind])), kind))
    numbers = [cause for cause, _ in causes]
    if len(set(numbers)) < count or _one_thing(design, numbers):
        return None
    faults = sum(fault(design, random, c, size, kind)[0] for c, kind in causes)
    _, alone = design.view(faults)
    narrow = alone.components <= 3
    left = float(faults @ faults) - alone.statistic[narrow].max()
    views = design.views(noise + faults)
    told = searched(design.adjustment, design.made, noise + faults, views)
    alike = {cause: {cause} for cause in told.model}
    named = {cause: {cause} for cause in told.model}
    for step in told.steps:
        if step.accepted in alike:
            alike[step.accepted] |= set(step.group[: TWINS + 1])
            named[step.accepted] |= set(step.group[: TWINS + 1])
            named[step.accepted] |= set(step.larger[:WIDER])
    return (
        _each_named(numbers, list(named.values())),
        _each_named(numbers, list(alike.values())),
        len(told.model),
        left > UNIT,
    )


def _each_named(numbers, groups):
    """Return whether each fault is named in a group of its own."""
    return any(
        all(one in group for one, group in zip(numbers, some, strict=True))
        for some in permutations(groups, len(numbers))
    )


def _one_thing(design, numbers):
    """Return whether one of several causes, or one common cause, holds two of them."""
    holds, same = design.nested.holds, design.nested.same
    common = design.made.joint(design.made.rows.misclosure).common
    inside = holds[numbers][:, common].sum(axis=0)
    among = (holds | same)[np.ix_(numbers, numbers)]
    return bool(among.any() or (inside > 1).any())


def power(design, random, cause, count):
    """Return (count,) whether the cause's own test is over its limit at 1×."""
    kind = kind_of(design.made.causes[cause])
    rows, _ = fault(design, random, cause, 1.0, kind)
    at = np.arange(design.made.first[cause], design.made.first[cause + 1])
    pull = design.made.scaled[:, at].T @ (design.noise(random, count) + rows[:, None])
    limit = b_method(design.options.outlier_alpha, design.options.power, len(at))[1]
    return ((pull**2).sum(axis=0) > limit).tolist()


def snooped(design, random, noise, cause, size):
    """Return whether the largest single component is of the vector at fault.

    Textbook data snooping: w of every component of every vector by itself. And whether
    it is, or is equal to the largest: where two vectors meet at a mark that nothing
    else checks, one says of each what it says of the other.
    """
    misclosure = noise + fault(design, random, cause, size, "baseline")[0]
    rows, vectors = design.made.rows, design.adjustment.network.vectors
    first = rows.first_of_kind["baseline"]
    columns = rows.base[:, first : first + 3 * len(vectors)].toarray()
    own = (columns**2).sum(0)
    checks = own - ((design.design.T @ columns) * (design.gain @ columns)).sum(0)
    safe = checks > 1e-6 * own
    w = np.abs(columns.T @ misclosure) / np.sqrt(np.where(safe, checks, 1.0))
    w = np.where(safe, w, 0.0).reshape(-1, 3).max(axis=1)
    mine = vectors.name.index(design.made.causes[cause].about[0])
    largest = w[mine] >= w.max() * (1 - 1e-6)
    others = np.delete(w, mine)
    return bool(largest and w[mine] > others.max() * (1 + 1e-6)), bool(largest)
