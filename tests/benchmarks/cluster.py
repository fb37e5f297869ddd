"""What a network needs beyond one process: memory, bytes, time; measured and scaled.

    python3 tests/benchmarks/cluster.py                          5 000 and 50 000 marks
    python3 tests/benchmarks/cluster.py --sizes 200000 1000000 --update

Each measurement is a process of its own with one BLAS thread: a uniform country from
arrays to positions, all covariances and, by workers, the tests of all vectors. One
process does the same without a division. ``--update`` writes CLUSTER.md. Exit code 1
where two workers miss a goal of a size from 200 000 marks on. Needs the extra
``cluster``. No part of the everyday tests.
"""

import argparse
import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).parent
PAGE = HERE / "CLUSTER.md"
WORKERS = (0, 1, 2, 3, 4)
"""0: one process, not divided."""
GOAL_MEMORY, GOAL_WALL, FROM = 0.55, 0.8, 200_000
"""Of one process, at two workers, from this size on."""
NATION = 100_000_000
_FLOPS = 15e9
"""Of one core in a large factor, for the root of a nation; see SCALE.md."""


def used() -> dict[str, float]:
    """Return the largest memory of this process so far, MB, and its processor time."""
    words = Path("/proc/self/status").read_text().splitlines()
    peak = next(int(w.split()[1]) for w in words if w.startswith("VmHWM"))
    spent = resource.getrusage(resource.RUSAGE_SELF)
    return {"peak": peak / 1e3, "cpu": spent.ru_utime + spent.ru_stime}


def of_worker(dask_worker: Any) -> dict[str, float]:
    """Return the same of a worker, and what it has sent, MB."""
    import brasscap.adjust.cluster.tasks  # noqa: F401 - counted in the base

    return used() | {"sent": dask_worker.transfer_outgoing_bytes_total / 1e6}


def observed(marks: int) -> Any:
    from brasscap.networks.simulate import simulate
    from brasscap.networks.simulate.country import country

    return simulate(country(marks), seed=1)


def alone(marks: int) -> dict[str, Any]:
    """Return what one process needs."""
    from brasscap.adjust import estimate
    from brasscap.adjust.judge import edges

    network = observed(marks)
    start, before = time.perf_counter(), used()
    made = estimate(network)
    redundancy = edges.of_edges(made, made.equations[0])[1]
    assert np.isfinite(redundancy).all()
    seconds, after = time.perf_counter() - start, used()
    return {
        "wall": seconds,
        "peak": after["peak"],
        "before": before["peak"],
        "cpu": after["cpu"] - before["cpu"],
    }


def shared(marks: int, count: int) -> dict[str, Any]:
    """Return what a number of workers need."""
    from brasscap.adjust.cluster import estimate_in_parts
    from brasscap.io.dask_workers import local_workers
    from brasscap.io.domain_files import FolderStore

    network = observed(marks)
    begun = time.perf_counter()
    with local_workers(count) as workers, tempfile.TemporaryDirectory() as folder:
        base = workers.client.run(of_worker)
        started = time.perf_counter() - begun
        store = FolderStore(Path(folder))
        start, before = time.perf_counter(), used()
        made = estimate_in_parts(network, workers=workers, store=store)
        seconds, after = time.perf_counter() - start, used()
        ended = workers.client.run(of_worker)
        tree = made.factor.passes.tree
        own = [int((tree.owner == place).sum()) for place in tree.separators()]
        files = {
            kind: sum(p.stat().st_size for p in store.folder.glob(f"*.{kind}")) / 1e6
            for kind in ("part", "npz")
        }
    return {
        "start": started,
        "wall": seconds,
        "peak": max(one["peak"] for one in ended.values()),
        "before": max(one["peak"] for one in base.values()),
        "cpu": sum(one["cpu"] for one in ended.values())
        - sum(one["cpu"] for one in base.values()),
        "driver": after["peak"],
        "driver cpu": after["cpu"] - before["cpu"],
        "sent": sum(one["sent"] for one in ended.values()),
        "domains": len(tree.leaves),
        "shared": int((tree.owner >= 0).sum()),
        "root": own[-1],
        "read": files["part"],
        "written": files["npz"],
    }


