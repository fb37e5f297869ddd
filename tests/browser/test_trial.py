"""The trial page in Chromium, against full adjustments of the same trials."""

import json
import sys
from pathlib import Path

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brasscap.__main__ import main
from brasscap.json_schemas import schema_of

sys.path.insert(0, str(Path(__file__).parent))
from trial_steps import adjusted, assert_same, now, result, say, tick, tried

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


def test_it_opens_with_the_jobs_own_answer(page, job, capsys):
    found = result(page)
    jsonschema.Draft202012Validator(schema_of("adjust")).validate(found)
    assert_same(found, adjusted(job, capsys))


def test_undo_gives_the_very_same_figures_back(page, job):
    before = now(page)
    kind, name = {
        "harbour": ("baseline", "B2"),
        "mill": ("set-up", "YARD 1 tripod"),
        "tramway": ("level difference", "T1 out"),
    }[job.name]
    tick(page, kind, name, "leave-out")
    assert now(page) != before
    say(page, "byId('undo').click()")
    assert now(page) == before
    assert result(page) == before


def test_undo_goes_back_all_the_way(page, job):
    """Beyond the states that stand ready figures are worked out again, to rounding."""
    start = now(page)
    offered = [one for one in possible(page) if one[0] == "leave-out"][:9]
    keys = ("action", "kind", "name", "value")
    for one in offered:
        change = dict(zip(keys, one, strict=True))
        say(page, "attempt(toggled(changes, arguments[0]), 'tried')", change)
    made = say(page, "return past.length")
    assert made > 5
    for _ in range(made):
        say(page, "byId('undo').click()")
    assert say(page, "return [past.length, changes.length]") == [0, 0]
    back = now(page)
    for mine, theirs in zip(back["marks"], start["marks"], strict=True):
        for key in ("north_m", "east_m", "height_m"):
            if theirs[key] is not None:
                assert mine[key] == pytest.approx(theirs[key], abs=2e-6)
        for row, there in zip(
            mine["covariance_enu_m2"], theirs["covariance_enu_m2"], strict=True
        ):
            known = [v for v in there if v is not None]
            assert [v for v in row if v is not None] == pytest.approx(
                known, rel=1e-5, abs=1e-12
            )


def test_the_page_asks_for_nothing(page, job):
    text = (Path(job) / "trial.html").read_text("utf-8")
    assert "default-src 'none'" in text
    assert "http:" not in text
    assert "https:" not in text
    assert page.get_log("browser") == []


SWITCHED = {
    "harbour": [
        [("leave-out", "baseline", "B2", "")],
        [("leave-out", "session", "S1", ""), ("leave-out", "set-up", "S3-ICE", "")],
        [("free", "known mark plan", "PILOT POINT", "")],
        [("multiplier", "group", "static", "plan=2 height=3")],
        [("plant", "set-up", "S3-ICE", "height 30 mm")],
        [("plant", "baseline", "B2", "east -20 mm")],
    ],
    "mill": [
        [("leave-out", "set-up", "YARD 1 tripod", "")],
        [("leave-out", "direction", "T4-01 + T4-06", "")],
        # The target is then seen across the line and in height, not along it.
        [
            ("leave-out", "slope distance", "F1-08 + F1-09", ""),
            ("leave-out", "slope distance", "F1-24 + F1-25", ""),
        ],
        [("free", "known mark height", "COUNTING HOUSE", "")],
        [("hold", "known mark plan", "WEIR WALL", "")],
        [("plant", "direction", "T4-01 + T4-06", "20 arcsec")],
    ],
    "tramway": [
        [("leave-out", "level difference", "T1 out", "")],
        [("free", "known mark height", "TOLL HOUSE", "")],
        [("plant", "level difference", "T3 out", "10 mm")],
    ],
}


def test_each_kind_of_switch_is_a_full_adjustment(page, job, capsys):
    for listed in SWITCHED[job.name]:
        keys = ("action", "kind", "name", "value")
        changes = [dict(zip(keys, one, strict=True)) for one in listed]
        say(page, "attempt(arguments[0], 'tried')", changes)
        assert say(page, "return changes.length") == len(changes), listed
        about = say(page, "return byId('shift').textContent")
        if "≈" not in about:
            assert_same(now(page), tried(job, page, capsys))


def possible(page):
    """Return all that can be switched off or planted on a page."""
    return say(
        page,
        """return [
            ...[...THINGS.values()].map(t => ["leave-out", t.kind, t.name, ""]),
            ...[...KNOWN.values()].filter(t => t.use).map(
                t => ["free", t.kind, t.name, ""]),
            ...[...PLANTED_IN].flatMap(([kind, names]) => [...names].map(
                ([name, axes]) => ["plant", kind, name,
                (axes.at(-1) === "value" ? "" : axes.at(-1) + " ")
                + (ANGLES.includes(kind) ? "9 arcsec" : "7 mm")])),
        ]""",
    )


