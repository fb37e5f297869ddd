"""What was set as a goal, what was counted, and whether it is met."""

import numpy as np
from shares import meets, share
from tally import SIZES

LEAST_A_KIND, LEAST_IN_ALL, SECONDS = 300, 2000, 600
HEAD = """\
A share is *met* where its whole 95 % interval keeps the goal, *not met* where none of
it does, *open* where the limit lies within it. Of every kind of cause, one kind in
twenty misses its limit by chance even where it is kept.
"""


def goals(tally, count, processes, seconds, folders):
    """Return the goals as rows: words, what was counted, verdict."""
    made = [["goal", "counted", "verdict"], ["---"] * 3]
    made.append(_time(count, processes, seconds))
    made += _clean(tally)
    made += _surveys(tally)
    made += _named(tally)
    made += _every_kind(tally)
    made += _several(tally)
    same, _, of = folders
    said = "met" if same == of >= 40 else "not met"
    made.append(
        ["40 surveys through folder and command alike", f"{same} of {of}", said]
    )
    return made


def _time(count, processes, seconds):
    goal = "2,000 networks in 10 minutes at most, on two processes"
    said = f"{count} on {processes} in {seconds:.0f} s"
    if (count, processes) != (2000, 2):
        return [goal, said, "not measured"]
    return [goal, said, "met" if seconds <= SECONDS else "not met"]


def _clean(tally):
    rejected, _, fails = zip(*tally.clean, strict=True)
    return [
        ["clean: variance factor outside its limits in 5 ± 1 %", share(rejected),
         meets(rejected, 0.04, 0.06)],
        ["clean: any cause fails in 5 % at most", share(fails), meets(fails, 0, 0.05)],
    ]  # fmt: skip


def _surveys(tally):
    made = []
    for size in SIZES:
        of = {kind: len(seen) for (kind, s), seen in tally.one.items() if s == size}
        fewest = min(of, key=of.get)
        enough = of[fewest] >= LEAST_A_KIND and sum(of.values()) >= LEAST_IN_ALL
        goal = f"at {size}×: 300 surveys of every kind at least, 2,000 in all"
        said = f"{of[fewest]} of {fewest}, {sum(of.values())} in all"
        made.append([goal, said, "met" if enough else "not met"])
    return made


def _named(tally):
    some = [seen for (_, size), all_ in tally.one.items() if size == 1.5
            for seen in all_]  # fmt: skip
    named, alike = ([one[key] for one in some] for key in ("named", "alike"))
    first = [one["first"] for one in some if one["separable"]]
    names = np.median([one["names"] for one in some])
    return [
        ["at 1.5×: named in the first group in 99 % at least", share(named),
         meets(named, 0.99)],
        ["at 1.5×: 2 names in the first group at most, median", f"{names:.0f}",
         "met" if names <= 2 else "not met"],
        ["at 1.5×: named there and not nested with its first", share(alike), "no goal"],
        ["at 1.5×: first in 90 % at least of those separable", share(first),
         meets(first, 0.90)],
    ]  # fmt: skip


def _every_kind(tally):
    sizes = {}
    for (kind, _), seen in tally.one.items():
        sizes.setdefault(kind, []).extend(one["size within"] for one in seen)
    sizes = {kind: values for kind, values in sizes.items() if set(values) - {None}}
    return [
        _of_kinds("power of 80 ± 3 % at the size of its own test, every kind",
                  tally.power, 0.77, 0.83),
        _of_kinds("power of 80 ± 3 % at the printed size, every kind with one",
                  tally.printed, 0.77, 0.83),
        _of_kinds("size within its own 95 % limits in 95 ± 2 %, every kind",
                  sizes, 0.93, 0.97),
    ]  # fmt: skip


def _of_kinds(goal, values, least, most):
    pooled = share(one for some in values.values() for one in some)
    by = {"met": [], "open": [], "not met": []}
    for kind in sorted(values):
        by[meets(values[kind], least, most)].append(kind)
    said = [f"all {pooled}", f"met by {len(by['met'])} of {len(values)} kinds"]
    said += [f"{verdict}: {', '.join(by[verdict])}"
             for verdict in ("open", "not met") if by[verdict]]  # fmt: skip
    worst = "not met" if by["not met"] else "open" if by["open"] else "met"
    return [goal, "; ".join(said), worst if values else "not measured"]


def _several(tally):
    named, alike = ([seen[key] for seen in tally.several[2]] for key in (0, 1))
    return [
        ["two faults at 3×: both named in 90 % at least", share(named),
         meets(named, 0.90)],
        ["two faults at 3×: both named and not nested with the first of their group",
         share(alike), "no goal"],
    ]  # fmt: skip
