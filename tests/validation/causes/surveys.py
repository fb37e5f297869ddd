"""One survey of a design: with no fault, one, several; and what is said of it."""

import numpy as np
from design import kind_of
from faults import UNIT, fault

from brasscap.adjust.causes.beside import family_of
from brasscap.adjust.causes.groups import group_of
from brasscap.adjust.causes.robust_start import searched
from brasscap.adjust.causes.suspects import LISTED, grouped
from brasscap.adjust.judge.limits import b_method
from brasscap.adjust.judge.variance_factor import variance_factor_of
from brasscap.reports.words_suspects import MORE, PARTS, TWINS, WIDER


def clean(design, misclosure):
    """Return what a survey without a fault gives: rejected, a query, a failure."""
    _, now = design.view(misclosure)
    best = int(now.order.order[0])
    family = family_of(now.basis.probability[[best]], now.tried)[0]
    vtpv = float(misclosure @ misclosure)
    factor = variance_factor_of(vtpv, design.freedom, design.options.confidence)
    over = bool(now.basis.test[best] > 1)
    return factor.verdict != "meets", over, over and bool(family < 0.05)


def one(design, random, noise, cause, size):
    """Return what a survey with one fault gives, by name of the count."""
    rows = fault(design, random, cause, size, kind_of(design.made.causes[cause]))
    _, now = design.view(noise + rows)
    best, mine = int(now.order.order[0]), design.mine(cause)
    found = bool(now.basis.test[best] > 1)
    members, larger, most = first_group(now)
    holds = now.order.holds
    return {
        "power": bool(now.basis.test[cause] > 1),
        "found": found,
        "strictly": found and bool(mine & members),
        "as printed": found and bool(mine & (members | larger)),
        "a part": found and bool((mine & (members | larger)) or holds[cause, best]),
        "first": found and best in mine,
        "separable": separable(design, mine, rows),
        "members": most,
        "size within": covered(design, now.joint, cause, rows),
    }


def first_group(now):
    """Return who is printed in the first group: its members, and the larger ones.

    And how many members it has. The same cuts as on the screen.
    """
    listed = now.order.order[:LISTED]
    (group, *_), _ = grouped(now, listed, 1)
    members = set(listed[list(group.members[: TWINS + 1])].tolist())
    larger = [*group.wider[:WIDER], *group.more[:MORE], *group.parts[:PARTS]]
    return members, set(listed[larger].tolist()), len(group.members)


def separable(design, mine, rows):
    """Return whether, free of noise, no other cause could stand for it."""
    _, now = design.view(rows)
    best = int(now.order.order[0])
    if best not in mine:
        return False
    return not set(group_of(now.joint, now.order, best)) - mine


def covered(design, joint, cause, rows):
    """Return whether the told size is within its own 95 % limit, first amount."""
    if not design.made.causes[cause].measure:
        return None
    truth, _ = design.made.amounts(design.made.joint(rows), cause)
    told, sd = design.made.amounts(joint, cause)
    if not sd[0] > 0:
        return None
    return bool(abs(told[0] - truth[0]) < 1.959964 * sd[0])


def several(design, random, noise, count, size):
    """Return whether each of several faults is named by the search; None for no try.

    Strictly; as printed; how many causes are accepted; and whether, free of noise, no
    one cause could stand for all.
    """
    kinds = list(design.kinds)
    causes = []
    for kind in random.choice(kinds, count).tolist():
        causes.append((int(random.choice(design.kinds[kind])), kind))
    numbers = [cause for cause, _ in causes]
    if len(set(numbers)) < count or _one_thing(design, numbers):
        return None
    faults = sum(fault(design, random, c, size, kind) for c, kind in causes)
    _, alone = design.view(faults)
    narrow = alone.components <= 3
    left = float(faults @ faults) - alone.statistic[narrow].max()
    told = searched(
        design.adjustment, design.made, noise + faults, design.views(noise + faults)
    )
    strict, printed = set(), set()
    for step in told.steps:
        if step.accepted in told.model:
            strict |= set(step.group[: TWINS + 1])
            printed |= set(step.larger[:WIDER])
    strict |= set(told.model)
    mine = [design.mine(c) for c in numbers]
    return (
        all(strict & some for some in mine),
        all((strict | printed) & some for some in mine),
        len(told.model),
        left > UNIT,
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
    rows = fault(design, random, cause, 1.0, kind_of(design.made.causes[cause]))
    at = np.arange(design.made.first[cause], design.made.first[cause + 1])
    pull = design.made.scaled[:, at].T @ (design.noise(random, count) + rows[:, None])
    limit = b_method(design.options.outlier_alpha, design.options.power, len(at))[1]
    return ((pull**2).sum(axis=0) > limit).tolist()


def snooped(design, random, noise, cause, size):
    """Return whether the largest single component is of the vector at fault.

    Textbook data snooping: w of every component of every vector by itself.
    """
    misclosure = noise + fault(design, random, cause, size, "baseline")
    rows, vectors = design.made.rows, design.adjustment.network.vectors
    first = rows.first_of_kind["baseline"]
    columns = rows.base[:, first : first + 3 * len(vectors)].toarray()
    own = (columns**2).sum(0)
    checks = own - ((design.design.T @ columns) * (design.gain @ columns)).sum(0)
    safe = checks > 1e-6 * own
    w = np.abs(columns.T @ misclosure) / np.sqrt(np.where(safe, checks, 1.0))
    vector = int(np.argmax(np.where(safe, w, 0.0))) // 3
    return vectors.name[vector] == design.made.causes[cause].about[0]