@settings(
    max_examples=4,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_any_switches_are_a_full_adjustment(page, job, capsys, data):
    """One after another, so that each starts from where the last one ended."""
    offered = possible(page)
    say(page, "attempt([], 'start')")
    keys = ("action", "kind", "name", "value")
    for k in data.draw(
        st.lists(st.integers(0, len(offered) - 1), min_size=1, max_size=4)
    ):
        change = dict(zip(keys, offered[k], strict=True))
        say(page, "attempt(toggled(changes, arguments[0]), 'tried')", change)
    if "≈" not in say(page, "return byId('shift').textContent"):
        assert_same(now(page), tried(job, page, capsys))


@pytest.mark.parametrize("job", ["harbour"], indirect=True)
def test_the_only_tie_is_refused_in_words(page):
    """Nothing changes, and the words say which mark would hang in the air."""
    before = now(page)
    tick(page, "baseline", "B21", "leave-out")
    words = say(page, "return byId('told').textContent")
    assert "baseline B21 is the only tie of DUNE TRACK" in words
    assert now(page) == before
    box = "return document.querySelector('[data-name=B21]').checked"
    assert say(page, box) is True
    tick(page, "baseline", "P1", "add")
    tick(page, "baseline", "B21", "leave-out")
    assert "only tie" not in say(page, "return byId('told').textContent")


def test_added_work_is_worth_what_a_full_adjustment_says(page, job, capsys):
    """Stated covariances, m²; the variance factor does not count what nobody saw."""
    offered = say(page, "return [...PLANNED.values()].map(t => [t.kind, t.name])")
    factor = now(page)["variance_factor"]
    for kind, name in offered[:2] + offered[-1:]:
        tick(page, kind, name, "add")
    found, wanted = now(page), tried(job, page, capsys)
    for mine, theirs in zip(found["marks"], wanted["marks"], strict=True):
        pair = mine["covariance_enu_m2"], theirs["covariance_enu_m2"]
        for row, there in zip(*pair, strict=True):
            known = [v for v in there if v is not None]
            assert [v for v in row if v is not None] == pytest.approx(
                known, rel=1e-3, abs=1e-9
            )
    assert found["variance_factor"] == factor


def test_a_trial_file_goes_out_and_in(page, job):
    kind, name = say(page, "return (t => [t.kind, t.name])([...THINGS.values()][1])")
    tick(page, kind, name, "leave-out")
    there = now(page)
    path = job / "saved.json"
    path.write_text(say(page, "return JSON.stringify(trialFile(changes))"), "utf-8")
    jsonschema.Draft202012Validator(schema_of("trial")).validate(
        json.loads(path.read_text("utf-8"))
    )
    say(page, "byId('reset').click()")
    assert now(page) != there
    page.find_element("id", "open").send_keys(str(path))
    page.execute_async_script("setTimeout(arguments[0], 50)")
    found = now(page)
    assert found["marks"] == there["marks"]
    path.write_text(path.read_text("utf-8").replace('"job_hash":"', '"job_hash":"0'))
    page.find_element("id", "open").send_keys(str(path))
    page.execute_async_script("setTimeout(arguments[0], 50)")
    assert "another state" in say(page, "return byId('told').textContent")
    assert now(page) == found


PARTS = {
    "harbour": ("SIGNAL HILL,LEADING LIGHT,BREAKWATER 2,PILOT POINT", "B14"),
    "tramway": ("", "T3 out"),
}


@pytest.mark.parametrize("job", ["harbour", "tramway"], indirect=True)
def test_a_part_has_the_figures_of_the_whole(driver, job, capsys):
    """What is switched in a part moves its marks as it does in the whole network."""
    named, name = PARTS[job.name]
    if not named:
        marks = [m["station"] for m in adjusted(job, capsys)["marks"]]
        named = ",".join(marks[:6])
    page = job / "part.html"
    words = ("trial", "--job", str(job), "--out", str(page), "--stations", named)
    assert main([*words, "--quiet"]) == 0
    driver.get(page.as_uri())
    kinds = {"harbour": "baseline", "tramway": "level difference"}
    tick(driver, kinds[job.name], name, "leave-out")
    assert say(driver, "return changes.length") == 1
    found, wanted = now(driver), tried(job, driver, capsys)
    assert "A part" in say(driver, "return document.body.innerText")
    for key in ("value", "degrees_of_freedom"):
        factor = wanted["variance_factor"][key]
        assert found["variance_factor"][key] == pytest.approx(factor, rel=1e-4)
    theirs = {m["station"]: m for m in wanted["marks"]}
    assert len(found["marks"]) == len(named.split(","))
    for mine in found["marks"]:
        other = theirs[mine["station"]]
        for key in ("north_m", "east_m", "height_m"):
            if other[key] is not None:
                assert mine[key] == pytest.approx(other[key], abs=1e-5)
        for key in ("semi_major_mm", "semi_minor_mm"):
            near = other["ellipse"][key]
            assert mine["ellipse"][key] == (
                None if near is None else pytest.approx(near, abs=0.01)
            )


@pytest.mark.parametrize("job", ["harbour"], indirect=True)
def test_no_pair_meets_while_the_tests_fail(page):
    """The harbour's height blunder is in it, and then left out with its set-up."""
    assert say(page, "return byId('pair-verdict').textContent") == "unchecked"
    assert "while the tests fail" in say(page, "return byId('pair-more').textContent")
    assert "-0.0" not in say(page, "return byId('marks').textContent")
    tick(page, "set-up", "S3-ICE", "leave-out")
    assert say(page, "return byId('factor-verdict').textContent") == "meets"
    assert say(page, "return byId('pair-verdict').textContent") == "meets"


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("height -30 mm", "blunder planted, height booked too small by 30 mm"),
        ("height 30 mm", "blunder planted, height booked too large by 30 mm"),
        ("-12 arcsec", "blunder planted, booked too small by 12 arcsec"),
    ],
)
def test_the_sign_of_a_planted_blunder_is_a_word(page, value, said):
    change = {"action": "plant", "kind": "set-up", "name": "X", "value": value}
    assert say(page, "return said(arguments[0])", change).endswith(said)
