"""Killed at any moment, a job's folder is as before or as after.

Every command that writes is ended just before each of its steps on the disk, one run
a step (``killed.py``); then every file is whole, the old one or the new one, a record
is there complete or not at all, and the same command can simply be run again.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from brasscap.__main__ import main

HERE = Path(__file__).parent
AT = ("--dated", "2026-05-04T14:30:00Z", "--quiet")
ISSUE = ("record", "issue", "--with-open")

pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="processes are forked to be killed"
)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "job.toml").write_text(
        'schema = 1\n[job]\ntitle = "three"\nwho = "AB"\n[frame]\nkind = "local"\n'
    )
    (folder / "control.csv").write_text(
        "station,use_height,height_m,source\nA,held,1.000,invented\n"
    )
    (folder / "levels.csv").write_text(
        "section,from_station,to_station,rise_m,run,sd_mm\n"
        "1,A,B,1.0000,single,1.0\n2,B,C,1.0010,single,1.0\n3,A,C,2.0000,single,1.0\n"
    )
    (folder / "evidence").mkdir()
    (folder / "evidence" / "log.txt").write_text("levelled by the invented crew\n")
    return folder


def killed(job: Path, *words: str) -> tuple[dict, list[dict]]:
    """Return what stood there before, and every run, the last of which ended well."""
    done = subprocess.run(
        [sys.executable, HERE / "killed.py", job, *words, *AT],
        cwd=job.parent,
        env=os.environ | {"OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    sys.path.insert(0, str(HERE))
    try:
        from killed import KILLED, seen
    finally:
        sys.path.remove(str(HERE))
    runs = json.loads(done.stdout)
    assert [run["code"] for run in runs] == [KILLED] * (len(runs) - 1) + [0]
    return seen(job), runs


def steps(before: dict, runs: list[dict]) -> set[str]:
    """Hold every file of every run to the old or the new one; return new names."""
    after = runs[-1]["then"]
    for k, run in enumerate(runs, 1):
        assert before.keys() <= run["then"].keys(), k
        for name, digest in run["then"].items():
            assert digest in (before.get(name), after.get(name)), (k, name)
        # Where all was done already, doing it once more may be refused.
        assert run["again"] == 0 or run["then"] == after, k
    return after.keys() - before.keys()


def test_a_record_is_there_complete_or_not_at_all(job):
    main(["adjust", "--job", str(job), *AT])
    before, runs = killed(job, *ISSUE)
    made = {name for name in steps(before, runs) if name.startswith("records/")}
    assert "records/1/manifest.json" in made
    assert len(runs) > 2 * len(made)
    for k, run in enumerate(runs, 1):
        there = made & run["then"].keys()
        assert there in (set(), made), k
        if not there:
            assert {n: run["after"][n] for n in made} == {
                n: runs[-1]["then"][n] for n in made
            }


@pytest.mark.parametrize(
    "words",
    [
        ("adjust",),
        ("run",),
        ("decide", "criteria", "tests", "power", "0.9", "--reason", "as agreed"),
        ("decide", "check-only", "known mark height", "A", "--reason", "it sank"),
    ],
    ids=lambda words: words[1] if len(words) > 1 else words[0],
)
def test_whatever_writes_leaves_whole_files(job, words):
    main(["run", "--job", str(job), *AT] if words[0] == "decide" else ["--version"])
    before, runs = killed(job, *words)
    assert len(runs) > 3
    changed = [n for n, digest in runs[-1]["then"].items() if before.get(n) != digest]
    assert changed
    steps(before, runs)


def test_moved_shots_are_there_whole_or_not_at_all(topo_job):
    """The shots themselves and both records stay as they are, at every step."""
    job = topo_job({}, {"code": "bank top"})
    assert main([*ISSUE, "--job", str(job), *AT]) == 0
    table = job / "baselines.csv"
    table.write_text(table.read_text("utf-8").replace("100.000", "100.030", 1), "utf-8")
    assert main([*ISSUE, "--job", str(job), *AT]) == 0
    before, runs = killed(job, "topo", "move", "--from", "1", "--to", "2")
    made = steps(before, runs)
    assert {name for name in made if "moved" in name} == {
        "results/topo/moved_1_to_2.csv"
    }
    for run in runs:
        for name, digest in before.items():
            if name.startswith(("topo/", "records/")):
                assert run["then"][name] == digest


def test_an_import_can_be_run_again(tmp_path):
    """Two files: a kill between them leaves covariances alone, which a rerun ends."""
    job = tmp_path / "job"
    main(["new", str(job), "--example", "harbour", *AT])
    solution = str(HERE / "realdata" / "STR1.SNX")
    words = ("import", solution, "--as", "positions", "--frame-epsg", "job")
    before, runs = killed(job, *words)
    made = steps(before, runs)
    assert made == {"positions/STR1.csv", "covariances/STR1.csv"}
    for run in runs:
        there = made & run["then"].keys()
        assert there in (set(), {"covariances/STR1.csv"}, made)
        assert made <= run["after"].keys()
