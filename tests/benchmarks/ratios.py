"""How long the tool takes, as a ratio to what Python alone takes for its imports.

    python3 tests/benchmarks/ratios.py             measure and print
    python3 tests/benchmarks/ratios.py --update    also add a line to RATIOS.md

Builds the present tree, installs it in a fresh environment and times whole
processes from outside: each pair in turn, the minimum of ten. A ratio over its goal
ends in exit code 1. Takes about two minutes; no part of the everyday tests.
"""

import argparse
import os
import platform
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
EXAMPLE = HERE / "example_as_first_shipped"
TABLE = HERE / "RATIOS.md"
ROUNDS = 10
IMPORTS = "import numpy, scipy.linalg, pyproj, networkx, jinja2"
SLOW = ("scipy", "matplotlib")


class Measured(NamedTuple):
    """One pair: seconds of the tool, seconds of Python, and what is allowed."""

    name: str
    tool: float
    alone: float
    goal: float

    @property
    def ratio(self) -> float:
        return self.tool / self.alone


def seconds(command: list[str], expected: tuple[int, ...]) -> float:
    """Return the wall-clock time of a process that must end as expected."""
    start = time.perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    took = time.perf_counter() - start
    if done.returncode not in expected:
        sys.exit(f"{' '.join(command)}: exit {done.returncode}\n{done.stderr}")
    return took


def pair(
    name: str,
    make: Callable[[], list[str]],
    expected: tuple[int, ...],
    alone: list[str],
    goal: float,
) -> Measured:
    """Time both commands in turn; what ``make`` prepares is not timed."""
    tool, python = [], []
    for _ in range(ROUNDS):
        tool.append(seconds(make(), expected))
        python.append(seconds(alone, (0,)))
    return Measured(name, min(tool), min(python), goal)


def install(place: Path) -> Path:
    """Return the folder of commands of a fresh environment with the tool in it."""
    subprocess.run([sys.executable, "-m", "venv", place], check=True)
    commands = place / "bin"
    pip = [commands / "python", "-m", "pip", "install", "-q"]
    subprocess.run([*pip, "build"], check=True)
    build = [commands / "python", "-m", "build", "--outdir", place / "dist", ROOT]
    subprocess.run(build, check=True, capture_output=True)
    (wheel,) = (place / "dist").glob("*.whl")
    subprocess.run([*pip, wheel], check=True)
    return commands


def faulty(job: Path) -> Path:
    """Spoil a job: the first figure of baselines.csv is no number."""
    table = job / "baselines.csv"
    lines = table.read_text("utf-8").splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith("baseline,"))
    cells = lines[first + 1].split(",")
    cells[lines[first].split(",").index("dx_m")] = "12.3.4"
    lines[first + 1] = ",".join(cells)
    table.write_text("\n".join(lines) + "\n", "utf-8")
    return job


def modules_loaded(command: list[str]) -> set[str]:
    """Return the top-level modules that a Python command imports."""
    traced = [command[0], "-X", "importtime", *command[1:]]
    done = subprocess.run(traced, capture_output=True, text=True, check=False)
    if done.returncode != 3:
        sys.exit(f"the planted fault is not seen: exit {done.returncode}")
    lines = [line for line in done.stderr.splitlines() if "import time:" in line]
    return {line.rsplit("|", 1)[1].strip().split(".")[0] for line in lines}


def measure(commands: Path, scratch: Path) -> list[Measured]:
    tool, python = str(commands / "brasscap"), str(commands / "python")
    job = scratch / "job"

    def fresh() -> list[str]:
        shutil.rmtree(job, ignore_errors=True)
        shutil.copytree(EXAMPLE, job)
        return [tool, "--job", str(job), "run"]

    def again() -> list[str]:
        return [tool, "--job", str(job), "run"]

    alone = [python, "-c", IMPORTS]
    bare = [python, "-c", "import argparse"]
    spoilt = str(faulty(Path(shutil.copytree(EXAMPLE, scratch / "spoilt"))))
    loaded = modules_loaded([python, "-m", "brasscap", "--job", spoilt, "check"])
    if loaded & set(SLOW):
        sys.exit(f"a fault in the input loads {loaded & set(SLOW)}")
    check = [tool, "--job", spoilt, "check"]
    return [
        pair("`brasscap --help`", lambda: [tool, "--help"], (0,), bare, 2.0),
        pair(
            "a fault in the input, `check`",
            lambda: check,
            (3,),
            [python, "-c", "import numpy"],
            float("inf"),
        ),
        pair("`run`, first time", fresh, (0, 1), alone, 2.5),
        pair("`run`, result kept", again, (0, 1), alone, 2.5),
    ]


def update(measured: list[Measured]) -> None:
    """Add a row: the ratios, and what they were measured on."""
    git = ["git", "-C", str(ROOT), "log", "-1", "--format=%cs %h"]
    commit = subprocess.run(git, capture_output=True, text=True, check=True).stdout
    python, cores = platform.python_version(), os.cpu_count()
    cells = [commit.strip(), f"{python}, {platform.machine()}, {cores} cores"]
    cells += [f"{m.ratio:.2f} ({1000 * m.tool:.0f} ms)" for m in measured]
    with TABLE.open("a", encoding="utf-8") as table:
        table.write(f"| {' | '.join(cells)} |\n")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--update", action="store_true", help="add to RATIOS.md")
    arguments = parser.parse_args()
    if not EXAMPLE.is_dir():
        sys.exit(f"{EXAMPLE} is missing: the frozen example is what is timed")
    with tempfile.TemporaryDirectory() as scratch:
        measured = measure(install(Path(scratch) / "tool"), Path(scratch))
    for m in measured:
        goal = f"goal {m.goal:g}" if m.goal < float("inf") else "no goal"
        print(
            f"{m.name:<32} {1000 * m.tool:6.0f} ms, Python alone "
            f"{1000 * m.alone:5.0f} ms: {m.ratio:.2f} ({goal})"
        )
    if arguments.update:
        update(measured)
    return int(any(m.ratio > m.goal for m in measured))


if __name__ == "__main__":
    sys.exit(main())
