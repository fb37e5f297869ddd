"""How the arithmetic grows with the network, and what general libraries take.

    python3 tests/benchmarks/scale.py                        up to 5 000 marks
    python3 tests/benchmarks/scale.py --most 1000000         all sizes: about an hour
    python3 tests/benchmarks/scale.py --most 200000 --update also writes SCALE.md

Each measurement is a process of its own with one BLAS thread; seconds are those of the
processor, so that a busy machine does not count. Numeric
phase alone: sum the normal matrix, factor, solve, all covariances of marks and of the
ends of every observation; the analysis, once a network, stands beside. Whole: from
arrays to positions, all covariances, all tests. Peak memory is what a process took on
top of the network. Peers come with ``pip install -e '.[benchmark]'``; one that is not
there is passed over, in words. Exit code 1 where a ratio is under its goal. No part of
the everyday tests.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from scale_page import Found, rows_of, written

HERE = Path(__file__).parent
TABLE = HERE / "SCALE.md"
SIZES = (60, 500, 5_000, 50_000, 200_000, 1_000_000)
GOALS = {
    "statsmodels": {60: 50, 500: 300},
    "least_squares": {60: 80, 500: 20},
    "pyceres": {60: 12, 500: 10},
    "gtsam": {60: 8, 500: 5, 5_000: 3},
    "splu": {5_000: 0.8, 50_000: 1.5, 200_000: 2},
    "takahashi": {5_000: 1.5, 50_000: 5, 200_000: 8},
    "assembled": {60: 1},
    "cholmod": {
        500: 1 / 8,
        5_000: 1 / 4,
        50_000: 1 / 3.5,
        200_000: 1 / 2.5,
        1_000_000: 1 / 1.5,
    },
}
"""Peer's time over ours, at least."""
CALLED = {
    "statsmodels": "statsmodels GLS",
    "least_squares": "scipy least_squares + covariance",
    "pyceres": "pyceres covariance",
    "gtsam": "gtsam marginals",
    "splu": "scipy splu, factor + solve only",
    "takahashi": "CHOLMOD (cvxopt) factor + solve + Takahashi (numba)",
    "assembled": "bare CHOLMOD (cvxopt) with its assembly, no covariances",
    "cholmod": "bare CHOLMOD (cvxopt) factor + solve, no covariances",
}


def memory() -> float:
    """Return the largest memory of this process so far, GB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e9


def timed(work: Callable[[], Any], rounds: int) -> tuple[float, Any]:
    """Return the least seconds of some rounds, and what the last one gave.

    What takes no time is done more often, until a tenth of a second has passed.
    """
    best, total = np.inf, 0.0
    while rounds > 0 or total < 0.1:
        start = time.process_time()
        made = work()
        seconds = time.process_time() - start
        best, total, rounds = min(best, seconds), total + seconds, rounds - 1
    return best, made


def rounds_at(marks: int) -> int:
    """Return how often anything is timed at least: ours and peers' alike."""
    return 5 if marks < 1000 else 2 if marks < 100_000 else 1


def dgemm_rate() -> float:
    """Return floating-point operations a second of a large matrix product."""
    size = 1500
    a = np.random.default_rng(0).standard_normal((size, size))
    seconds, _ = timed(lambda: a @ a, 3)
    return float(2 * size**3 / seconds)


def numeric(marks: int, kind: str, set_ups: bool) -> dict[str, float]:
    """Return the seconds of each phase of the arithmetic alone."""
    from brasscap.adjust.datum import datum
    from brasscap.adjust.elimination import elimination
    from brasscap.adjust.equations import equations
    from brasscap.adjust.nodes import nodes_at
    from brasscap.adjust.normal import right_side, whiten
    from brasscap.adjust.unknowns import unknown_columns

    network = observed(marks, kind, set_ups)
    hold = datum(network, "constrained")
    columns = unknown_columns(network, hold)
    nodes = nodes_at(network, network.marks.approximate)
    system = equations(network, hold, nodes)
    rows = [batch for some in system for batch in whiten(some, columns)]
    right = right_side(rows, int(columns.max()) + 1)
    rounds = rounds_at(marks)
    import scipy.sparse.csgraph  # noqa: F401 - loaded once a process, not a network

    before = memory()
    at = (network, hold, nodes, columns, system, rows)
    analysis, solver = timed(lambda: elimination(*at), 1)
    # Once more for what the plan remembers from its first use.
    solver.matrix(rows)
    assembly, matrix = timed(lambda: solver.matrix(rows), rounds)
    factoring, factor = timed(lambda: solver.factor(rows, matrix, None), rounds)
    solving, _ = timed(lambda: factor.solve(right), rounds)
    # A copy of a factor knows no inverse yet.
    inverting, _ = timed(lambda: replace(factor).inverse, rounds)
    flops = solver.plan.statistics.flops if solver.plan else solver.count**3 / 3
    rate = dgemm_rate()
    return {
        "analysis": analysis,
        "assembly": assembly,
        "factor": factoring,
        "solve": solving,
        "covariances": inverting,
        "numeric": assembly + factoring + solving + inverting,
        "flops": flops,
        "of dgemm": flops / factoring / rate,
        "memory": memory() - before,
    }


