"""How long 100 000 mixed observations take to assemble, against 3 × 3 factors.

    python3 tests/benchmarks/assembly.py             measure and print
    python3 tests/benchmarks/assembly.py --update    also add a line to ASSEMBLY.md

Assembly is what an iteration does before it solves: misclosures, partials, whitening
by each covariance, and each observation's part of the normal equations, in a geodetic
frame (not the sum of these parts in a dense matrix, nor the axes at the marks, which
are laid once an iteration). It is set against the time that numpy takes for as many
Cholesky factors of 3 × 3 matrices; both in one run on one processor, in turn, the
minimum of ten.

Twice: with the memory that arrays leave kept by the process, and given back to the
system, glibc's way, which then hands it out again a page at a time. That costs nearly
nothing on bare metal and a third of the time on some virtual machines. A ratio over 3
with memory kept ends in exit code 1. Takes some seconds; no part of the everyday tests.
Needs the tool installed (``pip install -e .``).
"""

import argparse
import os
import platform
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from brasscap.adjust.datum import datum
from brasscap.adjust.equations import each_kind
from brasscap.adjust.nodes import nodes_at
from brasscap.adjust.normal import contributions, whiten
from brasscap.adjust.unknowns import unknown_columns
from brasscap.networks import (
    GeodeticFrame,
    KnownMarks,
    Levels,
    Marks,
    Network,
    Parameters,
    Positions,
    SetUps,
    Sights,
    Vectors,
)
from brasscap.networks.covariances import single

HERE = Path(__file__).parent
TABLE = HERE / "ASSEMBLY.md"
ROUNDS = 10
GOAL = 3.0
KEPT = str(256 * 2**20)
"""Bytes that glibc keeps at hand instead of giving them back."""
COUNT = 100_000
SIDE = 100
"""Marks stand in a grid of 100 by 100, 200 m apart, each under one set-up: these are
10 000 of the observations."""
VECTORS = 20_000
READINGS = {"direction": 25_000, "zenith angle": 18_000, "slope distance": 17_000}
RUNS = 10_000
ORIENTATIONS = 5_000
ARCSEC = np.pi / 180 / 3600


