"""Faults that have a size of their own, the whole way: simulate, estimate, suspects.

Names exchanged, a set-up on another mark, a number in feet booked as metres.
"""

from dataclasses import replace

import numpy as np

from brasscap.adjust import estimate
from brasscap.adjust.causes import suspects
from brasscap.networks.errors import NoSolution
from brasscap.networks.simulate import Blunder, simulate
from brasscap.reports.words_suspects import named_in_row

FOOT = 0.3048
"""m, exactly (1959 agreement)."""


def natural(design, random, seed):
    """Return the kind of a fault at its natural size, and what is said of it.

    Solved; found; named in the first group, or where there is no solution as a
    thing without which there is; first. None where the plan has no such fault that
    anything checks.
    """
    faults = list(_faults(design, random, seed))
    if not faults:
        return None
    kind, cause, network = faults[int(random.integers(len(faults)))]
    try:
        found = suspects(estimate(network()), design.labels)
    except NoSolution as error:
        thing = cause.words.removeprefix("place and height of ")
        return kind, False, False, thing in str(error), False
    row = named_in_row(found.groups[0])
    named = [k for k in row if _is(found, k, cause)]
    over = bool(found.test[0] > 1)
    return kind, True, over, over and bool(named), over and 0 in named


def _is(found, k, cause):
    same = found.kind[k] == cause.kind and set(found.about[k]) == set(cause.about)
    return same and (cause.kind != "set-up on wrong mark" or " in place of " in
                     found.words[k])  # fmt: skip


def _faults(design, random, seed):
    """Yield one fault of each kind that the plan allows: kind, cause, its survey."""
    made, network = design.every, design.network
    checked = [c for c, no in zip(made.causes, made.unchecked, strict=True) if not no]

    def some(kind, beginning="", among=None):
        of = [c for c in checked if c.kind == kind and c.words.startswith(beginning)]
        of = [c for c in of if among is None or set(c.about) & set(among)]
        return [of[int(random.integers(len(of)))]] if of else []

    def planted(blunder):
        return lambda: simulate(network, seed=seed, blunders=[blunder])

    for cause in some("set-ups exchanged"):
        blunder = Blunder(cause.kind, cause.about[0], other=cause.about[1])
        yield "set-ups exchanged", cause, planted(blunder)
    for cause in some("set-up on wrong mark"):
        others = [n for k, n in enumerate(network.marks.name) if k != cause.marks[0]]
        other = str(random.choice(others))
        blunder = Blunder(cause.kind, cause.about[0], other=other)
        yield "set-up on another mark", cause, planted(blunder)
    # A tripod that carries instrument and target in turn has two heights.
    once = [name for name in network.set_ups.name if _units_of(checked, name) == 1]
    for cause in some("unit", "unit of height of", once):
        blunder = Blunder("set-up height in feet", cause.about[0])
        yield "height of a set-up in feet", cause, planted(blunder)
    for words, kind, booked in _IN_FEET:
        if kind in _NEED_VECTORS and network.sights:
            continue
        for cause in some("unit", words):
            yield (
                kind,
                cause,
                lambda c=cause, b=booked: b(simulate(network, seed=seed), c),
            )


def _units_of(causes, name):
    return sum(cause.kind == "unit" and cause.about == (name,) for cause in causes)


def _session(network, cause):
    vectors = network.vectors
    wrong = vectors.session == network.sessions.index(cause.about[0])
    delta = np.where(wrong[:, None], vectors.delta / FOOT, vectors.delta)
    return replace(network, vectors=replace(vectors, delta=delta))


def _plan(network, cause):
    known = network.known
    wrong = (known.mark == cause.known[0])[:, None] & [True, True, False]
    return replace(
        network,
        known=replace(known, xyz=np.where(wrong, known.xyz / FOOT, known.xyz)),
    )


def _section(network, cause):
    levels = network.levels
    wrong = np.array([name.split(" ")[0] == cause.about[0] for name in levels.name])
    rise = np.where(wrong, levels.rise / FOOT, levels.rise)
    return replace(network, levels=replace(levels, rise=rise))


_IN_FEET = (
    ("unit of all 3 vectors of session", "vectors of a session in feet", _session),
    ("unit of plan of known mark", "plan of a known mark in feet", _plan),
    ("unit of rise of section", "levelled section in feet", _section),
)
_NEED_VECTORS = ("vectors of a session in feet", "plan of a known mark in feet")
"""Kilometres off, from where lines of sight would not find back to a solution."""
