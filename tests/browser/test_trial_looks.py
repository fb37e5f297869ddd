"""The trial page as a reader gets it: narrow, dark, on paper, by keyboard."""

import json

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from brasscap.__main__ import main

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module", params=["harbour", "tramway"])
def page(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("looks") / request.param
    assert main(["new", str(folder), "--example", request.param, "--quiet"]) == 0
    assert main(["trial", "--job", str(folder), "--quiet"]) == 0
    return folder / "reports" / "trial.html"


@pytest.fixture
def show_open(driver, page, show):
    """Return what loads the page, tries something and opens every list."""

    def opened(size="desktop", scheme="light", media=""):
        show(driver, page, size, media, scheme)
        driver.execute_script(
            "for (const view of document.querySelectorAll('details')) view.open = true;"
            "document.querySelector('input[data-action=leave-out]').click();"
        )

    return opened


@pytest.mark.parametrize("size", ["desktop", "phone", "zoomed 400 %", "paper"])
def test_nothing_runs_over_the_side(driver, size, show_open):
    show_open(size, media="print" if size == "paper" else "")
    wide, window = driver.execute_script(
        "const d = document.documentElement; return [d.scrollWidth, d.clientWidth]"
    )
    assert wide <= window


@pytest.mark.parametrize(("size", "open_"), [("desktop", 1), ("phone", 0)])
def test_a_list_keeps_the_map_from_nobody(driver, page, show, size, open_):
    """In one column every list is closed at first, and all of them can be seen."""
    show(driver, page, size)
    lists, above = driver.execute_script(
        "return [document.querySelectorAll('details[data-view][open]').length,"
        "document.getElementById('map').getBoundingClientRect().top / innerHeight]"
    )
    assert lists == open_
    assert above < 2


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_its_ground(driver, scheme, show_open, faint):
    """WCAG 2.2, 1.4.3."""
    show_open(scheme=scheme)
    assert faint(driver) == []


@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_what_is_touched_is_large_enough(driver, size, show_open):
    """44 px each way: of a checkbox its label, of an open file its button."""
    show_open(size)
    small = driver.execute_script("""
        const wanted = "a[href], button, input, select, summary, textarea";
        return [...document.querySelectorAll(wanted)].map(
            e => e.type === "checkbox" || e.type === "file" ? e.closest("label") : e
        ).filter(e => {
            const box = e.getBoundingClientRect();
            const seen = box.width > 0 && !e.closest("svg") && !e.matches(".skip");
            return seen && (box.width < 43.9 || box.height < 43.9);
        }).map(e => e.outerHTML.slice(0, 120))""")
    assert small == []


def test_everything_has_a_name(driver, show_open):
    """Labels of fields, names of links and buttons, captions, one first heading."""
    show_open()
    bare = driver.execute_script("""
        const named = e => e.getAttribute("aria-label") || e.textContent.trim()
            || [...(e.labels ?? [])].some(l => l.textContent.trim());
        return [...document.querySelectorAll(
            "a, button, input, select, textarea, summary, svg[role=img]"
        )].filter(e => !named(e)).map(e => e.outerHTML.slice(0, 120))""")
    assert bare == []
    labels = driver.execute_script("""
        return [...document.querySelectorAll("input[data-kind]")].map(box => [
            box.closest("label").textContent.trim(),
            `${box.dataset.kind} ${box.dataset.name}`])""")
    assert all(said == wanted for said, wanted in labels)
    levels = driver.execute_script(
        "return [...document.querySelectorAll('h1, h2, h3')].map(h => h.tagName)"
    )
    assert levels.count("H1") == 1
    assert driver.execute_script(
        "return [...document.querySelectorAll('table')].every(t => t.caption)"
    )
    doubled = driver.execute_script("""
        const ids = [...document.querySelectorAll("[id]")].map(e => e.id);
        return ids.filter((id, i) => ids.indexOf(id) !== i)""")
    assert doubled == []


def test_a_switch_is_heard_and_used_by_keyboard(driver, show_open):
    """Space on a focused box; what changed is said in a live region."""
    show_open()
    box = driver.execute_script(
        "const boxes = document.querySelectorAll('input[data-action=leave-out]');"
        "boxes[1].focus(); return boxes[1]"
    )
    box.send_keys(" ")
    told = driver.find_element("id", "told")
    assert told.get_attribute("role") == "status"
    assert "switched off" in told.text
    assert "Variance factor" in told.text
    assert driver.execute_script("return document.activeElement") == box


def focused(driver):
    return driver.switch_to.active_element


def tab_to(driver, selector, most=40):
    """Press Tab until something is focused; return it."""
    for _ in range(most):
        ActionChains(driver, duration=0).send_keys(Keys.TAB).perform()
        if driver.execute_script(
            "return document.activeElement.matches(arguments[0])", selector
        ):
            return focused(driver)
    raise AssertionError(f"Tab does not lead to {selector}")


def test_all_of_it_by_keyboard(driver, page, show):
    """Skip link, switch, take back, undo, plant: Tab, Space, Enter, and no mouse.

    WCAG 2.2, 2.1.1 and 2.4.3: the focus is never lost when a button goes.
    """
    show(driver, page)
    tab_to(driver, "a.skip", most=1).send_keys(Keys.ENTER)
    box = tab_to(driver, "input[data-action=leave-out]", most=4)
    box.send_keys(Keys.SPACE)
    assert not box.is_selected()
    assert len(driver.find_elements("css selector", "#changes > li")) == 1
    driver.execute_script("byId('tries').focus()")
    tab_to(driver, "#changes button", most=1).send_keys(Keys.ENTER)
    assert driver.find_elements("css selector", "#changes > li") == []
    assert focused(driver).get_attribute("id") == "tries"
    tab_to(driver, "#undo", most=1).send_keys(Keys.ENTER)
    assert len(driver.find_elements("css selector", "#changes > li")) == 1
    tab_to(driver, "#reset").send_keys(Keys.SPACE)
    assert focused(driver).get_attribute("id") == "tries"
    plant = driver.find_element("css selector", "[data-view=plant] > summary")
    plant.send_keys(Keys.ENTER)
    way = tab_to(driver, "#plant-way", most=4)
    way.send_keys("too small")
    tab_to(driver, "#plant-size", most=1).send_keys(Keys.ENTER)
    said = driver.find_element("css selector", "#changes > li span").text
    assert said.endswith(("too small by 30 mm", "too small by 30 arcsec"))


def test_it_asks_for_nothing_and_complains_of_nothing(driver, page, show_open):
    driver.get("about:blank")
    for kind in ("performance", "browser"):
        driver.get_log(kind)
    show_open()
    driver.execute_script("byId('save').click()")
    sent = [json.loads(e["message"])["message"] for e in driver.get_log("performance")]
    asked = [
        one["params"]["request"]["url"]
        for one in sent
        if one["method"] == "Network.requestWillBeSent"
    ]
    ours = [u for u in asked if not u.startswith(("data:", "chrome:", "blob:"))]
    assert ours == [page.as_uri()]
    assert driver.get_log("browser") == []
