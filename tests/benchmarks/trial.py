"""How quickly the trial page answers a switch, and how large the page is.

    python3 tests/benchmarks/trial.py             measure and print
    python3 tests/benchmarks/trial.py --update    also add a line to TRIAL.md

Invented plans of vectors with set-ups, 200, 300 and 400 marks, observed with noise.
In headless Chromium, in the page itself, with performance.now(): one baseline off or
on by its checkbox, until the figures at the top and the map have been written (the
lists, what parts of the map are called, and the JSON of the whole answer follow with
the next frames and are timed apart); the median of 40. Beside it, in the same page,
the product of two 200 × 200 matrices in double precision, the median of 20. Painting
is the browser's and not in the figures.

Goals: 16 ms at 200 marks, 50 ms at 400, 4 MB at 300. Some minutes; no part of the
everyday tests. Needs Chromium, its driver and selenium.
"""

import argparse
import json
import platform
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

from brasscap.adjust import estimate
from brasscap.adjust.design.folded import blocks_of
from brasscap.adjust.design.loosely_held import loosely_held
from brasscap.networks.neighbours import all_pairs
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country
from brasscap.networks.specifications import PRESETS
from brasscap.reports.heading import Heading
from brasscap.reports.trial import Trial, trial_html

HERE = Path(__file__).parent
TABLE = HERE / "TRIAL.md"
MARKS = (200, 300, 400)
GOALS = {200: 16.0, 400: 50.0}
MOST_BYTES = 4e6

MEASURE = """
const median = (times) => times.sort((a, b) => a - b)[times.length >> 1];
const a = Float64Array.from({ length: 40000 }, (_, i) => Math.sin(i));
const products = [];
for (let k = 0; k < 20; k++) {
  const begun = performance.now();
  times(a, a, 200, 200, 200);
  products.push(performance.now() - begun);
}
const boxes = [...document.querySelectorAll("input[data-kind=baseline]")];
const toggles = [], answers = [], sums = [], lists = [];
for (let k = 0; k < 20; k++) {
  const box = boxes[(k * 37) % boxes.length];
  for (let twice = 0; twice < 2; twice++) {
    let begun = performance.now();
    box.click();
    toggles.push(performance.now() - begun);
    begun = performance.now();
    judged(changed(FIRST.state, settingsOf(changes)));
    sums.push(performance.now() - begun);
    begun = performance.now();
    writeLists();
    lists.push(performance.now() - begun);
    begun = performance.now();
    writeOut();
    answers.push(performance.now() - begun);
  }
}
const begun = performance.now();
start();
return { product: median(products), toggle: median(toggles), sums: median(sums),
         answer: median(answers), lists: median(lists),
         start: performance.now() - begun };
"""


def page_of(marks: int) -> str:
    """Return the trial page of an invented network."""
    import numpy as np

    network = simulate(country(marks, set_ups=True, seed=1), seed=1)
    adjustment = estimate(loosely_held(network))
    pairs = all_pairs(np.arange(marks))
    specification = PRESETS["alta-nsps-2026"]
    trial = Trial(adjustment, network, blocks_of(adjustment), (), specification, pairs)
    return trial_html(trial, Heading(title=f"{marks} marks"))


def measured(marks: int, folder: Path) -> dict[str, float]:
    """Return times in milliseconds and the page's size."""
    page = folder / f"{marks}.html"
    page.write_text(page_of(marks), "utf-8")
    options = Options()
    options.binary_location = shutil.which("chromium") or ""
    for flag in ("headless", "no-sandbox", "disable-gpu", f"user-data-dir={folder}/p"):
        options.add_argument(f"--{flag}")
    driver = shutil.which("chromedriver")
    browser = webdriver.Chrome(options=options, service=Service(driver))
    browser.set_script_timeout(600)
    try:
        browser.get(page.as_uri())
        found: dict[str, float] = browser.execute_script(MEASURE)
    finally:
        browser.quit()
    return found | {"bytes": page.stat().st_size}


def line(found: dict[int, dict[str, float]]) -> str:
    """Return a line of the table."""
    git = ["git", "-C", str(HERE), "log", "-1", "--format=%cs %h"]
    commit = subprocess.run(git, capture_output=True, text=True, check=True).stdout
    cells = [commit.strip(), f"{platform.machine()}"]
    for one in found.values():
        ratio = one["toggle"] / one["product"]
        cells.append(
            f"{one['toggle']:.1f} ms, {ratio:.1f} × {one['product']:.1f} ms "
            f"(sums {one['sums']:.1f}, lists after {one['lists']:.1f}, "
            f"JSON after {one['answer']:.0f}, "
            f"opening {one['start']:.0f} ms; {one['bytes'] / 1e6:.2f} MB)"
        )
    return f"| {' | '.join(cells)} |"


def main() -> int:
    """Measure; return 1 where a goal is missed."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--update", action="store_true")
    parser.add_argument("--marks", type=int, nargs="*", default=MARKS)
    given = parser.parse_args()
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        for marks in given.marks:
            found[marks] = measured(marks, Path(folder))
            print(marks, json.dumps(found[marks]), flush=True)
    made = line(found)
    print(made)
    if given.update:
        TABLE.write_text(TABLE.read_text("utf-8") + made + "\n", "utf-8")
    missed = [
        m for m, goal in GOALS.items() if m in found and found[m]["toggle"] > goal
    ]
    heavy = found.get(300, {"bytes": 0})["bytes"] > MOST_BYTES
    return int(bool(missed) or heavy)


if __name__ == "__main__":
    sys.exit(main())
