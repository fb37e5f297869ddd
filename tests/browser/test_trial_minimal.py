"""The trial page of a minimal solution, against full minimal adjustments."""

import sys
from pathlib import Path

import pytest

from brasscap.__main__ import main

sys.path.insert(0, str(Path(__file__).parent))
from trial_steps import adjusted, assert_same, now, result, say, tried

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module", params=["harbour", "mill", "tramway"])
def job(request, tmp_path_factory):
    """Return each shipped example with the trial page of its minimal solution."""
    folder = tmp_path_factory.mktemp("minimal") / request.param
    assert main(["new", str(folder), "--example", request.param, "--quiet"]) == 0
    words = ["--job", str(folder), "--out", str(folder / "trial.html"), "--quiet"]
    assert main(["trial", "--datum", "minimal", *words]) == 0
    return folder


@pytest.fixture
def page(driver, job):
    driver.get((job / "trial.html").as_uri())
    return driver


def test_it_opens_with_the_minimal_adjustment(page, job, capsys):
    found, wanted = result(page), adjusted(job, capsys, "minimal")
    assert found["datum"] == wanted["datum"] == "minimal"
    assert found["held"] == wanted["held"]
    assert_same(found, wanted)


SWITCHED = {
    "harbour": [
        [("leave-out", "baseline", "B2", "")],
        [("leave-out", "session", "S1", ""), ("leave-out", "set-up", "S3-ICE", "")],
        [("multiplier", "group", "static", "plan=2 height=3")],
        [("plant", "set-up", "S3-ICE", "height 30 mm")],
    ],
    "mill": [
        [("leave-out", "set-up", "YARD 1 tripod", "")],
        [("plant", "direction", "T4-01 + T4-06", "20 arcsec")],
    ],
    "tramway": [
        [("leave-out", "level difference", "T1 out", "")],
        [("plant", "level difference", "T3 out", "10 mm")],
    ],
}


def test_each_switch_is_a_full_minimal_adjustment(page, job, capsys):
    for listed in SWITCHED[job.name]:
        keys = ("action", "kind", "name", "value")
        changes = [dict(zip(keys, one, strict=True)) for one in listed]
        say(page, "attempt(arguments[0], 'tried')", changes)
        assert say(page, "return changes.length") == len(changes), listed
        assert "≈" not in say(page, "return byId('shift').textContent"), listed
        wanted = tried(job, page, capsys)
        assert wanted["datum"] == "minimal"
        assert_same(now(page), wanted)


def test_one_mark_holds_it_and_no_other_is_offered(page):
    """In a minimal solution another held mark would be left out by the adjustment."""
    assert say(page, "return document.querySelector('[data-action=use]')") is None
    said = "return document.querySelector('[data-view=known]').textContent"
    assert "hangs on its origin alone" in say(page, said)
