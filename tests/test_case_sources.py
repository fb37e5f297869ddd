"""Every published problem says where its figures come from, and is used."""

import json
import re
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
FILES = sorted((TESTS / "cases").glob("*.json"))


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
    """By its name, or as one of its kind in a test that takes all of a kind."""
    kind = json.loads(path.read_text("utf-8"))["kind"]
    tests = "".join(p.read_text("utf-8") for p in TESTS.rglob("test_*.py"))
    of_its_kind = rf'(of_kind\(|"kind"\] == )"{kind}"'
    assert re.search(rf'"{path.stem}"|{of_its_kind}', tests), path.stem
