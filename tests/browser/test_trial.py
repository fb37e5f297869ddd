"""The trial page in Chromium, against full adjustments of the same trials."""

import json
from pathlib import Path

import jsonschema
import pytest

from brasscap.__main__ import main
from brasscap.json_schemas import schema_of

pytestmark = pytest.mark.browser

EXAMPLES = ("harbour", "mill", "tramway")


@pytest.fixture(scope="module", params=EXAMPLES)
def job(request, tmp_path_factory):
    """Return each shipped example with its trial page."""
    folder = tmp_path_factory.mktemp("trial") / request.param
    assert main(["new", str(folder), "--example", request.param, "--quiet"]) == 0
    page = folder / "trial.html"
    assert main(["trial", "--job", str(folder), "--out", str(page), "--quiet"]) == 0
    return folder


@pytest.fixture
def page(driver, job):
    driver.get((job / "trial.html").as_uri())
    return driver


def result(page):
    return json.loads(page.find_element("id", "result").get_attribute("textContent"))


def switch(page, kind, name):
    """Use a switch as a person would."""
    page.execute_script(
        "document.querySelector(`input[data-kind='${arguments[0]}']"
        '[data-name="${arguments[1]}"]`).click()',
        kind,
        name,
    )


def adjusted(job, capsys, *words):
    capsys.readouterr()
    assert main(["adjust", "--job", str(job), "--json", "--quiet", *words]) in (0, 1)
    return json.loads(capsys.readouterr().out)


def assert_same(got, want):
    """Marks to 0.01 mm, tests and ellipses to five digits.

    The page weighs a held mark by 0.003 mm.
    """
    assert [m["station"] for m in got["marks"]] == [m["station"] for m in want["marks"]]
    for mine, theirs in zip(got["marks"], want["marks"], strict=True):
        for key in ("north_m", "east_m", "height_m"):
            if theirs[key] is not None:
                assert mine[key] == pytest.approx(theirs[key], abs=1e-5), key
        for key in ("semi_major_mm", "semi_minor_mm"):
            given = theirs["ellipse"][key]
            near = None if given is None else pytest.approx(given, abs=0.01)
            assert mine["ellipse"][key] == near
        for key in ("checked_plan", "checked_height"):
            assert mine[key] == theirs[key]
    mine = {(o["kind"], o["name"]): o for o in got["observations"]}
    theirs = {(o["kind"], o["name"]): o for o in want["observations"]}
    assert mine.keys() == theirs.keys()
    for key, one in theirs.items():
        assert mine[key]["verdict"] == one["verdict"], key
        for figure in ("statistic", "redundancy", "smallest_detectable_mm"):
            given = one[figure]
            near = None if given is None else pytest.approx(given, rel=1e-3, abs=2e-4)
            assert mine[key][figure] == near, (key, figure)
    factor = want["variance_factor"]
    assert got["variance_factor"]["value"] == pytest.approx(factor["value"], rel=1e-4)
    assert got["variance_factor"]["degrees_of_freedom"] == factor["degrees_of_freedom"]


def test_it_opens_with_the_jobs_own_answer(page, job, capsys):
    found = result(page)
    jsonschema.Draft202012Validator(schema_of("adjust")).validate(found)
    assert_same(found, adjusted(job, capsys))


def test_undo_gives_the_very_same_figures_back(page, job):
    before = page.find_element("id", "result").get_attribute("textContent")
    kind, name = {
        "harbour": ("baseline", "B2"),
        "mill": ("set-up", "YARD 1 tripod"),
        "tramway": ("level difference", "T1 out"),
    }[job.name]
    switch(page, kind, name)
    assert page.find_element("id", "result").get_attribute("textContent") != before
    page.find_element("id", "undo").click()
    assert page.find_element("id", "result").get_attribute("textContent") == before


def test_the_page_asks_for_nothing(page, job):
    text = (Path(job) / "trial.html").read_text("utf-8")
    assert "default-src 'none'" in text
    assert "http:" not in text
    assert "https:" not in text
    assert page.get_log("browser") == []
