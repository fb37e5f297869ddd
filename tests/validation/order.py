"""Is the order of work near the best? Small jobs against every set of candidates.

    python tests/validation/order.py [JOBS]

Off by default: takes a minute or two. Each job is an invented network of 6 to 8 marks
with a tree of vectors and a few more, so that some blunders cannot be seen and some
pairs fail; nine candidates cost the same. At each length up to four the set that the
order begins with is held against the best of all sets of that length, by one scalar:
the worth of ``adjust.design.worth`` from before to after, which does not depend on the
order within a set. Two habits are judged alike: nearest first, longest line first.
Writes ORDER.md; exit code 1 if the mean falls below 98 % or one job below 85 %.
"""

import sys
from itertools import combinations
from pathlib import Path

import numpy as np

from brasscap.adjust import estimate
from brasscap.adjust.design import (
    Choice,
    choose,
    gained,
    levelling,
    observed,
    state_of,
    vector,
)
from brasscap.adjust.judge import hypotheses
from brasscap.adjust.precision.relative import relative
from brasscap.networks import (
    KnownMarks,
    LocalFrame,
    Marks,
    Network,
    Positions,
    SetUps,
    Vectors,
)
from brasscap.networks.covariances import single
from brasscap.networks.neighbours import observed_pairs
from brasscap.networks.planning import Planned, with_planned
from brasscap.networks.simulate import undisturbed

HERE = Path(__file__).parent
CANDIDATES, LONGEST = 9, 4
STAND = (0.001, 0.0015)
MEAN, WORST = 0.98, 0.85


def bare(places):
    """Return marks alone, the first of them held, nothing observed."""
    count = len(places)
    words, none = ("",) * count, np.zeros(0, dtype=np.int64)
    empty, no, nowhere = np.zeros(0), np.zeros(0, dtype=bool), np.zeros((0, 3))
    one = np.zeros(1, dtype=np.int64)
    names = tuple(f"M{k}" for k in range(count))
    return Network(
        LocalFrame(),
        Marks(names, places, words, words, np.arange(count)),
        SetUps(
            (), none, (), none, empty, np.zeros((0, 2)), empty, empty, (), (), (), none
        ),
        Vectors((), none, none, nowhere, empty, empty, (), none, none, no, none),
        Positions((), none, nowhere, empty, nowhere.astype(bool), (), none, no, none),
        KnownMarks(
            one, places[:1], np.ones((1, 3), dtype=bool), ("held",), ("held",),
            single(np.full((1, 3, 3), np.nan)), ("",), np.ones(1, dtype=bool), one,
        ),
    )  # fmt: skip


def job(number):
    """Return the state of an invented job, its candidates, and where marks are."""
    random = np.random.default_rng([number, 4711])
    count = int(random.integers(6, 9))
    places = np.column_stack(
        [random.uniform(0, 2000, (count, 2)), random.uniform(50, 90, count)]
    )
    lines = [(int(random.integers(k)), k) for k in range(1, count)]
    more = int(random.integers(1, count - 2))
    lines += [tuple(random.permutation(count)[:2].tolist()) for _ in range(more)]
    work = [
        Planned(f"V{k}", "baseline", line, sds(places, line), STAND)
        for k, line in enumerate(lines)
    ]
    adjustment = estimate(undisturbed(with_planned(bare(places), work, places)))
    causes = [*hypotheses.observations(adjustment), *hypotheses.set_ups(adjustment)]
    ends = observed_pairs(adjustment.network)
    scale = np.full((len(ends), 2), 2.0)
    share = relative(adjustment, ends).covariance
    size = np.sqrt(share[:, [0, 2], [0, 2]])
    limit = 2.4 * np.quantile(size, random.uniform(0.4, 1.0), axis=0)
    state = state_of(adjustment, ends, np.tile(limit, (len(ends), 1)), scale, causes)
    return state, candidates(random, adjustment, places), places


def sds(places, line):
    """Return what a vector is worth, m: plan and height."""
    length = float(np.linalg.norm(places[line[1]] - places[line[0]]))
    return 0.002 + 1e-6 * length, 0.004 + 2e-6 * length


