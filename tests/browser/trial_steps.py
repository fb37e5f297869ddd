"""What the tests of the trial page do on it, and what they hold it against."""

import json

import pytest

from brasscap.__main__ import main


def result(page):
    return json.loads(page.find_element("id", "result").get_attribute("textContent"))


def adjusted(job, capsys, *words):
    """Return the full adjustment of a job, as JSON."""
    capsys.readouterr()
    assert main(["adjust", *words, "--job", str(job), "--json", "--quiet"]) in (0, 1)
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
        figures = ("components", "statistic", "redundancy", "smallest_detectable_mm")
        for figure in figures:
            given = one[figure]
            near = None if given is None else pytest.approx(given, rel=1e-3, abs=2e-4)
            assert mine[key][figure] == near, (key, figure)
    factor = want["variance_factor"]
    assert got["variance_factor"]["value"] == pytest.approx(factor["value"], rel=1e-4)
    assert got["variance_factor"]["degrees_of_freedom"] == factor["degrees_of_freedom"]


def tick(page, kind, name, action):
    page.execute_script(
        """const box = document.querySelector(`input[data-kind="${arguments[0]}"]`
            + `[data-name="${arguments[1]}"][data-action="${arguments[2]}"]`);
        box.click();""",
        kind,
        name,
        action,
    )


def say(page, script, *words):
    return page.execute_script(script, *words)


def now(page):
    """Return the answer as it stands, without waiting for the page to write it."""
    return json.loads(
        say(
            page,
            "return JSON.stringify(answer(present.state, present.found, "
            "present.settings))",
        )
    )


def tried(job, page, capsys):
    """Return the full adjustment of the trial that the page has."""
    path = job / "trial.json"
    path.write_text(say(page, "return JSON.stringify(trialFile(changes))"), "utf-8")
    return adjusted(job, capsys, "--trial", str(path))