def whole(marks: int, kind: str, set_ups: bool) -> dict[str, float]:
    """Return the seconds from arrays to positions, covariances and tests."""
    from brasscap.adjust import estimate
    from brasscap.adjust.judge import blunder_tests
    from brasscap.adjust.precision import mark_precision

    network = observed(marks, kind, set_ups)
    before = memory()
    adjusting, made = timed(lambda: estimate(network), 1)
    covariances, precision = timed(lambda: mark_precision(made), 1)
    testing, tests = timed(lambda: blunder_tests(made), 1)
    redundancy = float(np.nansum(tests.redundancy))
    assert abs(redundancy - made.degrees_of_freedom) < 1e-5 * redundancy
    assert np.isfinite(precision.semi_major).all()
    return {
        "adjusting": adjusting,
        "ellipses": covariances,
        "tests": testing,
        "whole": adjusting + covariances + testing,
        "memory": memory() - before,
    }


def observed(marks: int, kind: str, set_ups: bool) -> Any:
    from brasscap.networks.simulate import simulate
    from brasscap.networks.simulate.country import country

    return simulate(country(marks, kind, set_ups=set_ups), seed=1)


def process(*arguments: str) -> dict[str, Any]:
    """Return what a process of its own prints; words where it could not."""
    threads = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
    done = subprocess.run(
        [sys.executable, *arguments],
        env=os.environ | threads,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        last = (done.stderr.strip().splitlines() or ["no word why"])[-1]
        return {"missing": last[:100]}
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def cases(most: int) -> list[tuple[int, str, bool]]:
    """Return size, kind and whether with set-ups, the small ones first."""
    sizes = [size for size in SIZES if size <= most]
    kinds = (("uniform", False), ("clustered", False), ("uniform", True))
    return [(size, kind, stood) for size in sizes for kind, stood in kinds]


def peers(found: Found, most: int) -> tuple[list[str], bool]:
    """Return the table of ratios, and whether every goal is met."""
    sizes = [size for size in SIZES if size <= most]
    lines = [
        f"| peer | {' | '.join(map(str, sizes))} |",
        f"|{'---|' * (1 + len(sizes))}",
    ]
    met = True
    for name, goals in GOALS.items():
        cells = []
        for size in sizes:
            if size not in goals:
                cells.append("")
                continue
            one = process(str(HERE / "scale_peers.py"), name, str(size), "uniform")
            if "missing" in one:
                cells.append(f"not measured: {one['missing']}")
                continue
            ours = found[size, "uniform", False]["numeric"]
            ratio = one["seconds"] / ours
            met &= ratio >= goals[size]
            cells.append(f"{ratio:.2f} (goal {goals[size]:.2g})")
            print(name, size, cells[-1], f"residual {one['residual']:.0e}", flush=True)
        lines.append(f"| {CALLED[name]} | {' | '.join(cells)} |")
    return lines, met


def orders(most: int) -> list[str]:
    """Return the table of operations over those of METIS's order."""
    lines = ["| marks | network | as fronts | column by column |", "|---|---|---|---|"]
    for size, kind, stood in cases(most):
        at = (str(size), kind, str(int(stood)))
        one = process(str(HERE / "scale_order.py"), *at)
        cells = [one["missing"], ""] if "missing" in one else []
        cells = cells or [f"{one[name]:.2f}" for name in ("fronts", "columns")]
        words = kind + (", set-ups" if stood else "")
        lines.append(f"| {size} | {words} | {' | '.join(cells)} |")
        print(lines[-1], flush=True)
    return lines


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--most", type=int, default=5000, help="marks, at most")
    parser.add_argument("--peers-most", type=int, help="marks, at most, for peers")
    parser.add_argument("--update", action="store_true", help="write SCALE.md")
    parser.add_argument("--once", nargs=4, help="this process: what, marks, kind, 0/1")
    arguments = parser.parse_args()
    if arguments.once:
        what, marks, kind, stood = arguments.once
        work = {"numeric": numeric, "whole": whole}[what]
        print(json.dumps(work(int(marks), kind, stood == "1")))
        return 0
    found: Found = {}
    for size, kind, stood in cases(arguments.most):
        at = (str(size), kind, str(int(stood)))
        one = process(__file__, "--once", "numeric", *at)
        other = process(__file__, "--once", "whole", *at)
        if "memory" in other:
            other["whole memory"] = other.pop("memory")
        found[size, kind, stood] = one | other
        print("\n".join(rows_of({(size, kind, stood): found[size, kind, stood]})[2:]))
        sys.stdout.flush()
    most = arguments.most if arguments.peers_most is None else arguments.peers_most
    table, met = peers(found, min(most, arguments.most))
    text = written(found, table, orders(min(most, arguments.most)))
    print(text)
    if arguments.update:
        TABLE.write_text(text, encoding="utf-8")
    return int(not met)


if __name__ == "__main__":
    sys.exit(main())
