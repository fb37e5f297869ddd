"""A plot as an SVG in Chromium: light and dark, on a phone and on paper."""

import pytest

from brasscap.__main__ import main
from brasscap.plotting import NAMES

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    job = tmp_path_factory.mktemp("plots") / "job"
    assert main(["new", str(job), "--example", "harbour", "--quiet"]) == 0
    assert main(["--job", str(job), "--quiet", "report", "--plot-of", "all"]) in {0, 1}
    return job / "reports"


def luminance(colour):
    """Return the relative luminance of "rgb(r, g, b)" (WCAG 2.2)."""
    parts = [float(x) / 255 for x in colour.split("(")[1].rstrip(")").split(",")[:3]]
    red, green, blue = (
        x / 12.92 if x <= 0.04045 else ((x + 0.055) / 1.055) ** 2.4 for x in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("kind", NAMES)
@pytest.mark.parametrize(
    ("scheme", "media"), [("light", ""), ("dark", ""), ("dark", "print")]
)
def test_words_and_lines_stand_out(driver, folder, kind, scheme, media, show):
    """WCAG 2.2: words 4.5 : 1 (1.4.3), what carries meaning 3 : 1 (1.4.11)."""
    show(driver, folder / f"{kind}.svg", "desktop", media, scheme)
    ground, words, points = driver.execute_script("""
        const root = document.documentElement;
        const fill = e => getComputedStyle(e).fill;
        const stroke = e => getComputedStyle(e).stroke;
        return [getComputedStyle(root).backgroundColor,
                [...root.querySelectorAll("text")].map(fill),
                [...root.querySelectorAll("use")].map(stroke)];""")
    base = luminance(ground)
    assert (base < 0.05) is (scheme == "dark" and media == "")
    for least, colours in ((4.5, words), (3, points)):
        assert colours
        for colour in set(colours) - {"none"}:
            light, dark = sorted((luminance(colour), base), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= least, colour


@pytest.mark.parametrize("kind", NAMES)
@pytest.mark.parametrize("size", ["desktop", "phone", "paper"])
def test_a_plot_is_no_wider_than_its_window(driver, folder, kind, size, show):
    show(driver, folder / f"{kind}.svg", size)
    wide, window = driver.execute_script(
        "const box = document.documentElement.getBoundingClientRect();"
        "return [box.right, window.innerWidth]"
    )
    assert wide <= window + 1
