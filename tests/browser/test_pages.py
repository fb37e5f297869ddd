"""The pages as a reader gets them, in Chromium: desktop, phone, paper, no scripts."""

import base64
import json
import re
from html.parser import HTMLParser

import pytest

from brasscap.__main__ import main
from brasscap.commands.new import example_names

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module", params=example_names())
def report(request, tmp_path_factory):
    """Return the report of each shipped example's first run."""
    job = tmp_path_factory.mktemp("pages") / "job"
    assert main(["new", str(job), "--example", request.param]) == 0
    assert main(["--job", str(job), "--quiet", "run"]) in {0, 1}
    page = job / "reports" / "report.html"
    assert page.is_file()
    return page


@pytest.mark.parametrize(
    ("size", "media"),
    [("desktop", ""), ("phone", ""), ("zoomed 400 %", ""), ("paper", "print")],
)
def test_nothing_runs_over_the_side(driver, report, size, media, show):
    show(driver, report, size, media)
    wide, window = driver.execute_script(
        "const d = document.documentElement; return [d.scrollWidth, d.clientWidth]"
    )
    assert wide <= window


def test_the_page_asks_for_nothing_and_complains_of_nothing(driver, report, show):
    """No request but the file itself; no error or warning on the console."""
    driver.get("about:blank")
    for kind in ("performance", "browser"):
        driver.get_log(kind)
    show(driver, report)
    messages = [
        json.loads(e["message"])["message"] for e in driver.get_log("performance")
    ]
    asked = [
        message["params"]["request"]["url"]
        for message in messages
        if message["method"] == "Network.requestWillBeSent"
    ]
    # chrome: is the new tab that the browser itself opened with.
    ours = [url for url in asked if not url.startswith(("data:", "chrome:"))]
    assert ours == [report.as_uri()]
    assert driver.get_log("browser") == []


def test_it_reads_the_same_without_scripts(driver, browser, report, tmp_path, show):
    show(driver, report)
    words = "return document.body.innerText.replace(/\\s+/g, ' ')"
    with_scripts = driver.execute_script(words)
    plain = browser(tmp_path, scripts=False)
    try:
        show(plain, report)
        assert plain.execute_script(words) == with_scripts
    finally:
        plain.quit()
    assert len(with_scripts) > 1000


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_its_ground(driver, report, scheme, show, faint):
    """WCAG 2.2, 1.4.3: contrast 4.5 : 1, or 3 : 1 for large text."""
    show(driver, report, scheme=scheme)
    assert faint(driver) == []


def test_dark_is_dark(driver, report, show):
    grounds = []
    for scheme in ("light", "dark"):
        show(driver, report, scheme=scheme)
        grounds.append(
            driver.execute_script("return getComputedStyle(document.body).color")
        )
    assert grounds[0] != grounds[1]


@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_what_is_touched_is_large_enough(driver, report, size, show):
    """44 px each way; links inside a sentence are as high as their line."""
    show(driver, report, size)
    small = driver.execute_script("""
        const wanted = "a[href], button, input, select, summary, [role=button]";
        return [...document.querySelectorAll(wanted)].filter(e => {
            const style = getComputedStyle(e), box = e.getBoundingClientRect();
            const inText = style.display === "inline" && e.closest("p, li, td, dd");
            const seen = box.width > 0 && style.visibility !== "hidden";
            return seen && !inText && !e.closest("svg")
                && (box.width < 43.9 || box.height < 43.9);
        }).map(e => e.outerHTML.slice(0, 120))""")
    assert small == []


A4, LETTER = (8.27, 11.69), (8.5, 11.0)


@pytest.mark.parametrize("paper", [A4, LETTER], ids=["A4", "letter"])
def test_it_prints(driver, report, paper, show):
    """A PDF from the browser on the paper that is asked for, of more than one page."""
    show(driver, report)
    size = {"paperWidth": paper[0], "paperHeight": paper[1], "preferCSSPageSize": True}
    made = driver.execute_cdp_cmd("Page.printToPDF", size)
    content = base64.b64decode(made["data"])
    assert content.startswith(b"%PDF")
    assert len(re.findall(rb"/Type\s*/Page\b", content)) >= 2
    boxes = re.findall(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", content)
    assert boxes
    for wide, tall in boxes:
        assert abs(float(wide) - 72 * paper[0]) < 1
        assert abs(float(tall) - 72 * paper[1]) < 1


def test_each_printed_page_names_the_job_its_input_and_its_number(driver, report, show):
    """The browser has understood the boxes in the margin of a page."""
    show(driver, report, "paper", "print")
    rules = driver.execute_script("""
        return [...document.styleSheets[0].cssRules]
            .filter(rule => rule instanceof CSSPageRule)
            .map(rule => rule.cssText).join(" ")""")
    title = driver.execute_script("return document.title")
    assert json.dumps(title, ensure_ascii=False) in rules
    assert re.search(r'@bottom-center \{[^}]*content: "input [0-9a-f]{16}"', rules)
    assert '"page " counter(page) " of " counter(pages)' in rules


class Structure(HTMLParser):
    """What a screen reader finds: tables, headings, landmarks, titles."""

    def __init__(self, page):
        super().__init__()
        self.tables, self.headings, self.tags, self.csp = [], [], set(), ""
        self.language = ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.tags.add(tag)
        if tag == "html":
            self.language = given.get("lang", "")
        if tag == "table":
            self.tables.append({"caption": False, "th": 0, "scoped": 0})
        if tag == "caption":
            self.tables[-1]["caption"] = True
        if tag == "th":
            self.tables[-1]["th"] += 1
            self.tables[-1]["scoped"] += "scope" in given
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if given.get("http-equiv") == "Content-Security-Policy":
            self.csp = given["content"]


def test_a_screen_reader_finds_its_way(report):
    found = Structure(report.read_text("utf-8"))
    assert found.language
    assert {"main", "title"} <= found.tags
    assert found.headings.count(1) == 1
    steps = zip(found.headings, found.headings[1:], strict=False)
    assert all(after <= before + 1 for before, after in steps)
    assert found.tables
    for table in found.tables:
        assert table["caption"]
        assert table["th"] == table["scoped"] > 0


def test_the_page_may_fetch_nothing(report):
    page = report.read_text("utf-8")
    assert "default-src 'none'" in Structure(page).csp
    assert not re.search(r"""(src|href)\s*=\s*["']?(https?:)?//""", page)


def test_every_mark_and_line_of_the_map_has_a_title(driver, report, show):
    show(driver, report)
    bare = driver.execute_script("""
        return [...document.querySelectorAll("svg [tabindex]")].filter(
            e => !e.querySelector(":scope > title") && !e.getAttribute("aria-label")
        ).map(e => e.outerHTML.slice(0, 120))""")
    assert bare == []
    focusable = "return document.querySelectorAll('svg [tabindex], svg a').length"
    drawn = driver.execute_script("return document.querySelectorAll('svg.map').length")
    assert driver.execute_script(focusable) >= 12 * drawn
    assert drawn or "No map: this job has heights alone" in report.read_text("utf-8")
