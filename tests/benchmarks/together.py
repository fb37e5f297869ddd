"""Many surveys of one plan adjusted one by one, all at once, and from its places.

    OPENBLAS_NUM_THREADS=1 python3 tests/benchmarks/together.py [--update]

Seconds of processor time, each three in turn in one process, the least of three.
--update also writes TOGETHER.md. No part of the everyday tests.
"""

import runpy
import sys
import time
from pathlib import Path

from brasscap.adjust import estimate, estimates
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country

HERE = Path(__file__).parent
MAKERS = runpy.run_path(str(HERE.parent / "make_examples"))
SURVEYS, ROUNDS = 60, 3
HEAD = f"""# Many small networks at once

Made by `tests/benchmarks/together.py --update`: {SURVEYS} simulated surveys of each
plan, milliseconds of processor time for one of them, one BLAS thread. *Begun*: from the
places of the plan, which spares the search for starting positions.

| plan | marks | unknowns | solution | one by one | together | ratio | begun | ratio |
|---|---|---|---|---|---|---|---|---|
"""


def plans():
    """Yield names and plans."""
    for name in MAKERS["EXAMPLES"]:
        yield name, MAKERS["planned"](name)
    for marks, stood in ((20, False), (20, True), (60, False), (150, False)):
        words = "country, set-ups" if stood else "country"
        yield words, country(marks, set_ups=stood)


def seconds(work):
    """Return the processor time of some work."""
    start = time.process_time()
    work()
    return time.process_time() - start


def row(name, plan, mode):
    """Return a row of the table."""
    some = [simulate(plan, seed=seed) for seed in range(SURVEYS)]
    begin = plan.marks.approximate
    ways = (
        lambda: [estimate(one, mode) for one in some],
        lambda: list(estimates(some, mode)),
        lambda: list(estimates(some, mode, begin=begin)),
    )
    rounds = [[seconds(way) for way in ways] for _ in range(ROUNDS)]
    alone, together, begun = (
        1000 * min(t) / SURVEYS for t in zip(*rounds, strict=True)
    )
    unknowns = int(estimate(some[0], mode).columns.max()) + 1
    return (
        f"| {name} | {len(plan.marks)} | {unknowns} | {mode} | {alone:.2f} | "
        f"{together:.2f} | {alone / together:.1f} | {begun:.2f} | {alone / begun:.1f} |"
    )


def main(words):
    """Measure, print, and write the page if asked."""
    lines = []
    for name, plan in plans():
        for mode in ("constrained", "minimal"):
            lines.append(row(name, plan, mode))
            print(lines[-1], flush=True)
    if "--update" in words:
        (HERE / "TOGETHER.md").write_text(HEAD + "\n".join(lines) + "\n", "utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