def candidates(random, adjustment, places):
    """Return nine things to do: vectors mostly, some levelling runs."""
    made, seen = [], set()
    while len(made) < CANDIDATES:
        start, end = sorted(random.permutation(len(places))[:2].tolist())
        run = random.random() < 0.25
        if (start, end, run) in seen:
            continue
        seen.add((start, end, run))
        if run:
            length = np.linalg.norm(places[end] - places[start])
            sd = 0.002 * float(length / 1000) ** 0.5
            made.append(levelling(adjustment, start, end, sd))
        else:
            sd = sds(places, (start, end))
            made.append(vector(adjustment, start, end, sd, STAND))
    return made


def worth_of(state, some):
    """Return the worth of a set of candidates, done in any order."""
    after = state
    for one in some:
        after = observed(after, one)
    return float(gained(state, after).worth()[0])


def shares(number):
    """Return, by way and length, the share of the best set's worth."""
    state, offers, places = job(number)
    found = choose(state, Choice(offers), LONGEST)
    order = [step.candidate for step in found]
    far = [np.linalg.norm(np.subtract(*places[list(o.marks[:2])])) for o in offers]
    ways = {
        "the order": order,
        "nearest first": np.argsort(far, kind="stable").tolist(),
        "longest line first": np.argsort(far, kind="stable")[::-1].tolist(),
    }
    made = {way: [] for way in ways}
    for length in range(1, LONGEST + 1):
        best = max(
            worth_of(state, [offers[k] for k in some])
            for some in combinations(range(CANDIDATES), length)
        )
        for way, some in ways.items():
            if best < 1e-6:
                made[way].append(1.0)
                continue
            worth = worth_of(state, [offers[k] for k in some[:length]])
            made[way].append(worth / best)
    return made


def tally(jobs):
    """Return, by way, shares of all jobs, (jobs, 4)."""
    every = [shares(number) for number in range(jobs)]
    return {way: np.array([one[way] for one in every]) for way in every[0]}


def page(found, jobs):
    """Return ORDER.md."""
    head = (
        f"# Is the order near the best?\n\nMade by `python tests/validation/order.py "
        f"{jobs}`: {jobs} invented jobs of 6 to 8 marks, {CANDIDATES} candidates of "
        "equal cost, the first\none to four of each way against the best of all sets "
        "of that length; worth as the tool\ncounts it: a failure of the specification "
        "1000, a blunder that nothing checks 100, then\nlogarithms of smallest "
        "detectable blunder (1) and worst pair (0.1).\n\n| way | length | mean share "
        "of the best | worst | jobs at the best |\n|---|---|---|---|---|\n"
    )
    rows = []
    for way, values in found.items():
        for k in range(LONGEST):
            own = values[:, k]
            best = np.mean(own > 1 - 1e-9)
            rows.append(
                f"| {way} | {k + 1} | {100 * own.mean():.1f} % | "
                f"{100 * own.min():.1f} % | {100 * best:.0f} % |"
            )
    order = found["the order"]
    words = [
        "\nThe counts of failures and of unchecked blunders make up nearly all of "
        "these shares; what\nis left of a hundred is in sizes.\n\n"
        f"All lengths together: mean {100 * order.mean():.2f} % (asked for: "
        f"{100 * MEAN:.0f} %), worst {100 * order.min():.1f} % (asked for: "
        f"{100 * WORST:.0f} %)."
    ]
    for way in list(found)[1:]:
        ahead = 100 * (order.mean() - found[way].mean())
        words.append(f"Ahead of *{way}* by {ahead:.0f} % of the best on average.")
    return head + "\n".join([*rows, *words]) + "\n"


def main(words):
    jobs = int(words[0]) if words else 200
    found = tally(jobs)
    text = page(found, jobs)
    print(text)
    if not words:
        (HERE / "ORDER.md").write_text(text, "utf-8")
    order = found["the order"]
    return int(order.mean() < MEAN or order.min() < WORST)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
