"""The counts as a page: shares in % with their exact 95 % intervals."""

import numpy as np
from goals import HEAD as ABOUT_GOALS
from goals import goals
from plans import FAMILIES
from shares import interval, share
from tally import PRINTED, SIZES

from brasscap.adjust.causes.screening import JOINT

__all__ = ["interval", "page", "share"]

HEAD = """\
# Is the right cause named?

Made by `python tests/validation/causes {count} {processes}` on {processes} processes in
{seconds:.0f} s ({rate:.1f} networks a second): {networks}, of 8 to 40 marks, every
kind of cause that something checks planted once in each at 1, 1.5 and 3 times its
smallest detectable size. Left out: {left} (of more than {joint:,} amounts in all,
only the causes best supported by a survey would be taken along).
Plans and noise are drawn from the number of the network, so that the same figures
come again. A survey is drawn in the linear model of its network, with the noise that
is stated of it; faults at their natural sizes go the whole way. Shares in % with
their exact 95 % intervals (Clopper and Pearson 1934).
"""
ABOUT = """\
How a fault happens: a set-up on the wrong mark is {set-up on wrong mark}; a known
mark's plan is off {known mark plan}; a known mark {known mark}; of a session
{session}; of a pointing {pointing}. Other kinds of three components go any way in
space, those of one are too large or too small. A reading is one of a total station.

*power*: the cause's own test is over its limit. *first group*: some cause is over its
limit, and the planted one is named in the row of the first group, by its own name: as
its first, as one that cannot be told from the first, as a larger cause that holds the
first, or as the part of the first that explains most. *names*: how many causes that row
names, all of these counted; the median. *not nested*: named there, and neither as a
larger cause nor as a part. It is less, because the simplest cause that explains is put
first, by design: a set-up beside its mark whose distances alone disagree is a constant
of these distances first, and the set-up stands there as the larger cause. *first*: it
leads, of the surveys where, free of noise, nothing else could stand for it; a cause
that shifts all residuals in the very same way, as a height and the one vector from it,
counts as the same. *size within*: the size that would be told of the planted cause is
within its own 95 % limit, whether the cause is found or not.
"""


COLUMNS = ("power", "named", "alike", "separable", "first", "size within")


def page(tally, count, processes, seconds, ways, folders):
    """Return the page.

    Parameters
    ----------
    tally : Tally
    count, processes : int
    seconds : float
    ways : dict of str to str
        How a fault of a kind happens.
    folders : tuple of int
        Same both ways, named, of so many through a folder and the command.
    """
    networks = [f"{tally.networks[key]} of {key}" for key in FAMILIES]
    left = [f"{number} of {family} with {reason}"
            for (reason, family), number in sorted(tally.left.items())]  # fmt: skip
    head = HEAD.format(
        count=count, processes=processes, seconds=seconds, rate=count / seconds,
        networks=", ".join(networks), left=", ".join(left) or "none", joint=JOINT,
    )  # fmt: skip
    parts = [
        head,
        "## What was set as a goal",
        ABOUT_GOALS,
        _table(goals(tally, count, processes, seconds, folders)),
        "## One fault",
        ABOUT.format(**ways),
        _singles(tally),
        "## Is the smallest detectable size what it says?",
        _sizes_said(tally),
        _power(tally),
        "## Faults at their natural size",
        _natural(tally),
        "## None, two, three, and other ways",
        _sentences(tally, folders),
    ]
    return "\n\n".join(part.strip("\n") for part in parts) + "\n"


def _singles(tally):
    kinds = sorted({kind for kind, _ in tally.one})
    rows = [
        ["kind", "size", "surveys", "power", "first group", "not nested",
         "separable", "first", "size within", "names"],
        ["---"] * 10,
    ]  # fmt: skip
    for size in SIZES:
        for kind in [*kinds, "all"]:
            of = kinds if kind == "all" else [kind]
            some = [seen for k in of for seen in tally.one[k, size]]
            rows.append([kind, f"{size}×", str(len(some)), *_cells(some)])
    return _table(rows)


def _cells(some):
    cells = []
    for key in COLUMNS:
        of = [one for one in some if one["separable"] or key != "first"]
        cells.append(share(one[key] for one in of))
    return [*cells, f"{np.median([one['names'] for one in some]):.0f}"]


