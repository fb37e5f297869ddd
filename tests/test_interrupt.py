"""Ctrl-C, a closed pipe, a kill: a clear end, and nothing half-written."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from brasscap.__main__ import main

SLOW = """
import sys, time
import {module} as module
from brasscap.__main__ import main

def slow(*arguments, **options):
    print("at it", file=sys.stderr, flush=True)
    time.sleep(60)

module.{name} = slow
sys.exit(main(sys.argv[1:]))
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    return folder


def files(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def start(module: str, name: str, *words: str) -> subprocess.Popen[str]:
    """Return a command that is held up in one function, once it is there."""
    process = subprocess.Popen(
        [sys.executable, "-c", SLOW.format(module=module, name=name), *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stderr is not None
    for line in process.stderr:
        if line == "at it\n":
            return process
    raise AssertionError("it never came there")


@pytest.mark.parametrize(
    ("module", "name", "words"),
    [
        ("brasscap.io.tables.load", "load", ("check",)),
        ("brasscap.adjust", "estimate", ("adjust", "minimal")),
        ("os", "fsync", ("adjust", "minimal")),
        ("brasscap.reports.html", "html", ("report", "--html")),
        ("os", "fsync", ("export", "--csv")),
    ],
)
def test_ctrl_c(job, module, name, words):
    before = files(job)
    process = start(module, name, *words, "--job", str(job), "--progress", "off")
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=20)
    assert process.returncode == 130
    assert out == ""
    assert "stopped by the user; nothing is half-written" in err
    assert "Traceback" not in err
    assert files(job) == before


def test_killed_while_a_decision_is_written(job):
    before = files(job)
    words = ("decide", "leave-out", "baseline", "B2", "--reason", "x", "--who", "ab")
    process = start("os", "fsync", *words, "--job", str(job))
    process.kill()
    process.communicate()
    left = {name: raw for name, raw in files(job).items() if not name.startswith(".")}
    assert left == before
    assert main(["check", "--job", str(job), "--quiet"]) == 0


def test_killed_while_results_are_written(job, capsys):
    process = start("os", "fsync", "adjust", "minimal", "--job", str(job))
    process.kill()
    process.communicate()
    capsys.readouterr()
    assert main(["adjust", "minimal", "--job", str(job), "--quiet"]) == 1
    assert "SIGNAL HILL held" in capsys.readouterr().out


@pytest.mark.parametrize("words", [["help"], ["adjust", "--json"], ["--help"]])
def test_a_reader_that_goes_away_is_no_error(job, words):
    reading, writing = os.pipe()
    os.close(reading)
    made = subprocess.run(
        [sys.executable, "-m", "brasscap", *words, "--job", str(job), "--quiet"],
        stdout=writing,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    os.close(writing)
    assert made.stderr == ""
    assert made.returncode in (0, 1)