def neighbours(rng: np.random.Generator, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return count pairs of marks some rows and columns of the grid apart."""
    start = rng.integers(0, SIDE, (count, 2))
    step = rng.integers(1, 4, (count, 2))
    end = np.where(start + step < SIDE, start + step, start - step)
    return start @ [SIDE, 1], end @ [SIDE, 1]


def make_network() -> Network:
    """Return 100 000 observations of 10 000 marks and as many set-ups."""
    rng = np.random.default_rng(100)
    frame = GeodeticFrame(6319, 2010.0)
    origin = frame.cartesian(np.array([[47.0, 8.0, 500.0]]))
    rows, columns = np.divmod(np.arange(SIDE**2), SIDE)
    local = np.stack([200.0 * columns, 200.0 * rows, rng.uniform(0, 50, SIDE**2)], 1)
    places = origin + local @ frame.axes(origin)[0]
    marks = SIDE**2
    height = rng.uniform(1.3, 1.7, marks)
    parameters = np.append(np.full(ORIENTATIONS, np.nan), 0.13)
    return Network(
        frame,
        Marks(blank(marks), places, blank(marks), blank(marks), np.arange(marks)),
        make_set_ups(height),
        make_vectors(rng, marks, height),
        no_positions(),
        first_mark_held(places),
        sights=tuple(make_sights(rng, kind, marks, height) for kind in READINGS),
        levels=make_levels(rng),
        parameters=Parameters(
            blank(ORIENTATIONS + 1),
            (*("orientation",) * ORIENTATIONS, "refraction"),
            np.nan_to_num(parameters),
            np.append(np.full(ORIENTATIONS, np.nan), 0.1),
        ),
    )


def blank(count: int) -> tuple[str, ...]:
    return ("",) * count


def make_set_ups(height: np.ndarray) -> SetUps:
    count = len(height)
    names = blank(count)
    return SetUps(
        names, np.arange(count), names, np.full(count, -1), height,
        np.zeros((count, 2)), np.full(count, 1e-3), np.full(count, 1.5e-3), names,
        names, names, np.arange(count),
    )  # fmt: skip


def make_vectors(rng: np.random.Generator, marks: int, height: np.ndarray) -> Vectors:
    start, end = neighbours(rng, VECTORS)
    mix = rng.normal(size=(VECTORS, 3, 6))
    covariance = 9e-6 * (mix @ mix.swapaxes(1, 2) / 6 + 0.2 * np.eye(3))
    none = np.full(VECTORS, -1)
    return Vectors(
        blank(VECTORS), marks + start, marks + end, rng.normal(size=(VECTORS, 3)),
        height[start], height[end], single(covariance), none, none,
        np.ones(VECTORS, dtype=bool), np.arange(VECTORS),
    )  # fmt: skip


def make_sights(
    rng: np.random.Generator, kind: str, marks: int, height: np.ndarray
) -> Sights:
    count = READINGS[kind]
    at, to = neighbours(rng, count)
    parameter = np.full((count, 2), -1)
    if kind == "direction":
        parameter[:, 0] = at % ORIENTATIONS
    elif kind == "zenith angle":
        parameter[:, 0] = ORIENTATIONS
    length = kind == "slope distance"
    return Sights(
        kind, blank(count), marks + at, marks + to, np.full(count, -1), height[at],
        height[to], np.zeros(count), rng.uniform(0, 3, count),
        np.full(count, 2e-3 if length else 3 * ARCSEC), parameter,
        np.full(count, 0.13), np.ones(count, dtype=bool), np.arange(count),
    )  # fmt: skip


def make_levels(rng: np.random.Generator) -> Levels:
    start, end = neighbours(rng, RUNS)
    geoid = np.full(RUNS, 47.0)
    return Levels(
        blank(RUNS), start, end, rng.normal(size=RUNS), np.full(RUNS, 1e-3), geoid,
        geoid, np.full((RUNS, 2), -1), np.ones(RUNS, dtype=bool), np.arange(RUNS),
    )  # fmt: skip


def no_positions() -> Positions:
    none, empty = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=bool)
    nowhere = np.zeros((0, 3))
    return Positions(
        (), none, nowhere, np.zeros(0), nowhere.astype(bool), (), none, empty, none
    )


def first_mark_held(places: np.ndarray) -> KnownMarks:
    one = np.zeros(1, dtype=np.int64)
    return KnownMarks(
        one, places[:1], np.ones((1, 3), dtype=bool), ("held",), ("held",),
        single(np.full((1, 3, 3), np.nan)), ("",), np.ones(1, dtype=bool), one,
    )  # fmt: skip


def fastest(work: list[Callable[[], object]]) -> list[float]:
    """Return the seconds of each piece of work, done in turn, the minimum of ten."""
    times = [[float("inf")] for _ in work]
    for _ in range(ROUNDS):
        for piece, own in zip(work, times, strict=True):
            start = time.perf_counter()
            piece()
            own.append(time.perf_counter() - start)
    return [min(own) for own in times]


def measure() -> tuple[float, float]:
    """Return the seconds of assembly and of as many factors of 3 × 3 matrices."""
    network = make_network()
    hold = datum(network, "constrained")
    columns = unknown_columns(network, hold)
    nodes = nodes_at(network, network.marks.approximate)
    mix = np.random.default_rng(3).normal(size=(COUNT, 3, 6))
    matrices = mix @ mix.swapaxes(1, 2)

    def assemble() -> int:
        rows = 0
        for some in each_kind(network, hold, nodes):
            for batch in whiten(some, columns):
                rows += len(contributions(batch)[0])
        return rows

    assert assemble() == COUNT + 1, assemble()
    assembly, factors = fastest([assemble, lambda: np.linalg.cholesky(matrices)])
    return assembly, factors


def in_a_process(kept: bool) -> tuple[float, float]:
    """Return the seconds of both in a process of their own."""
    memory = {"MALLOC_TOP_PAD_": KEPT} if kept else {}
    single_thread = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
    command = [sys.executable, __file__, "--once"]
    done = subprocess.run(
        command,
        env=os.environ | single_thread | memory,
        capture_output=True,
        text=True,
        check=True,
    )
    assembly, factors = map(float, done.stdout.split())
    return assembly, factors


def update(measured: dict[str, tuple[float, float]]) -> None:
    """Add a row: the ratios, and what they were measured on."""
    git = ["git", "-C", str(HERE), "log", "-1", "--format=%cs %h"]
    commit = subprocess.run(git, capture_output=True, text=True, check=True).stdout
    machine = f"{platform.python_version()}, {platform.machine()}"
    cells = [commit.strip(), f"{machine}, numpy {np.__version__}"]
    for assembly, factors in measured.values():
        times = f"{1000 * assembly:.1f} / {1000 * factors:.1f} ms"
        cells.append(f"{assembly / factors:.2f} ({times})")
    with TABLE.open("a", encoding="utf-8") as table:
        table.write(f"| {' | '.join(cells)} |\n")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--update", action="store_true", help="add to ASSEMBLY.md")
    parser.add_argument("--once", action="store_true", help="this process, seconds")
    arguments = parser.parse_args()
    if arguments.once:
        print(*measure())
        return 0
    measured = {"kept": in_a_process(True), "given back": in_a_process(False)}
    for memory, (assembly, factors) in measured.items():
        print(
            f"{COUNT} mixed observations {1000 * assembly:5.1f} ms, as many factors "
            f"{1000 * factors:5.1f} ms: {assembly / factors:.2f}, memory {memory}"
        )
    if arguments.update:
        update(measured)
    assembly, factors = measured["kept"]
    print(f"goal, memory kept: {GOAL:g}")
    return int(assembly / factors > GOAL)


if __name__ == "__main__":
    sys.exit(main())
