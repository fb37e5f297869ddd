"""The counts as a page: shares in % with their exact 95 % intervals."""

import numpy as np
from scipy.special import betaincinv
from tally import SIZES

HEAD = """\
# Is the right cause named?

Made by `python tests/validation/causes {count}` on {processes} processes in
{seconds:.0f} s ({rate:.1f} networks a second): {networks}, of 8 to 40 marks, every
kind of cause planted once in each at 1, 1.5 and 3 times its smallest detectable size.
Left out: {left}. Shares in % with their exact 95 % intervals (Clopper and Pearson
1934).

How a fault happens: a set-up on the wrong mark is {set-up on wrong mark}; a known
mark's plan is off {known mark plan}; a known mark {known mark}; of a session
{session}; of a pointing {pointing}. Other kinds of three components go any way in
space, those of one are too large or too small. A reading is one of a total station.

*power*: the cause's own test is over its limit. *first group*: it is over, and the
planted cause is a member of the first group. *as printed*: or it stands beside the
first group on the screen, as a larger cause that holds the first, or as the part of it
that explains most. The two differ because the simplest cause that explains is named
first, by design: a set-up beside its mark whose distances alone disagree is a constant
of these distances first, and the set-up stands there as the larger cause. *first*: it
leads, of the surveys where, free of noise, nothing else could stand for it. *members*:
median size of the first group. *size within*: the size that is told is within its own
95 % limit.

"""
COLUMNS = ("power", "strictly", "as printed", "separable", "first", "size within")


def interval(hits, of):
    """Return the exact 95 % interval of a share (Clopper and Pearson 1934).

    Examples
    --------
    Of 0 in 10 the upper end is 1 − 0.025^(1/10) = 0.3085:

    >>> [round(float(end), 4) for end in interval(0, 10)]
    [0.0, 0.3085]
    """
    low = betaincinv(hits, of - hits + 1, 0.025) if hits else 0.0
    high = betaincinv(hits + 1, of - hits, 0.975) if hits < of else 1.0
    return low, high


def share(values):
    """Return a share of what is known, in %, with its interval; a dash for none."""
    values = [bool(value) for value in values if value is not None]
    if not values:
        return "–"
    low, high = interval(sum(values), len(values))
    mean = 100 * sum(values) / len(values)
    return f"{mean:.1f} ({100 * low:.1f}–{100 * high:.1f})"


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
    known = tally.networks
    left = {key: known[key] for key in ("no solution", "too many causes at once")}
    networks = {key: number for key, number in known.items() if key not in left}
    head = HEAD.format(
        count=count, processes=processes, seconds=seconds, rate=count / seconds,
        networks=", ".join(f"{n} of {key}" for key, n in networks.items()),
        left=", ".join(f"{n} with {key}" for key, n in left.items()), **ways,
    )  # fmt: skip
    parts = [
        _singles(tally),
        _power(tally),
        _natural(tally),
        _sentences(tally, folders),
    ]
    return head + "\n\n".join(parts) + "\n"


def _singles(tally):
    kinds = sorted({kind for kind, _ in tally.one})
    rows = [
        ["kind", "size", "surveys", "power", "first group", "as printed",
         "separable", "first", "size within", "members"],
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
    return [*cells, f"{np.median([one['members'] for one in some]):.0f}"]


def _power(tally):
    rows = [["power at 1×, claimed 80", "surveys", "share"], ["---"] * 3]
    for kind in sorted(tally.power):
        rows.append([kind, str(len(tally.power[kind])), share(tally.power[kind])])
    everything = [one for values in tally.power.values() for one in values]
    rows.append(["all", str(len(everything)), share(everything)])
    return _table(rows)


def _natural(tally):
    rows = [
        ["at its natural size", "surveys", "solved", "found", "first group", "first"],
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
        strictly, printed = (share(seen[k] for seen in apart) for k in (0, 1))
        middle = np.median([seen[2] for seen in some])
        said.append(
            f"{('', '', 'Two', 'Three')[count]} faults at 3× ({len(apart)} surveys in "
            f"which, free of noise, no single other cause could stand for all, of "
            f"{len(some)}): all in the accepted causes or their groups in {strictly}; "
            f"so, or as a larger cause beside one, in {printed}. Of all "
            f"{len(some)}: {share(seen[1] for seen in some)}. Median {middle:.0f} "
            "causes accepted."
        )
    said.append(
        "Textbook snooping by single components, a vector at fault at 1.5×: the "
        f"largest component is of that vector in {share(tally.snooped)} of "
        f"{len(tally.snooped)}."
    )
    same, named, of = folders
    said.append(
        f"Through a folder and `brasscap suspects --json`, the examples with a height, "
        f"vector, direction or run at fault: the same, number for number, as in one "
        f"process in {same} of {of}; the thing at fault is named in the first group "
        f"or beside it in {named}."
    )
    return "\n\n".join(said)
