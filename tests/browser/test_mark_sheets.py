"""The control sheets in Chromium: one page of paper each, and readable on a phone."""

import base64
import re

import pytest

from brasscap.__main__ import main
from brasscap.commands.new import example_names

pytestmark = pytest.mark.browser

WIDE = {"A4": (595, 842), "letter": (612, 792)}
"""Points, of 1/72 inch."""


@pytest.fixture(scope="module", params=example_names())
def job(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheets") / "job"
    assert main(["new", str(folder), "--example", request.param, "--quiet"]) == 0
    return folder


def sheets(job, paper):
    page = job / "reports" / f"{paper}.html"
    if not page.exists():
        words = ["report", f"--marks={page}", "--paper", paper]
        assert main(["--job", str(job), "--quiet", *words]) in {0, 1}
    return page


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_each_sheet_is_one_page_after_the_list_of_marks(driver, job, paper, show):
    """The examples' marks fit; the paper is the one asked for, whatever the printer."""
    page = sheets(job, paper)
    show(driver, page)
    made = driver.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})
    content = base64.b64decode(made["data"])
    marks = len(re.findall("<h2", page.read_text("utf-8"))) - 1
    assert len(re.findall(rb"/Type\s*/Page\b", content)) == marks + 1
    for box in re.findall(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", content):
        assert [float(side) for side in box] == pytest.approx(WIDE[paper], abs=1)


@pytest.mark.parametrize(
    ("size", "media"),
    [("desktop", ""), ("phone", ""), ("zoomed 400 %", ""), ("paper", "print")],
)
def test_nothing_runs_over_the_side(driver, job, size, media, show):
    show(driver, sheets(job, "A4"), size, media)
    wide, window = driver.execute_script(
        "const d = document.documentElement; return [d.scrollWidth, d.clientWidth]"
    )
    assert wide <= window


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_its_ground(driver, job, scheme, show, faint):
    """WCAG 2.2, 1.4.3: contrast 4.5 : 1, or 3 : 1 for large text."""
    show(driver, sheets(job, "A4"), scheme=scheme)
    assert faint(driver) == []