def _sizes_said(tally):
    off = max((abs(ratio - 1) for ratio in tally.ratio), default=0.0)
    return (
        "At 1× a fault has the size at which its own test in `suspects` claims 80 %. "
        "At the printed size it is put upon what was booked, as large along one axis "
        "as `reliability` prints it; of each kind once, and "
        f"{PRINTED} times observed, in every other network. A dash: `reliability` "
        "prints no size of that kind. The two sizes differ by no more than "
        f"{100 * off:.2g} % of each other."
    )


def _power(tally):
    rows = [
        ["power, claimed 80", "surveys", "at 1×", "surveys", "at the printed size"],
        ["---"] * 5,
    ]

    def cells(some):
        return [str(len(some)), share(some)]

    for kind in sorted(tally.power):
        printed = tally.printed.get(kind, [])
        rows.append([kind, *cells(tally.power[kind]), *cells(printed)])
    every = ([one for some in values.values() for one in some]
             for values in (tally.power, tally.printed))  # fmt: skip
    rows.append(["all", *(cell for some in every for cell in cells(some))])
    return _table(rows)


def _natural(tally):
    rows = [
        ["at its natural size", "surveys", "solved", "found", "named", "first"],
        ["---"] * 6,
    ]
    for kind in sorted(tally.natural):
        some = tally.natural[kind]
        cells = [share(seen) for seen in zip(*some, strict=True)]
        rows.append([kind, str(len(some)), *cells])
    return _table(rows)


def _table(rows):
    return "\n".join(f"| {' | '.join(row)} |" for row in rows)


def _sentences(tally, folders):
    rejected, over, fails = zip(*tally.clean, strict=True)
    said = [
        f"Clean surveys ({len(rejected)}): the variance factor outside its limits in "
        f"{share(rejected)} (claimed 5); any cause fails in {share(fails)} (at most "
        f"5); any cause over its own limit, a query, in {share(over)}."
    ]
    for count, some in sorted(tally.several.items()):
        apart = [seen for seen in some if seen[3]]
        named, alike = (share(seen[k] for seen in apart) for k in (0, 1))
        middle = np.median([seen[2] for seen in some])
        said.append(
            f"{('', '', 'Two', 'Three')[count]} faults at 3× ({len(apart)} surveys in "
            f"which, free of noise, no single other cause could stand for all, of "
            f"{len(some)}): each named in the group of an accepted cause of its own in "
            f"{named}; so, and not as a larger cause, in {alike}. Of all "
            f"{len(some)}: {share(seen[0] for seen in some)} and "
            f"{share(seen[1] for seen in some)}. Median {middle:.0f} causes accepted. "
            f"Not tried: {tally.untried[count]} draws in which one fault was a part of "
            "another, the same as it, or both part of one common thing."
        )
    said.append(_leading(tally))
    alone, equal = zip(*tally.snooped, strict=True) if tally.snooped else ((), ())
    said.append(
        "Textbook snooping by single components, a vector at fault at 1.5×: the "
        f"largest component is of that vector and no other in {share(alone)} of "
        f"{len(alone)}; it or one equal to the largest in {share(equal)}. That is of "
        "vectors alone, over its limit or not: to snooping, nothing but a single "
        "component is ever at fault."
    )
    same, named, of = folders
    said.append(
        f"Through a folder and `brasscap suspects --json`, the examples with a height, "
        f"vector, direction or run at fault: the same, number for number, as in one "
        f"process in {same} of {of}; the thing at fault is named in the first group in "
        f"{named}."
    )
    return "\n\n".join(said)


def _leading(tally):
    """Return how often told sizes are within their limits where the cause leads."""
    parts = []
    for size in SIZES:
        some = [one for (_, of), seen in tally.one.items() if of == size
                for one in seen if one["first"]]  # fmt: skip
        parts.append(f"{share(one['size within'] for one in some)} at {size}×")
    return (
        "Where the planted cause leads, the told size is within its 95 % limit in "
        f"{', '.join(parts)}. At 1× a fault leads more easily where noise adds to it."
    )
