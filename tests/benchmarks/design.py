"""How long very many candidates take to look at, against one solution.

    python tests/benchmarks/design.py              measure and print
    python tests/benchmarks/design.py --update     also add a line to SCREEN.md

A network of 60 marks in a square, each with vectors to its nearest, set-ups exact: 180
unknowns. Its normal matrix is solved and inverted dense, the unit of what follows; then
10 000 vectors between random marks are screened (what each gains in the weighted sum of
the pairs' variances, exactly), and the 500 best get the full worth: failures of the
specification, what becomes checked, smallest detectable blunders, worst pair. Goals 15
and 100.

Then 5 000 marks of ``country``, 2.75 vectors a mark, and 10 000 vectors to near marks
that nobody observed: all screened exactly, from the plan of the elimination to the
gains, over one factorisation of that network. Goal 20. A miss is exit code 1. Seconds
of the processor, the minimum of five, in turn. It takes a quarter of a minute.
"""

import argparse
import os
import platform
import subprocess
import sys
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy.linalg import lapack
from scipy.spatial import cKDTree

from brasscap.adjust import estimate
from brasscap.adjust.design import scores, state_of, vector
from brasscap.adjust.design.screen import inner_of, vector_gains
from brasscap.adjust.design.screen_sparse import screened_sparse
from brasscap.adjust.elimination import elimination
from brasscap.adjust.judge import hypotheses
from brasscap.adjust.normal import normal_matrix
from brasscap.networks.neighbours import observed_pairs
from brasscap.networks.planning import Planned, with_planned
from brasscap.networks.simulate import undisturbed
from brasscap.networks.simulate.country import country

HERE = Path(__file__).parent
TABLE = HERE / "SCREEN.md"
sys.path.insert(0, str(HERE.parent / "validation"))
from order import bare  # noqa: E402

MARKS, CANDIDATES, BEST, ROUNDS, LARGE = 60, 10_000, 500, 5, 5000
GOALS = (15.0, 100.0, 20.0)


def network():
    """Return an adjustment of 60 marks and the state that candidates are held to."""
    random = np.random.default_rng(60)
    places = np.column_stack(
        [random.uniform(0, 5000, (MARKS, 2)), random.uniform(50, 90, MARKS)]
    )
    far = np.linalg.norm(places[:, None] - places, axis=2)
    lines = {tuple(sorted((k, int(j)))) for k in range(MARKS)
             for j in np.argsort(far[k])[1:4]}  # fmt: skip
    lines |= {(int(np.argmin(far[k, :k])), k) for k in range(1, MARKS)}
    work = [
        Planned(f"V{k}", "baseline", line, (0.003, 0.006), (0.0, 0.0))
        for k, line in enumerate(sorted(lines))
    ]
    made = estimate(undisturbed(with_planned(bare(places), work, places)))
    ends = observed_pairs(made.network)
    limit = np.full((len(ends), 2), 0.009)
    causes = hypotheses.observations(made)
    state = state_of(made, ends, limit, np.full((len(ends), 2), 2.0), causes)
    return made, state


def measure():
    """Return seconds of solution, screen and full worth; and sizes in words."""
    made, state = network()
    random = np.random.default_rng(1)
    pairs = np.array([random.permutation(MARKS)[:2] for _ in range(CANDIDATES)])
    noise = np.broadcast_to(np.diag([9e-6, 9e-6, 36e-6]), (CANDIDATES, 3, 3)).copy()
    matrix = normal_matrix(made.whitened, made.unknowns_count)
    right = np.ones(len(matrix))

    def solve():
        lower, _ = lapack.dpotrf(matrix, lower=1)
        lapack.dpotrs(lower, right, lower=1)
        lapack.dpotri(lower, lower=1)

    def screen():
        inner = inner_of(state)
        return vector_gains(state.covariance, inner, pairs[:, 0], pairs[:, 1], noise)

    best = np.argsort(-screen())[:BEST]
    some = [vector(made, *pairs[k].tolist(), (0.003, 0.006), (0.0, 0.0)) for k in best]
    works = (solve, screen, lambda: scores(state, some))
    sizes = (
        f"{len(matrix)} unknowns, {len(state.ends)} pairs, {len(state.share)} causes"
    )
    return in_turn(works), sizes


def in_turn(works):
    """Return the least processor seconds of each, all run in turn."""
    times = [[np.inf] for _ in works]
    for _ in range(ROUNDS):
        for work, own in zip(works, times, strict=True):
            start = time.process_time()
            work()
            own.append(time.process_time() - start)
    return [min(own) for own in times]


def measure_large():
    """Return seconds of one factorisation and of the screen; and sizes in words."""
    made = estimate(undisturbed(country(LARGE)), "constrained")
    ends = observed_pairs(made.network)
    limit, scale = np.full((len(ends), 2), 0.009), np.full((len(ends), 2), 2.0)
    some = [
        vector(made, *pair, (0.003, 0.006), (0.0, 0.0)) for pair in near(made, ends)
    ]
    at = (made.network, made.datum, made.nodes, made.columns)
    solver = elimination(*at, made.equations, made.whitened, arithmetic="sparse")
    matrix = solver.matrix(made.whitened)
    works = (
        lambda: solver.factor(made.whitened, matrix, None),
        lambda: screened_sparse(made, ends, limit, scale, some),
    )
    sizes = f"{solver.count} unknowns, {len(ends)} pairs, {len(some)} candidates"
    return in_turn(works), sizes


def near(made, ends):
    """Return the nearest pairs of marks that nobody observed."""
    places = made.nodes.xyz[:LARGE]
    far, other = cKDTree(places).query(places, 15)
    there = {tuple(sorted(pair)) for pair in ends.tolist()}
    pairs = {
        tuple(sorted((mark, int(other[mark, k])))): far[mark, k]
        for mark in range(LARGE)
        for k in range(1, 15)
    }
    return sorted(pairs.keys() - there, key=pairs.get)[:CANDIDATES]


def main(words):
    parser = argparse.ArgumentParser()
    parser.add_argument("--update", action="store_true")
    asked = parser.parse_args(words)
    (solved, screened, full), sizes = measure()
    (factored, sparse), large = measure_large()
    ratios = screened / solved, full / solved, sparse / factored
    print(sizes)
    print(f"solve and invert  {1000 * solved:.2f} ms")
    print(f"screen {CANDIDATES}      {1000 * screened:.1f} ms, {ratios[0]:.1f} times")
    print(f"full worth {BEST}   {1000 * full:.1f} ms, {ratios[1]:.1f} times")
    print(large)
    print(f"factor            {1000 * factored:.1f} ms")
    print(f"screen {CANDIDATES}      {1000 * sparse:.0f} ms, {ratios[2]:.1f} times")
    if asked.update:
        commit = subprocess.run(
            ["git", "log", "-1", "--format=%cs %h"],
            capture_output=True, text=True, check=True, cwd=HERE,
        ).stdout.strip()  # fmt: skip
        machine = (
            f"{platform.python_version()}, {platform.machine()}, numpy {np.__version__}"
        )
        line = (
            f"| {commit} | {machine} | {1000 * solved:.2f} | {ratios[0]:.1f} "
            f"({1000 * screened:.1f}) | {ratios[1]:.1f} ({1000 * full:.0f}) | "
            f"{1000 * factored:.1f} | {ratios[2]:.1f} ({1000 * sparse:.0f}) |\n"
        )
        with TABLE.open("a", encoding="utf-8") as file:
            file.write(line)
    return int(any(r > goal for r, goal in zip(ratios, GOALS, strict=True)))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
