"""The topographic sheet in Chromium: screen, phone, paper; cautions first."""

import base64
import re

import pytest

from brasscap.__main__ import main

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    """Return the sheet of the harbour's day."""
    job = tmp_path_factory.mktemp("sheet") / "job"
    assert main(["new", str(job), "--example", "harbour", "--quiet"]) == 0
    assert main(["topo", "sheet", "--quiet", "--job", str(job)]) == 0
    return job / "reports" / "topo_sheet.html"


def test_cautions_come_first_and_overhead_lines_before_all(driver, sheet, show):
    show(driver, sheet)
    words = driver.execute_script("return document.body.innerText")
    heads = re.findall(r"^(Cautions|To take again|To write down)$", words, re.MULTILINE)
    # The first three are the way about the page.
    assert heads[-3:] == ["Cautions", "To take again", "To write down"]
    first = driver.execute_script("return document.querySelector('h2 ~ p').innerText")
    assert first.startswith("Overhead lines and poles")
    for caution in ("Lightning", "Excavations", "Rail", "Water", "Lone work", "Lasers"):
        assert caution in words


def test_it_needs_no_script(sheet):
    assert "<script" not in sheet.read_text("utf-8").lower()


@pytest.mark.parametrize(
    ("size", "media"),
    [("desktop", ""), ("phone", ""), ("zoomed 400 %", ""), ("paper", "print")],
)
def test_the_page_does_not_scroll_sideways(driver, sheet, size, media, show):
    show(driver, sheet, size, media)
    wide, window = driver.execute_script(
        "const d = document.documentElement; return [d.scrollWidth, d.clientWidth]"
    )
    assert wide <= window


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_its_ground(driver, sheet, scheme, show, faint):
    show(driver, sheet, scheme=scheme)
    assert faint(driver) == []


def test_there_is_room_to_write(driver, sheet, show):
    """A line for a pencil is 8 mm high or more, 30 px at 96 a inch."""
    show(driver, sheet, "paper", "print")
    heights = driver.execute_script(
        "return [...document.querySelectorAll('.to-write')]"
        ".map(row => row.getBoundingClientRect().height)"
    )
    assert len(heights) == 6
    assert min(heights) >= 30


@pytest.mark.parametrize("paper", [(8.27, 11.69), (8.5, 11.0)], ids=["A4", "letter"])
def test_it_prints_on_a_page_or_two(driver, sheet, paper, show):
    show(driver, sheet)
    width, height = paper
    made = driver.execute_cdp_cmd(
        "Page.printToPDF", {"paperWidth": width, "paperHeight": height}
    )
    pdf = base64.b64decode(made["data"])
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 2


def test_its_parts_have_names_and_its_links_lead_somewhere(driver, sheet, show):
    """WCAG 2.2, 1.3.1 and 2.4.1: headings of rows are not empty, parts are named."""
    show(driver, sheet)
    assert driver.execute_script("""
        const ids = [...document.querySelectorAll("[id]")].map(e => e.id);
        const doubled = ids.filter((id, i) => ids.indexOf(id) !== i);
        const empty = [...document.querySelectorAll("th")].filter(
            th => !th.textContent.trim());
        const nowhere = [...document.querySelectorAll("a[href^='#']")].filter(
            a => !document.getElementById(a.hash.slice(1)));
        return [doubled, empty.length, nowhere.length]""") == [[], 0, 0]
    skip = driver.find_element("css selector", "a.skip")
    assert skip.get_attribute("textContent") == "Skip to cautions"
