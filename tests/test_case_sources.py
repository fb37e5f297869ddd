"""Every published problem says where its figures come from, and is used."""

import json
import re
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
FILES = sorted((TESTS / "cases").glob("*.json"))
BY_KIND = {"gnss3d", "linear_regression", "linear_model"}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_case_names_its_source(path):
    content = json.loads(path.read_text("utf-8"))
    assert len(content["source"]) > 20
    assert content["source_seen"] in {"looked up", "from memory", "derived here"}
    for key in ("licence_note", "units", "conventions", "expected_origin"):
        assert content[key], key
    assert set(content["tolerance"]) <= set(content["expected"]) | {"default"}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_case_is_used(path):
    if json.loads(path.read_text("utf-8"))["kind"] in BY_KIND:
        return
    tests = "".join(p.read_text("utf-8") for p in TESTS.glob("test_*.py"))
    assert re.search(rf'"{path.stem}"', tests), path.stem