def process(marks: int, count: int) -> dict[str, Any]:
    """Return what a process of its own measures."""
    threads = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
    done = subprocess.run(
        [sys.executable, __file__, "--once", str(marks), str(count)],
        env=os.environ | threads,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise SystemExit(done.stderr)
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


Found = dict[tuple[int, int], dict[str, Any]]
HEAD = (
    "marks", "workers", "wall (s)", "of one process", "processor time (s)",
    "peak memory of a worker (MB)", "of one process", "driver (MB)",
    "sent between workers (MB)", "files read / written (MB)", "domains",
    "unknowns shared", "of these at the root",
)  # fmt: skip


def row(found: Found, marks: int, count: int) -> str:
    """Return a measurement as a row of the table."""
    one, base = found[marks, count], found[marks, 0]
    cells = [f"{marks:,}".replace(",", " "), str(count) if count else "one process"]
    cells += [f"{one['wall']:.1f}", f"{one['wall'] / base['wall']:.2f}"]
    cells += [f"{one['cpu'] + one.get('driver cpu', 0):.1f}", f"{one['peak']:.0f}"]
    cells += [f"{one['peak'] / base['peak']:.2f}"]
    more = [""] * 6
    if count:
        more = [f"{one['driver']:.0f}", f"{one['sent']:.1f}"]
        more += [f"{one['read']:.0f} / {one['written']:.0f}"]
        more += [str(one[name]) for name in ("domains", "shared", "root")]
    return f"| {' | '.join(cells + more)} |"


def rows(found: Found) -> list[str]:
    """Return the table."""
    head = [f"| {' | '.join(HEAD)} |", f"|{'---|' * len(HEAD)}"]
    return [*head, *(row(found, *key) for key in found)]


def goals(found: Found) -> tuple[list[str], bool]:
    """Return what is said of the goals, and whether all are met."""
    lines, met = [], True
    for marks in sorted({marks for marks, _ in found}):
        base, two = found[marks, 0], found.get((marks, 2))
        if two is None:
            continue
        for word, name, goal in (
            ("peak memory of a worker", "peak", GOAL_MEMORY),
            ("wall", "wall", GOAL_WALL),
        ):
            ratio = two[name] / base[name]
            counts = marks >= FROM
            met &= ratio <= goal or not counts
            said = "met" if ratio <= goal else "not met"
            said = said if counts else "too small to count"
            lines.append(
                f"* {marks} marks, two workers: {word} {ratio:.2f} of one process "
                f"(goal {goal}: {said})"
            )
    return lines, met


def nation(found: Found) -> list[str]:
    """Return what a hundred million marks would need, and how that is reckoned."""
    marks, count = max(key for key in found if key[1])
    one = found[marks, count]
    each = (one["peak"] - one["before"]) * 1e6 * count / marks
    root = one["root"] * np.sqrt(NATION / marks)
    lines = [
        f"Reckoned from {marks} marks and {count} workers, not measured:",
        "",
        f"* a worker took {one['before']:.0f} MB to begin with and then "
        f"{each / 1e3:.1f} kB for each of its marks. A mark of a larger network takes "
        "as much where domains stay as large as here and only more are added; larger "
        "domains take a little more;",
        f"* the largest separator grows as √n: {one['root']} unknowns here, about "
        f"{root:.0f} at {NATION:.0e} marks. Its front is {8 * root**2 / 1e9:.1f} GB, "
        "twice that while its inverse is formed, and its elimination "
        f"{root**3 / 3 / _FLOPS / 60:.0f} minutes of one core at "
        f"{_FLOPS / 1e9:.0f} GFlop/s: the serial tail;",
        f"* files read by workers {one['read'] * NATION / marks / 1e6:.2f} TB, results "
        f"written by them {one['written'] * NATION / marks / 1e6:.2f} TB.",
        "",
        "| workers | marks each | memory each (GB) |",
        "|---|---|---|",
    ]
    for workers in (100, 400, 1600):
        memory = one["before"] / 1e3 + each * NATION / workers / 1e9
        lines.append(f"| {workers} | {NATION // workers} | {memory:.1f} |")
    lines += [
        "",
        "The driver does not scale so: it reads the tables, finds the start and "
        f"divides, {(one['driver']) * 1e3 / marks:.1f} kB a mark here. At a nation's "
        "size that is what would have to be divided next; until then a nation is a few "
        "million marks.",
    ]
    return lines


def written(found: Found) -> str:
    """Return the page."""
    git = ["git", "-C", str(HERE), "log", "-1", "--format=%cs %h"]
    commit = subprocess.run(git, capture_output=True, text=True, check=False).stdout
    machine = f"{platform.machine()}, {os.cpu_count()} cores"
    python = f"Python {platform.python_version()}, numpy {np.__version__}"
    load = os.getloadavg()[1]
    return "\n".join(
        [
            "# What a nation needs: networks beyond one process",
            "",
            "Made by `python3 tests/benchmarks/cluster.py --update`; one BLAS thread, "
            f"{machine}, {python}, {commit.strip()}, load of the machine {load:.1f} "
            "(where it is above the number of cores, times say little).",
            "",
            "A uniform country of vectors, 2.75 a mark, from arrays to positions, all "
            "covariances and the tests of all vectors. Peak memory is all a process "
            "holds, its libraries and, in one process, the network too. Time without "
            "starting the workers, which takes a few seconds.",
            "",
            *rows(found),
            "",
            "## Goals",
            "",
            *goals(found)[0],
            "",
            "## A hundred million marks",
            "",
            *nation(found),
            "",
            "## A million marks",
            "",
            "A million marks, measured once apart from the table (2026-11-26, `--once "
            "1000000 0` and `2`, nothing else at work): one process 88.8 s and 7.12 "
            "GB, 1.56 of it the network; two workers 63.1 s, 0.71 of it (goal 0.8), "
            "2.90 GB each, 0.41 of it (goal 0.55), driver 1.67 GB, 94 MB between "
            "workers, 0.6 GB read, 1.0 GB written.",
            "",
            "## What is divided, and what is not yet",
            "",
            "By workers: equations, weights, elimination, solution, covariances on the "
            "pattern, and redundancy, test and smallest detectable blunder of every "
            "observation and of set-ups that one domain alone has (not of held marks), "
            "written by them to `results/domains/`; they set the fronts of their "
            "factors aside on a disk until these are needed. By the process that was "
            "started: reading the tables, the start, the division, the separators' "
            "unknowns that a task returns, and the page. It takes the tests of "
            "observations as the workers left them, and looks up what covariances it "
            "needs (each mark's own; what set-ups on borders and held marks need) "
            "domain by domain, so that it holds few at once; what no observation joins "
            "it asks of the workers, who solve for it. Positions, covariances and tests"
            " are those of one process to 1e-9, not to the byte: sums run in another "
            "order. (What `adjust` prints without workers is linearised once more, at "
            "the result, so that a kept one is the same; its covariances differ from "
            "these by up to 1e-7 of two standard deviations.) A minimal solution that "
            "holds an azimuth is not divided.",
            "",
        ]
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sizes", type=int, nargs="+", default=[5_000, 50_000])
    parser.add_argument("--workers", type=int, nargs="+", default=list(WORKERS))
    parser.add_argument("--update", action="store_true", help="write CLUSTER.md")
    parser.add_argument(
        "--once", type=int, nargs=2, help="this process: marks, workers"
    )
    arguments = parser.parse_args()
    if arguments.once:
        marks, count = arguments.once
        print(json.dumps(shared(marks, count) if count else alone(marks)))
        return 0
    found: Found = {}
    for marks in arguments.sizes:
        for count in sorted({0, *arguments.workers}):
            found[marks, count] = process(marks, count)
            print(row(found, marks, count), flush=True)
    if arguments.update:
        PAGE.write_text(written(found), encoding="utf-8")
    lines, met = goals(found)
    print("\n".join(lines))
    return int(not met)


if __name__ == "__main__":
    sys.exit(main())
