"""How long a day of very many shots takes, against reading its CSV with Python alone.

    python tests/benchmarks/topo.py [COUNT …]      default 25000 50000 100000

Attached, checked and moved, in one process, from the bytes on the disk, two in a
hundred with a point made from them (each of the seven constructions in turn); the goal
is 30 times what ``csv.reader`` takes for the same files, and growth in proportion. The
minimum of three, in seconds of the processor. Take OPENBLAS_NUM_THREADS=1 and a quiet
machine.
"""

import csv
import sys
import tempfile
import time
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from brasscap.adjust import estimate
from brasscap.adjust.follow.control_issue import control_issue
from brasscap.adjust.follow.descent import descent
from brasscap.adjust.follow.moved_day import move_day
from brasscap.adjust.follow.moving import move_shots
from brasscap.adjust.follow.topo import judge_topo
from brasscap.io.tables.load import load
from brasscap.io.tables.topo_load import load_topo
from brasscap.networks.example_jobs import example_files

ROUNDS = 3
A_GROUP = 50
"""Shots of one initialisation."""
A_POINT = 50
"""Shots of which one has a point made from it."""
ROW = -1
"""The shot two on, in the next row of the walk: across the first wall."""
MADE = (
    # Kind, the other shots counted from the first, and what was taped.
    ("offset", (1,), {"distance_m": 1.5, "sd_distance_mm": 20}),
    (
        "two ties",
        (1,),
        {"distance_m": 4, "second_distance_m": 3.5, "side": "left"}
        | {"sd_distance_mm": 6},
    ),
    ("wall line", (1,), {"distance_m": 2.25, "sd_distance_mm": 5}),
    ("inside corner", (1, 2, ROW), {}),
    ("two leans", (1,), {}),
    ("dip", (), {"dip_m": 1.8, "pipe_m": 0.45, "sd_dip_mm": 8, "sd_pipe_mm": 5}),
    (
        "slope",
        (1,),
        {"distance_m": 6, "sd_distance_mm": 50, "slope_ratio": 2.5}
        | {"sd_slope_ratio": 0.1},
    ),
)
"""Constructions, from shots 5 m apart in a row."""


def write_job(folder: Path, count: int) -> None:
    """Write the harbour with so many shots on a rough surface, a tenth repeated."""
    for name, content in example_files("harbour").items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    (folder / "topo" / "checks.csv").unlink()
    with (folder / "topo" / "sluice.csv").open("w", encoding="utf-8") as file:
        csv.writer(file).writerows(rows(count))
    with (folder / "topo" / "constructions.csv").open("w", encoding="utf-8") as file:
        csv.writer(file).writerows(points(count))


def rows(count: int) -> list[list[object]]:
    """Return the shots: 5 m apart, in the order of a walk, fifty an initialisation."""
    random = np.random.default_rng(1)
    wide = int(np.sqrt(count))
    columns = (
        "shot code line north_m east_m height_m set_up repeats record initialisation "
        "start_utc support antenna_height_m sd_north_mm sd_east_mm sd_height_mm sky"
    )
    made: list[list[object]] = [list(columns.split())]
    for i in range(count):
        again = i % 10 == 9 and i > 10 * A_GROUP + 3
        at = i - 10 * A_GROUP - 3 if again else i
        east, north = 5.0 * (at % wide), 5.0 * (at // wide)
        height = 8 + np.sin(east / 90) + np.cos(north / 70) + 0.03 * random.normal()
        group = i // A_GROUP
        minute = 8 * group % 240
        line = f"L{at // wide}-{at % wide // 20}" if at % 3 == 0 and not again else ""
        made.append(
            [
                f"{i}", "ground", line,
                f"{6169200 + north + 0.01 * random.normal():.3f}",
                f"{593600 + east + 0.01 * random.normal():.3f}", f"{height:.3f}",
                "TOPO-ICE", f"{at}" if again else "", 1, f"I{group}",
                f"2026-03-17T{minute // 60:02d}:{minute % 60:02d}:00Z", "pole_bipod",
                "2.000", 8, 8, 15, ("open", "scrub", "wall")[group % 3],
            ]
        )  # fmt: skip
    return made


def points(count: int) -> list[list[object]]:
    """Return the constructions, each kind in turn."""
    ends = ["from_shot", "second_shot", "third_shot", "fourth_shot"]
    columns = ["shot", "kind", "code", *ends]
    columns += sorted({name for _, _, taped in MADE for name in taped})
    made: list[list[object]] = [list(columns)]
    wide = int(np.sqrt(count))
    for k, at in enumerate(range(0, count - wide - A_POINT, A_POINT)):
        kind, after, taped = MADE[k % len(MADE)]
        row = {"shot": f"C{k}", "kind": kind, "code": "made", "from_shot": at}
        others = (at + (more if more > 0 else 2 + wide) for more in after)
        row |= dict(zip(ends[1:], others, strict=False)) | taped
        made.append([row.get(name, "") for name in columns])
    return made


def by_python_alone(folder: Path) -> float:
    start = time.process_time()
    for name in ("sluice.csv", "constructions.csv"):
        with (folder / "topo" / name).open(newline="", encoding="utf-8") as file:
            list(csv.reader(file))
    return time.process_time() - start


def by_the_tool(folder: Path) -> list[float]:
    """Return seconds to read, check (attach in it), and move."""
    loaded = load(folder)
    control = estimate(loaded.network, "constrained")
    clock = [time.process_time()]
    topo = load_topo(loaded)
    clock.append(time.process_time())
    judged = judge_topo(topo.day, control, loaded.job.topo)
    clock.append(time.process_time())
    old = control_issue(1, control, above_geoid=True)
    new = replace(old, number=2, xyz=old.xyz + 0.01)
    network = loaded.network
    moved = move_shots(
        topo.day.shots,
        descent(topo.day.shots, topo.day.bases),
        network.marks.name,
        network.frame,
        old,
        new,
    )
    move_day(moved, topo.day, judged.hung, judged.polar, judged.polar)
    clock.append(time.process_time())
    return [later - before for before, later in pairwise(clock)]


def main() -> None:
    counts = [int(word) for word in sys.argv[1:]] or [25_000, 50_000, 100_000]
    print("shots    csv s   read s  check s  move s   together   ratio (goal 30)")
    for count in counts:
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            write_job(folder, count)
            alone = min(by_python_alone(folder) for _ in range(ROUNDS))
            each = [by_the_tool(folder) for _ in range(ROUNDS)]
        best = min(each, key=sum)
        said = "  ".join(f"{part:6.2f}" for part in best)
        whole = sum(best)
        print(
            f"{count:<8} {alone:6.3f}  {said}   {whole:6.2f}     {whole / alone:5.1f}"
        )


if __name__ == "__main__":
    main()
