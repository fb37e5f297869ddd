"""Field tests of rovers after ISO 17123-8: sums by hand, factors of the standard."""

import contextlib
import io
import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust.follow.field_tests import field_tests, largest_sd
from brasscap.networks.field_tests import FieldSets
from brasscap.networks.shots import labels

SIGNS = [1, -1] * 7 + [0]
"""Of fifteen sets: fourteen off by the same, to either side, and one not at all."""
HEADER = (
    "test,series,set,replaces,start_utc,first_north_m,first_east_m,first_height_m,"
    "second_north_m,second_east_m,second_height_m,distance_m,rise_m,sd_plan_mm,"
    "sd_height_mm"
)


def rows(
    test: str = "rover 4711",
    *,
    off: Sequence[float] = (8.0, 6.0, 12.0),
    stated: str = "10.000,0.200,7,9.5",
    sets: int = 15,
) -> list[str]:
    """Return sets: both points off by the same, mm east, north, height."""
    made = []
    for k in range(sets):
        east, north, up = (SIGNS[k] * some / 1000 for some in off)
        series = k // 5
        time = f"2026-04-01T{8 + 2 * series:02d}:{5 * (k % 5):02d}:00Z"
        made.append(
            f"{test},{series + 1},{k % 5 + 1},,{time},"
            f"{1000 + north:.3f},{1000 + east:.3f},{10 + up:.3f},"
            f"{1006 + north:.3f},{1008 + east:.3f},{10.2 + up:.3f},"
            f"{stated if not k else ',,,'}"
        )
    return made


def check(folder: Path) -> tuple[int, dict]:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        code = main(["topo", "check", "--json", "--quiet", "--job", str(folder)])
    return code, json.loads(out.getvalue())


@pytest.fixture
def tested(topo_job):
    """Return the job with one shot and a field test of these rows, checked."""

    def make(lines: Sequence[str]) -> tuple[int, dict]:
        return check(topo_job({}, field_test="\n".join([HEADER, *lines]) + "\n"))

    return make


def test_the_factors_are_those_of_the_standard():
    """ISO 17123-8:2015 (from memory): s_xy ≤ 1.15 σ_xy with 56 degrees of freedom, s_h
    ≤ 1.22 σ_h with 28; chi-square of 56 at 95 % 74.468, of 28 41.337 (any table):
    √(74.468 / 56) = 1.1532, √(41.337 / 28) = 1.2150."""
    assert largest_sd(1.0, 56) == pytest.approx(1.1532, abs=5e-5)
    assert largest_sd(1.0, 28) == pytest.approx(1.2150, abs=5e-5)


def test_a_full_test(tested):
    """By hand, in mm: each point has 14 residuals of ± 8 east, both points 28 · 8²,
    over 28 degrees of freedom s_x = 8; s_y = 6, s_xy = 10, s_h = 12. Stated 7 per
    axis, 7 √2 = 9.8995 in plan: limit 1.1532 · 9.8995 = 11.4161. Height stated 9.5:
    limit 1.2150 · 9.5 = 11.5428, so that 12 fails."""
    code, found = tested(rows())
    assert code == 1
    test = found["field_tests"][0]
    assert (test["test"], test["series_count"], test["sets_count"]) == (
        "rover 4711",
        3,
        15,
    )
    assert test["lacks"] == []
    plan, height = test["parts"]
    assert (plan["degrees_of_freedom"], height["degrees_of_freedom"]) == (56, 28)
    assert plan["sd_mm"] == pytest.approx(10, abs=1e-3)
    assert plan["limit_mm"] == pytest.approx(11.4161, abs=1e-3)
    assert height["sd_mm"] == pytest.approx(12, abs=1e-3)
    assert height["limit_mm"] == pytest.approx(11.5428, abs=1e-3)
    assert (plan["verdict"], height["verdict"]) == ("meets", "fails")
    assert all(not one["off"] for one in test["sets"])


def test_half_a_test_is_a_query_and_says_what_it_lacks(tested):
    _, found = tested(rows(sets=5, stated="10.000,0.200,20,30"))
    test = found["field_tests"][0]
    assert [part["degrees_of_freedom"] for part in test["parts"]] == [16, 8]
    assert {part["verdict"] for part in test["parts"]} == {"query"}
    assert test["lacks"] == ["1 series of 5 sets; a full test has 3 of 5"]


def test_without_a_stated_sd_nothing_is_judged(tested):
    code, found = tested(rows(stated="10.000,0.200,,"))
    parts = found["field_tests"][0]["parts"]
    assert {part["verdict"] for part in parts} == {"unchecked"}
    assert [part["limit_mm"] for part in parts] == [None, None]
    assert code == 0


