"""The shipped example: complete, plain, as its maker makes it, and as it is meant."""

import csv
import runpy
from pathlib import Path

import numpy as np
import pytest
from scipy.special import chdtri

from brasscap.adjust import estimate
from brasscap.adjust.judge import blunder_tests, checked_marks
from brasscap.io.tables.load import load
from brasscap.networks import CommandError
from brasscap.networks.example_jobs import example_files, example_names
from brasscap.networks.simulate import simulate

TESTS = Path(__file__).parent
MAKER = runpy.run_path(str(TESTS / "make_example.py"))
FROZEN = TESTS / "benchmarks" / "example_as_first_shipped"


def test_the_example_is_listed_and_plain_text():
    assert example_names() == ("harbour",)
    files = example_files("harbour")
    assert "job.toml" in files
    for name, content in files.items():
        assert name.endswith((".toml", ".csv"))
        content.decode("ascii")


def test_an_unknown_example_is_refused_with_the_known_ones():
    with pytest.raises(CommandError, match="harbour"):
        example_files("harbor")


def cells(text):
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return list(csv.reader(lines))


def test_the_shipped_files_are_what_the_maker_writes():
    """Numbers to two units of the last digit: arithmetic differs between machines."""
    shipped = {name: raw.decode() for name, raw in example_files("harbour").items()}
    made = MAKER["files"]()
    assert sorted(shipped) == sorted(made)
    assert shipped["job.toml"] == made["job.toml"]
    for name in set(made) - {"job.toml"}:
        ours, theirs = cells(made[name]), cells(shipped[name])
        assert len(ours) == len(theirs)
        for own, other in zip(ours, theirs, strict=True):
            for a, b in zip(own, other, strict=True):
                assert a == b or abs(float(a) - float(b)) < 2.5e-4, (name, a, b)


def test_the_blunder_is_in_the_book_and_the_second_reading_has_it_right():
    rows = cells(example_files("harbour")["set_ups.csv"].decode())
    row = {
        key: value
        for line in rows
        if line[0] == MAKER["PLANTED"].about
        for key, value in zip(rows[0], line, strict=True)
    }
    booked = float(row["height_m"])
    second = float(row["height_second_reading_ift"]) * 0.3048
    assert booked - second == pytest.approx(MAKER["PLANTED"].shift[2], abs=0.0005)
    assert sorted(row["height_m"]) == sorted("1.617")  # the same digits, exchanged


def test_every_session_is_independent_vectors_with_all_cross_blocks():
    """R receivers give R − 1 vectors, and (R − 1)(R − 2)/2 pairs of nine elements."""
    files = {k: v.decode() for k, v in example_files("harbour").items()}
    vectors = cells(files["baselines.csv"])[1:]
    cross = cells(files["covariances.csv"])[1:]
    session = {row[0]: row[1] for row in vectors}
    receivers = {}
    for row in vectors:
        receivers.setdefault(row[1], set()).update(row[2:4])
    for name, used in receivers.items():
        count = sum(1 for row in vectors if row[1] == name)
        pairs = [row for row in cross if session[row[1]] == name == session[row[3]]]
        assert count == len(used) - 1
        assert len(pairs) == 9 * count * (count - 1) // 2


def test_the_frozen_copy_is_a_whole_job():
    """Kept for the benchmarks as first shipped, whatever becomes of the example."""
    load(FROZEN)


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    folder = tmp_path_factory.mktemp("harbour")
    for name, content in example_files("harbour").items():
        (folder / name).write_bytes(content)
    return load(folder)


def test_the_example_loads_with_one_query_about_the_two_readings(loaded):
    assert not [f for f in loaded.findings if f.verdict == "fault"]
    readings = [f for f in loaded.findings if f.slug == "readings-disagree"]
    assert len(readings) == 1
    assert readings[0].verdict == "query"
    assert MAKER["PLANTED"].about in readings[0].about


@pytest.mark.parametrize("mode", ["minimal", "constrained"])
def test_the_planted_height_leads_the_tests_and_fails(loaded, mode):
    tests = blunder_tests(estimate(loaded.network, mode))
    first, second = tests.order()[:2]
    assert (tests.kind[first], tests.name[first]) == ("set-up height", "S3-ICE")
    assert tests.verdict[first] == "fails"
    # The same set-up, place and height together, comes next: nothing else rivals it.
    assert tests.name[second] == "S3-ICE"
    booked_too_large = tests.tests.shift[first, 2]
    sd = tests.tests.sd_shift[first, 2]
    assert abs(booked_too_large - MAKER["PLANTED"].shift[2]) < 3 * sd


def test_what_hangs_on_one_vector_is_unchecked_and_all_else_is_checked(loaded):
    adjustment = estimate(loaded.network)
    checked = checked_marks(adjustment, blunder_tests(adjustment))
    names = loaded.network.marks.name
    assert [n for n, c in zip(names, checked, strict=True) if not c.all()] == [
        "DUNE TRACK"
    ]


def test_without_the_blunder_the_misfit_is_what_chance_gives():
    """The plan's own noise: vᵀPv is chi-square, here well inside 1 in 1000."""
    random = np.random.default_rng(MAKER["SEED"])
    network = simulate(MAKER["plan"](MAKER["occupations"](random)), seed=MAKER["SEED"])
    adjustment = estimate(network)
    freedom = adjustment.degrees_of_freedom
    assert chdtri(freedom, 0.9995) < adjustment.vtpv < chdtri(freedom, 0.0005)


DECISION = """decision,when_utc,who,action,about_kind,about,value,reason
D1,2026-03-13T01:00:00Z,mp,value,set-up,S3-ICE,height_m=1.617,second reading
"""


def test_the_height_by_the_second_reading_settles_it(tmp_path):
    """What the crew's own second reading says leaves nothing that fails."""
    for name, content in example_files("harbour").items():
        (tmp_path / name).write_bytes(content)
    (tmp_path / "decisions.csv").write_text(DECISION)
    tests = blunder_tests(estimate(load(tmp_path).network))
    assert set(tests.verdict) == {"meets", "unchecked"}
