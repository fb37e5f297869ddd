"""What is counted, network by network, and how the counts are joined."""

from collections import defaultdict

import numpy as np
from design import Design
from natural import natural
from plans import FAMILIES, NoSolution, plan
from printed import at_printed_size
from surveys import clean, one, power, several, snooped

SIZES = (1.0, 1.5, 3.0)
CLEAN, POWER, PRINTED, NATURAL_EACH = 4, 4, 6, 2
"""Clean surveys of each network, surveys of each kind for the power at 1×, those at
the printed size, and every so many-th network with a fault at its natural size; the
others have those at the printed sizes."""


class Tally:
    """Lists of what was seen, by what was planted."""

    def __init__(self):
        self.one = defaultdict(list)
        self.power = defaultdict(list)
        self.several = defaultdict(list)
        self.natural = defaultdict(list)
        self.printed = defaultdict(list)
        self.ratio = []
        self.clean, self.snooped = [], []
        self.networks, self.untried = defaultdict(int), defaultdict(int)
        self.left = defaultdict(int)

    def add(self, other):
        """Add the counts of another tally."""
        for mine, theirs in (
            (self.one, other.one), (self.power, other.power),
            (self.several, other.several), (self.natural, other.natural),
            (self.printed, other.printed),
        ):  # fmt: skip
            for key, values in theirs.items():
                mine[key] += values
        self.clean += other.clean
        self.ratio += other.ratio
        self.snooped += other.snooped
        for mine, theirs in (
            (self.networks, other.networks), (self.untried, other.untried),
            (self.left, other.left),
        ):  # fmt: skip
            for key, number in theirs.items():
                mine[key] += number


def surveyed(number):
    """Return the tally of one network, by its number.

    A plan whose marks hang loose, or with more causes than are taken together at
    once, is left out and counted as such.
    """
    tally, family = Tally(), FAMILIES[number % len(FAMILIES)]
    try:
        design = Design(*plan(family, number), number)
    except NoSolution:
        tally.left["no solution", family] += 1
        return tally
    if design.dropped:
        tally.left["too many causes at once", family] += 1
        return tally
    tally.networks[family] += 1
    random = np.random.default_rng([number, 9])
    tally.clean += [clean(design, rows) for rows in design.noise(random, CLEAN).T]
    _singles(tally, design, random)
    _several(tally, design, random)
    if design.kinds["baseline"]:
        cause = int(random.choice(design.kinds["baseline"]))
        noise = design.noise(random, 1)[:, 0]
        tally.snooped.append(snooped(design, random, noise, cause, 1.5))
    if number // len(FAMILIES) % NATURAL_EACH:
        for kind, found, ratio in at_printed_size(design, random, PRINTED):
            tally.printed[kind] += found
            tally.ratio.append(ratio)
    else:
        found = natural(design, random, number)
        if found:
            tally.natural[found[0]].append(found[1:])
    return tally


def _singles(tally, design, random):
    noise = iter(design.noise(random, len(SIZES) * len(design.kinds)).T)
    for kind, causes in design.kinds.items():
        if not causes:
            continue
        for size in SIZES:
            cause = int(random.choice(causes))
            seen = one(design, random, next(noise), cause, size)
            tally.one[kind, size].append(seen)
        cause = int(random.choice(causes))
        tally.power[kind] += power(design, random, cause, POWER)


def _several(tally, design, random):
    for count in (2, 3):
        if len(design.kinds) < 2:
            continue
        noise = design.noise(random, 1)[:, 0]
        found = several(design, random, noise, count, 3.0)
        if found:
            tally.several[count].append(found)
        else:
            tally.untried[count] += 1
