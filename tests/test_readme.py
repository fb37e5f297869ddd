"""The two documents at the top say what is there, and their commands work."""

import re
import shlex
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
    lines = re.findall(r"(?:^|/|\s)brasscap ([^\n&|]*)", "\n".join(blocks))
    return [re.split(r"\s{3,}", line.strip())[0] for line in lines]


def test_every_command_is_understood(tmp_path, monkeypatch, capsys):
    """In the order in which they stand; an empty job may well be unusable."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert len(commands()) >= 5
    for line in commands():
        words = [word.replace("~", str(tmp_path)) for word in shlex.split(line)]
        try:
            status = main(words)
        except SystemExit as stopped:
            status = stopped.code
        assert status not in {WRONG_COMMAND, OUR_DEFECT}, line
    capsys.readouterr()
    assert (tmp_path / "first-job" / "reports" / "report.html").is_file()


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
