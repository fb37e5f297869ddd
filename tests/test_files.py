"""Files are written whole or not at all, whatever interrupts.

Permission bits do not bind the superuser, under whom tests often run, so a folder
that cannot be written is played by the error that the system would raise.
"""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from brasscap.io.files import make_folder, write_folder, write_whole
from brasscap.networks import CannotWrite


@pytest.fixture
def old(tmp_path: Path) -> Path:
    path = tmp_path / "decisions.csv"
    path.write_text("old\n")
    return path


def names(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir()]


def refuse(*_: object, **__: object) -> None:
    raise PermissionError(13, "Permission denied")


def test_new_content_and_nothing_else(old):
    write_whole(old, "né\n")
    assert old.read_bytes() == "né\n".encode()
    assert names(old.parent) == ["decisions.csv"]


def test_bytes_pass_unchanged(old):
    write_whole(old, b"\xef\xbb\xbfa\r\n")
    assert old.read_bytes() == b"\xef\xbb\xbfa\r\n"


def test_a_link_is_followed(old):
    link = old.with_name("link.csv")
    link.symlink_to(old)
    write_whole(link, "new\n")
    assert link.is_symlink()
    assert old.read_text() == "new\n"


def test_the_users_mask_of_permissions_is_obeyed(tmp_path):
    before = os.umask(0o027)
    try:
        write_whole(tmp_path / "a.csv", "x")
    finally:
        os.umask(before)
    assert (tmp_path / "a.csv").stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize("step", ["os.open", "os.fsync", "pathlib.Path.replace"])
def test_a_step_that_fails_leaves_the_old_file(old, monkeypatch, step):
    monkeypatch.setattr(step, refuse)
    with pytest.raises(CannotWrite, match="permission denied") as caught:
        write_whole(old, "new\n")
    monkeypatch.undo()
    assert old.read_text() == "old\n"
    assert names(old.parent) == ["decisions.csv"]
    assert str(old) in str(caught.value)
    assert caught.value.exit_code == 7


def test_a_full_disk_is_said(old, monkeypatch):
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(CannotWrite, match="no space left"):
        write_whole(old, "new\n")


def test_a_folder_that_is_missing_is_said(tmp_path):
    with pytest.raises(CannotWrite, match="make the folder"):
        write_whole(tmp_path / "none" / "a.csv", "x")


def test_a_stop_by_the_user_leaves_the_old_file(old, monkeypatch):
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("os.fsync", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_whole(old, "new\n")
    assert old.read_text() == "old\n"
    assert names(old.parent) == ["decisions.csv"]


KILLED = """
import os, sys, time
from pathlib import Path
from brasscap.io.files import write_whole

def at(*arguments, **options):
    print("at", flush=True)
    time.sleep(60)

{step} = at
write_whole(Path(sys.argv[1]), "new\\n" * 100_000)
"""


@pytest.mark.parametrize("step", ["os.fsync", "Path.replace"])
def test_killed_between_the_steps_leaves_the_old_file(old, step):
    process = subprocess.Popen(
        [sys.executable, "-c", KILLED.format(step=step), str(old)],
        stdout=subprocess.PIPE,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == b"at\n"
    process.kill()
    process.communicate()
    assert process.returncode == -signal.SIGKILL
    assert old.read_text() == "old\n"


def test_a_folder_is_complete(tmp_path):
    write_folder(tmp_path / "a" / "job", {"job.toml": b"x", "topo/s.csv": b"y"})
    assert (tmp_path / "a" / "job" / "topo" / "s.csv").read_bytes() == b"y"
    assert names(tmp_path / "a") == ["job"]


def test_an_empty_folder_is_filled_and_another_refused(tmp_path):
    (tmp_path / "job").mkdir()
    write_folder(tmp_path / "job", {"job.toml": b"x"})
    with pytest.raises(CannotWrite, match="not an empty folder"):
        write_folder(tmp_path / "job", {"job.toml": b"y"})
    assert (tmp_path / "job" / "job.toml").read_bytes() == b"x"


def test_a_folder_that_fails_half_way_is_not_there(tmp_path, monkeypatch):
    monkeypatch.setattr("pathlib.Path.rename", refuse)
    with pytest.raises(CannotWrite):
        write_folder(tmp_path / "job", {"job.toml": b"x"})
    assert names(tmp_path) == []


def test_a_folder_under_a_file_is_refused(old):
    with pytest.raises(CannotWrite):
        make_folder(old / "results")
