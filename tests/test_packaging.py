"""What the unusual folder layout must keep true."""

import importlib
import io
import re
import subprocess
import tomllib
from fnmatch import fnmatch
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path

import pytest

import brasscap

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
SETUPTOOLS = PROJECT["tool"]["setuptools"]
FOLDER_OF = {package: Path(path) for package, path in SETUPTOOLS["package-dir"].items()}
ROOMS = ["adjust", "io", "networks", "reports"]


def tracked() -> list[Path]:
    """Return the files of the four rooms that belong to the project."""
    git = ["git", "-C", str(ROOT), "ls-files", "--", *ROOMS]
    listed = subprocess.run(git, capture_output=True, text=True, check=False)
    if listed.returncode == 0 and listed.stdout:
        return [Path(line) for line in listed.stdout.splitlines()]
    found = (path for room in ROOMS for path in (ROOT / room).rglob("*"))
    return [p.relative_to(ROOT) for p in found if p.is_file() and p.suffix != ".pyc"]


def test_every_code_folder_is_a_package():
    folders = {
        p.parent.relative_to(ROOT) for r in ROOMS for p in (ROOT / r).rglob("*.py")
    }
    assert folders == set(FOLDER_OF.values())
    assert set(SETUPTOOLS["packages"]) == set(FOLDER_OF)


def test_every_file_goes_into_the_wheel():
    """A module lies in a listed package, any other file under its package-data."""
    for path in tracked():
        if path.suffix == ".py":
            assert path.parent in FOLDER_OF.values(), path
            continue
        homes = [
            (package, path.relative_to(folder).as_posix())
            for package, folder in FOLDER_OF.items()
            if folder in path.parents
        ]
        patterns = SETUPTOOLS["package-data"]
        assert any(
            fnmatch(name, pattern)
            for package, name in homes
            for pattern in patterns.get(package, [])
        ), path


@pytest.mark.parametrize("package", SETUPTOOLS["packages"])
def test_every_package_is_importable(package):
    assert importlib.import_module(package).__doc__


def test_python_keeps_its_own_io():
    assert io.StringIO("x").read() == "x"
    assert importlib.import_module("brasscap.io") is not io


def test_the_package_carries_its_version_and_its_types():
    assert brasscap.__version__ == version("brasscap") == PROJECT["project"]["version"]
    assert files("brasscap").joinpath("py.typed").is_file()


def test_an_example_is_shipped():
    jobs = files("brasscap.networks").joinpath("examples").iterdir()
    assert any(job.joinpath("job.toml").is_file() for job in jobs)


def test_python_3_10_is_refused():
    """Older Pythons would take our io for their own while they start."""
    assert PROJECT["project"]["requires-python"] == ">=3.11"


def test_every_dependency_is_used():
    """A dependency that no file imports is dead weight on every machine."""
    text = "\n".join(
        (ROOT / path).read_text("utf-8") for path in tracked() if path.suffix == ".py"
    )
    for requirement in PROJECT["project"]["dependencies"]:
        name = re.split(r"[<>=!~ ]", requirement)[0]
        assert re.search(rf"^\s*(import|from) {name}\b", text, re.M), name


def test_the_top_level_is_as_the_map_shows_it():
    shown = {"DEVELOPERS.md", "LICENSE", "README.md", "pyproject.toml", "tests", *ROOMS}
    git = ["git", "-C", str(ROOT), "ls-files"]
    listed = subprocess.run(git, capture_output=True, text=True, check=False).stdout
    top = {line.split("/")[0] for line in listed.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= shown
