"""Examples broken on purpose, and every command on them: an answer in words.

Regression and robustness, not truth: what is broken is known, so the answer must name
it. No warning (pytest turns them into errors), no defect, no figure that is no number.
"""

import csv
import re
import shutil

import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.io.tables.load import load
from brasscap.networks import NoSolution

COMMANDS = (
    "run",
    "check",
    "adjust free",
    "suspects",
    "control --subsets",
    "reliability",
    "loops",
    "spec",
)
"""``run`` first: it adjusts both ways, writes the page, and keeps what others need."""
NO_NUMBER = re.compile(r"\b(nan|inf)\b|\de[+-]\d\d", re.IGNORECASE)
FAR = 1e6


def table(path):
    lines = path.read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if line[:1] not in ("#", "")))


def write(path, rows):
    with path.open("w", newline="", encoding="utf-8") as file:
        made = csv.DictWriter(file, list(rows[0]))
        made.writeheader()
        made.writerows(rows)


def off(name, key, value, column):
    """Return what books one value of a row 10⁶ m too large."""

    def change(folder):
        rows = table(folder / name)
        (row,) = [row for row in rows if row[key] == value]
        row[column] = repr(float(row[column]) + FAR)
        write(folder / name, rows)

    return change


def run_off(section, run):
    """Return what books one levelled run 10⁶ m too large."""

    def change(folder):
        rows = table(folder / "levels.csv")
        (row,) = [r for r in rows if (r["section"], r["run"]) == (section, run)]
        row["rise_m"] = repr(float(row["rise_m"]) + FAR)
        write(folder / "levels.csv", rows)

    return change


def first(name, count, *without):
    """Return what leaves the first rows of a table, and no other observations."""

    def change(folder):
        write(folder / name, table(folder / name)[:count])
        for other in without:
            (folder / other).unlink(missing_ok=True)

    return change


def all_control_wrong(folder):
    rows = table(folder / "control.csv")
    for k, row in enumerate(rows):
        for column in ("north_m", "east_m", "height_m", "ellipsoidal_height_m"):
            if row.get(column):
                row[column] = repr(float(row[column]) + 37.0 * (k + 1))
    write(folder / "control.csv", rows)


def no_redundancy(folder):
    first("levels.csv", 1)(folder)
    write(folder / "control.csv", table(folder / "control.csv")[:1])


def two_pieces(folder):
    """Leave two runs that share no mark, each with its benchmark."""
    rows = [r for r in table(folder / "levels.csv") if r["section"] in ("T1", "T8")]
    write(folder / "levels.csv", rows)


SIGHTS = ("total_station.csv", "levels.csv", "instruments.csv")
BROKEN = {
    "vector": ("harbour", off("baselines.csv", "baseline", "B4", "dx_m")),
    "run among sights": ("harbour", run_off("V1", "back")),
    "known mark": ("mill", off("control.csv", "station", "GATE PIER", "north_m")),
    "distance": (
        "mill",
        off("total_station.csv", "pointing", "T1-04", "slope_distance_m"),
    ),
    "run": ("tramway", run_off("T1", "back")),
    "benchmark": ("tramway", off("control.csv", "station", "TOLL HOUSE", "height_m")),
    "all control": ("mill", all_control_wrong),
    "all benchmarks": ("tramway", all_control_wrong),
    "one vector": ("harbour", first("baselines.csv", 1, *SIGHTS)),
    "one run, two benchmarks": ("tramway", first("levels.csv", 1)),
    "nothing redundant": ("tramway", no_redundancy),
    "four sights": ("mill", first("total_station.csv", 4, "levels.csv")),
    "two pieces": ("tramway", two_pieces),
}


NAMED = {
    "vector": "without baseline B4 PILOT POINT – BREAKWATER 1, session S2 it settles",
    "run among sights": "without level difference V1 back SLIPWAY – ICE HOUSE it",
    "known mark": "without known mark GATE PIER it settles",
}
"""What has no solution, and what its answer says."""
WITHOUT_SOLUTION = ("check", "suspects", "loops")
"""Commands on those: all that adjust meet the same exception, which takes seconds."""


@pytest.fixture(scope="module")
def examples(tmp_path_factory):
    """Each broken copy once, read only."""
    root = tmp_path_factory.mktemp("broken")
    for example in ("harbour", "mill", "tramway"):
        main(["new", str(root / example), "--example", example, "--quiet"])
    for name, (example, change) in BROKEN.items():
        shutil.copytree(root / example, root / name)
        change(root / name)
    return root


@pytest.mark.parametrize("name", BROKEN)
def test_every_command_answers_in_words(examples, capsys, name):
    for command in WITHOUT_SOLUTION if name in NAMED else COMMANDS:
        words = command.split()
        code = main(["--job", str(examples / name), "--progress", "off", *words])
        out, err = capsys.readouterr()
        assert code in (0, 1, 3, 4), f"{command}: {err}"
        assert not NO_NUMBER.search(out), command
        assert out if code in (0, 1) or command == "check" else err, command


@pytest.mark.parametrize("name", NAMED)
def test_what_keeps_it_from_settling_is_named(examples, name):
    """The one booking that is 10⁶ m off, not the one that fits a bad start worst."""
    with pytest.raises(NoSolution) as told:
        estimate(load(examples / name).network)
    assert NAMED[name] in str(told.value)


def test_two_such_blunders_are_not_laid_on_one(examples, tmp_path):
    """Then leaving out one thing mends nothing, and that is said."""
    shutil.copytree(examples / "vector", tmp_path / "job")
    off("baselines.csv", "baseline", "B13", "dy_m")(tmp_path / "job")
    with pytest.raises(NoSolution, match="cannot be told"):
        estimate(load(tmp_path / "job").network)


@pytest.mark.parametrize(
    ("name", "named"),
    [
        ("distance", "slope distance T1-04 + T1-05"),
        ("run", "T1"),
        ("benchmark", "height of known mark TOLL HOUSE"),
    ],
)
def test_what_settles_is_named_by_suspects(examples, capsys, name, named):
    main(["--job", str(examples / name), "--progress", "off", "suspects"])
    assert named in re.sub(r"\s+", " ", capsys.readouterr().out)
