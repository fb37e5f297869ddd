"""The two documents at the top say what is there, and their commands work."""

import csv
import io
import os
import re
import shlex
import subprocess
from contextlib import redirect_stdout
from pathlib import Path

import pytest

from brasscap.__main__ import main
from brasscap.commands.new import example_names

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
WRONG_COMMAND, OUR_DEFECT = 2, 70


def commands():
    """Return every command of the README, comments and shell joints cut off."""
    blocks = re.findall(r"^```\w*\n(.*?)^```", README, re.M | re.S)
    lines = re.findall(r"(?:^|/|\s)((?:brasscap|cp) [^\n&|]*)", "\n".join(blocks), re.M)
    return [re.split(r"\s{3,}", line.strip())[0] for line in lines]


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    return tmp_path_factory.mktemp("home")


@pytest.fixture(scope="module")
def typed(home):
    """Return exit code and output of every command, in the order they stand in."""
    made = []
    here = Path.cwd()
    os.chdir(home)
    try:
        for line in commands():
            words = [word.replace("~", str(home)) for word in shlex.split(line)]
            made.append((line, *(_copied if words[0] == "cp" else _said)(words)))
    finally:
        os.chdir(here)
    return made


def _copied(words):
    return subprocess.run(words, check=True).returncode, ""


def _said(words):
    out = io.StringIO()
    with redirect_stdout(out):
        try:
            status = main(words[1:])
        except SystemExit as stopped:
            status = stopped.code
    return status, out.getvalue()


def test_every_command_is_understood(typed, home):
    """In the order in which they stand; an empty job may well be unusable."""
    assert len(typed) >= 5
    wrong = [line for line, status, _ in typed if status in {WRONG_COMMAND, OUR_DEFECT}]
    assert wrong == []
    assert (home / "first-job" / "reports" / "report.html").is_file()


def test_the_story_of_a_revised_mark(typed, home):
    """What hangs on issue 1 moves, that alone, with reasons; and not a second time."""
    job = home / "first-job"
    said = [(line, status, out) for line, status, out in typed if "first-job" in line]
    compared = next(out for line, _, out in said if "record compare" in line)
    assert "topo/september.csv, 1 added" in compared
    assert re.search(r"GRAIN SHED +−3\.1 .* beyond", compared)
    judged = re.search(r"shots judged otherwise\n(.*?)\n\n", compared, re.S)[1]
    assert re.search(
        r"check shot 401 – NET LOFT +not there +\[.*\] +meets *$", judged, re.M
    )
    moves = [(status, out) for line, status, out in said if "topo move" in line]
    assert [status for status, _ in moves] == [0, 0]
    assert "already on issue 2      10" in moves[0][1]
    assert ["nothing moves twice" in out for _, out in moves] == [False, True]
    with (job / "results" / "topo" / "moved_1_to_2.csv").open(encoding="utf-8") as file:
        rows = {row["shot"]: row for row in csv.DictReader(file)}
    kept = {shot for shot, row in rows.items() if row["moved_by"].startswith("already")}
    assert kept == {str(shot) for shot in range(401, 411)}
    # Every other point says how it moved; shots of the one base as far as each other.
    moved = [row for shot, row in rows.items() if shot not in kept]
    assert not [row for row in moved if not row["moved_by"]]
    carried = [r for r in moved if r["moved_by"] == "translation of ICE HOUSE"]
    assert (len(moved), len(carried)) == (187, 172)
    heights = {row["moved_height_mm"] for row in carried}
    assert len(heights) == 1
    assert heights != {"0.0"}
    proof = next((status, out) for line, status, out in said if "verify" in line)
    assert proof[0] == 0
    assert "issue 1 stands as recorded" in proof[1]


def test_the_example_is_one_that_is_shipped():
    (name,) = re.findall(r"--example (\S+)", README)
    assert name in example_names()


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_path_exists(text):
    """Words in backquotes with a folder of ours in front, and links."""
    paths = re.findall(
        r"[`(]((?:adjust|io|networks|reports|tests)/[\w./*-]*|\w+\.md)[`)]", text
    )
    assert paths
    for path in paths:
        assert list(ROOT.glob(path.rstrip("/"))), path