def test_a_set_off_the_known_distance_is_taken_again(tested):
    """By hand: second point 61 mm too far east: along (8, 6)/10 m the distance is
    √(8.061² + 6²) − 10 = 0.0489 m off; 2.5 · √2 · 7 √2 = 35 mm is allowed."""
    lines = rows(stated="10.000,0.200,7,20")
    lines[3] = lines[3].replace("1007.992", "1008.053")
    _, found = tested(lines)
    test = found["field_tests"][0]
    bad = test["sets"][3]
    assert bad["distance_misfit_mm"] == pytest.approx(48.9, abs=0.05)
    assert bad["distance_limit_mm"] == pytest.approx(35)
    assert bad["off"]
    assert test["lacks"] == ["1 set off the known distance or rise, to be taken again"]
    again = rows(stated=",,,")[3].replace(",1,4,,", ",1,4b,4,")
    _, found = tested([*lines, again])
    test = found["field_tests"][0]
    assert test["lacks"] == []
    assert test["sets"][3]["replaced"]
    assert {part["verdict"] for part in test["parts"]} == {"meets"}
    assert test["parts"][0]["sd_mm"] == pytest.approx(10, abs=1e-3)


def test_two_campaigns_are_compared(tested):
    """By hand: heights 12 against 8 mm, ratio 2.25; ISO 17123-8 (from memory) allows
    0.47 to 2.13 with 28 degrees of freedom, 0.59 to 1.70 with 56: plan 10 against 10
    is equal."""
    wide = "10.000,0.200,20,30"
    lines = rows("Monday", off=(8, 6, 8), stated=wide)
    _, found = tested([*lines, *rows("Friday", stated=wide)])
    plan, height = found["field_tests"][1]["against_the_one_before"]
    assert plan["variance_ratio"] == pytest.approx(1, abs=1e-6)
    assert (plan["lower"], plan["upper"]) == pytest.approx((0.589, 1.698), abs=1e-3)
    assert height["variance_ratio"] == pytest.approx(2.25, abs=1e-4)
    assert (height["lower"], height["upper"]) == pytest.approx((0.4695, 2.13), abs=1e-3)
    assert (plan["verdict"], height["verdict"]) == ("meets", "query")


def test_the_distance_is_on_the_ground():
    """By hand: 20 m of tape are 19.992 m on a grid of 0.9996; such a set is not off."""
    one = np.zeros((1, 3))
    sets = FieldSets(
        ("1",), labels(["r"]), labels(["1"]), np.array(["NaT"], "datetime64[ms]"),
        one, np.array([[19.992, 0, 0]]), np.zeros(1, dtype=bool), np.array([20.0]),
        np.array([0.0]), np.array([0.001]), np.array([0.001]),
    )  # fmt: skip
    found = field_tests(sets, 0.9996)
    assert found.misfits.distance[0] == pytest.approx(0, abs=1e-9)
    assert [part.verdict for part in found.tests[0].parts] == ["unchecked"] * 2


def test_as_many_good_rovers_fail_as_claimed():
    """Chance: of 600 full tests with the stated sd, one part fails in 5 % each; three
    sds of a binomial share are 2.7 %."""
    random = np.random.default_rng(17123)
    count, sets = 600, 15
    noise = random.normal(0, [0.007, 0.007, 0.01], (2, count * sets, 3))
    words = [f"t{k // sets}" for k in range(count * sets)]
    three = labels([f"{w}{k % sets // 5}" for k, w in enumerate(words)])
    never = np.full(count * sets, np.datetime64("NaT"), dtype="datetime64[ms]")
    each = np.ones(count)
    made = field_tests(
        FieldSets(
            tuple("1" * count * sets), labels(words), three, never, noise[0],
            noise[1] + [10, 0, 0], np.zeros(count * sets, dtype=bool), 10 * each,
            0 * each, 0.007 * each, 0.01 * each,
        ),
        1.0,
    )  # fmt: skip
    for part in (0, 1):
        share = np.mean([one.parts[part].verdict == "fails" for one in made.tests])
        assert share == pytest.approx(0.05, abs=0.027)


def test_faults_of_the_table_are_told(tested):
    lines = rows()
    lines[1] = lines[1].replace(",1,2,,", ",1,2,9,").removesuffix(",,,") + "10.5,,,"
    code, found = tested(lines)
    assert code == 3
    slugs = {one["slug"] for one in found["findings"]}
    assert slugs == {"unknown-set", "field-test-value-differs"}


def test_the_text_says_pass_or_fail_with_the_freedom(topo_job, capsys):
    folder = topo_job({}, field_test="\n".join([HEADER, *rows()]) + "\n")
    assert main(["topo", "check", "--quiet", "--job", str(folder)]) == 1
    said = capsys.readouterr().out
    line = next(row for row in said.splitlines() if "field test " in row)
    assert "fails" in line
    assert "degrees of freedom" in " ".join(said.split()) or "freedom" in said
    assert "ISO 17123-8" in " ".join(said.split())
