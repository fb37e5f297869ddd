"""Run one command again and again, dying at its first, second … step on the disk.

    python killed.py JOB WORD…

A step is a file opened for writing, a fsync, a folder made, a rename, a removal, below
JOB. Each run works on a copy of JOB and ends, without a word, just before the k-th; a
file that was to be flushed is cut in half first, as a power cut may cut it. Prints a
JSON list: for each k what the folder holds then, and after the same command has run
once more. Forks, so that nothing is imported twice.
"""

import json
import os
import shutil
import sys
import tempfile
from contextlib import redirect_stderr, redirect_stdout
from hashlib import sha256
from pathlib import Path

from brasscap.__main__ import main

_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC
_STEPS = ("os.rename", "os.mkdir", "os.remove", "os.rmdir", "os.truncate")
KILLED = 99


def counting(folder: Path, last: int) -> None:
    """Make this process end just before its step number ``last``."""
    count, start, fsync = 0, str(folder), os.fsync

    def step() -> bool:
        nonlocal count
        count += 1
        return count == last

    def hook(event: str, args: tuple[object, ...]) -> None:
        below = bool(args) and str(args[0]).startswith(start)
        opened = event == "open" and below and int(args[2] or 0) & _WRITES
        if (opened or (event in _STEPS and below)) and step():
            os._exit(KILLED)

    def flush(number: int) -> None:
        if step():
            size = os.fstat(number).st_size
            if os.path.isfile(f"/proc/self/fd/{number}"):  # noqa: PTH113
                os.ftruncate(number, size // 2)
            os._exit(KILLED)
        fsync(number)

    os.fsync = flush
    sys.addaudithook(hook)


def child(folder: Path, words: list[str], last: int) -> int:
    """Return how a run ends that is killed before step ``last``; 0 kills never."""
    number = os.fork()
    if not number:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        os.dup2(1, 2)
        if last:
            counting(folder, last)
        os._exit(main([*words, "--job", str(folder)]))
    return os.waitstatus_to_exitcode(os.waitpid(number, 0)[1])


def seen(folder: Path) -> dict[str, str]:
    """Return what a person, and every command, sees of a folder: name to hash."""
    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {
        name: sha256((folder / name).read_bytes()).hexdigest()
        for name in (path.relative_to(folder).as_posix() for path in files)
        if not any(part.startswith(".") for part in name.split("/"))
    }


def runs(job: Path, words: list[str]) -> list[dict[str, object]]:
    made = []
    for last in range(1, 1000):
        with tempfile.TemporaryDirectory() as home:
            folder = Path(shutil.copytree(job, Path(home) / "job"))
            code = child(folder, words, last)
            then = seen(folder)
            again = code if code != KILLED else child(folder, words, 0)
            made.append(
                {"code": code, "then": then, "again": again, "after": seen(folder)}
            )
            if code != KILLED:
                return made
    raise AssertionError("it never ends")


def warm(job: Path, words: list[str]) -> None:
    """Import all that the command does; this is no step of it."""
    with tempfile.TemporaryDirectory() as home, Path(os.devnull).open("w") as nowhere:
        folder = shutil.copytree(job, Path(home) / "job")
        with redirect_stdout(nowhere), redirect_stderr(nowhere):
            main([*words, "--job", str(folder)])


if __name__ == "__main__":
    _, where, *rest = sys.argv
    warm(Path(where), rest)
    print(json.dumps(runs(Path(where), rest)))
