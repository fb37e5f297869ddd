"""How long and in how much memory tables are read and checked, by size.

    python3 tests/benchmarks/tables.py                    5 000 and 50 000 marks
    python3 tests/benchmarks/tables.py --marks 5000 200000 1000000 --update

``check`` on a job folder of CSV with set-ups, and only the reading of its tables, each
in a process of its own, against Python's ``csv`` module going through the same files:
time of the processor, the least of the rounds, and the most memory that the process
held. ``--update`` writes TABLES.md beside. A ratio of ``check`` over 10 ends in exit
code 1. Jobs are made by ``large_job.py`` in a folder for temporary files, 0.9 GB for a
million marks. Takes half a minute, and some minutes with a million marks; no part of
the everyday tests. Needs the tool installed (``pip install -e .``).
"""

import argparse
import os
import platform
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
TABLE = HERE / "TABLES.md"
GOAL = 10.0
"""Of ``check`` to the standard library."""
ROUNDS = 3
PROBE = """
import resource, sys, time
from pathlib import Path
folder, what = Path(sys.argv[1]), sys.argv[2]
if what == "csv":
    import csv
    begin, count = time.process_time(), 0
    for path in folder.glob("*.csv"):
        with path.open(newline="", encoding="utf-8") as file:
            count += sum(1 for _ in csv.reader(file))
elif what == "read":
    from brasscap.io.tables.reading import read_folder
    begin = time.process_time()
    read = read_folder(folder)
    count = sum(len(table) for table in read.tables.values())
else:
    from brasscap.io.tables.load import load
    begin = time.process_time()
    read = load(folder, check_only=True)
    count = sum(len(table) for table in read.tables.values())
spent = time.process_time() - begin
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(count, spent, peak * (1 if sys.platform == "darwin" else 1024))
"""


def probe(folder: Path, what: str, rounds: int) -> tuple[int, float, float]:
    """Return rows, the least time in s, and the memory of it in bytes."""
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
    runs = []
    for _ in range(rounds):
        words = [sys.executable, "-c", PROBE, str(folder), what]
        made = subprocess.run(
            words, env=environment, check=True, capture_output=True, text=True
        )
        count, spent, peak = made.stdout.split()
        runs.append((float(spent), float(peak), int(count)))
    spent, peak, count = min(runs)
    return count, spent, peak


def measure(marks: int, rounds: int) -> tuple[str, float]:
    """Return a row of the table, and the ratio of ``check``."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        # Apart, for a process starts with the most memory that its parent held.
        words = [sys.executable, str(HERE / "large_job.py"), str(marks), name]
        subprocess.run(words, check=True)
        size = sum(path.stat().st_size for path in folder.iterdir())
        _, library, bare = probe(folder, "csv", rounds)
        count, reading, held = probe(folder, "read", rounds)
        _, check, most = probe(folder, "check", rounds)
    per_row = (held - bare) / 2**20 / count * 100_000
    cells = (
        f"{marks}",
        f"{count}",
        f"{size / 2**20:.1f}",
        f"{library:.2f}",
        f"{reading:.2f}",
        f"{check:.2f}",
        f"{reading / library:.1f}",
        f"{check / library:.1f}",
        f"{held / 2**20:.0f}",
        f"{most / 2**20:.0f}",
        f"{per_row:.0f}",
    )
    return f"| {' | '.join(cells)} |", check / library


HEAD = """# Tables read and checked

{when}, {machine}, Python {python}, numpy {numpy};
`python3 tests/benchmarks/tables.py --update --marks {marks}`.
Processor time in s, the least of {rounds}, one process and one thread; memory is the
most that the process held. *library* is Python's `csv` module going through the same
files and keeping nothing; *read* makes typed columns of them, *check* also makes the
network and every check of `brasscap check`. The goal: *check* at most {goal:g} times
*library*.

"""
COLUMNS = (
    "marks",
    "rows",
    "CSV, MB",
    "library, s",
    "read, s",
    "check, s",
    "read / library",
    "check / library",
    "read, MB",
    "check, MB",
    "read, MB per 100 000 rows",
)


def machine() -> str:
    """Return the processor, as far as the system says it."""
    path = Path("/proc/cpuinfo")
    lines = path.read_text().splitlines() if path.exists() else []
    names = [line.partition(":")[2] for line in lines if line.startswith("model name")]
    return names[0].strip() if names else platform.processor() or platform.machine()


def main() -> int:
    """Measure and print; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--marks", type=int, nargs="+", default=[5_000, 50_000])
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    parser.add_argument("--update", action="store_true")
    asked = parser.parse_args()
    head = HEAD.format(
        when=datetime.now(UTC).strftime("%Y-%m-%d"),
        machine=machine(),
        python=platform.python_version(),
        numpy=np.__version__,
        rounds=asked.rounds,
        goal=GOAL,
        marks=" ".join(map(str, asked.marks)),
    )
    head += f"| {' | '.join(COLUMNS)} |\n|{'---|' * len(COLUMNS)}\n"
    print(head, end="", flush=True)
    rows, ratios = [], []
    for marks in asked.marks:
        row, ratio = measure(marks, asked.rounds)
        print(row, flush=True)
        rows.append(row)
        ratios.append(ratio)
    if asked.update:
        TABLE.write_text(head + "\n".join(rows) + "\n", encoding="utf-8")
    return int(max(ratios) > GOAL)


if __name__ == "__main__":
    sys.exit(main())
