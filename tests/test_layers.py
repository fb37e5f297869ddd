"""The direction of imports, as DEVELOPERS.md gives it."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TERMINAL = ROOT / "io" / "terminal"


def table_of_rooms() -> dict[str, set[str]]:
    """Return the last column of the table of rooms in DEVELOPERS.md."""
    rooms = {}
    for line in (ROOT / "DEVELOPERS.md").read_text("utf-8").splitlines():
        if found := re.match(r"\| `(\w+)/` \|.*\|([^|]+)\|$", line):
            rooms[found[1]] = set(re.findall(r"`(\w+)`", found[2]))
    return rooms


MAY_IMPORT = table_of_rooms()
# Faults in the input must be reported before these slow packages are loaded.
SLOW = {"scipy", "matplotlib"}


def modules(folder: Path) -> list[Path]:
    """Return the modules of a room; the terminal's are a room of their own."""
    found = sorted(folder.rglob("*.py"))
    if folder == TERMINAL:
        return found
    return [path for path in found if TERMINAL not in path.parents]


def imported(path: Path) -> Iterator[str]:
    """Yield every module that a file imports, ours as ``brasscap.room.…``."""
    here = ("brasscap", *path.parent.relative_to(ROOT).parts)
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            start = here[: len(here) - node.level + 1] if node.level else ()
            named = tuple(node.module.split(".")) if node.module else ()
            yield from (".".join((*start, *named, alias.name)) for alias in node.names)


def rooms(path: Path) -> set[str]:
    """Return the rooms of the package into which a file reaches."""
    parts = [name.split(".") for name in imported(path)]
    return {name[1] for name in parts if name[0] == "brasscap" and len(name) > 1}


def test_the_table_has_the_four_rooms():
    assert set(MAY_IMPORT) == {"adjust", "io", "networks", "reports"}
    assert MAY_IMPORT["networks"] == set()


@pytest.mark.parametrize("room", MAY_IMPORT)
def test_imports_point_down(room):
    files = modules(ROOT / room)
    assert files
    for path in files:
        assert rooms(path) <= MAY_IMPORT[room] | {room}, path


@pytest.mark.parametrize("room", MAY_IMPORT)
def test_nothing_below_knows_the_terminal(room):
    for path in modules(ROOT / room):
        for name in imported(path):
            assert not name.startswith(("brasscap.commands", "brasscap.io.terminal"))


@pytest.mark.parametrize("room", MAY_IMPORT)
def test_the_rooms_import_each_other_relatively(room):
    """Editors follow relative imports without any configuration."""
    for path in modules(ROOT / room):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            absolute = isinstance(node, ast.ImportFrom) and not node.level
            assert not (absolute and (node.module or "").startswith("brasscap")), path


def test_the_terminal_imports_absolutely():
    """Its package is ``brasscap`` itself, whatever its folder is called."""
    for path in modules(TERMINAL):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.level:
                depth = len(path.parent.relative_to(TERMINAL).parts)
                assert node.level <= depth, path


@pytest.mark.parametrize("folder", ["networks", "io/tables"])
def test_the_way_in_needs_no_slow_package(folder):
    for path in modules(ROOT / folder):
        assert not {name.split(".")[0] for name in imported(path)} & SLOW, path


def test_reading_a_job_loads_no_slow_package():
    """What the files say, held against what Python does."""
    program = (
        "import sys, brasscap.io.tables.load\n"
        f"print(sorted({SLOW!r} & set(sys.modules)))"
    )
    run = [sys.executable, "-c", program]
    done = subprocess.run(run, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
