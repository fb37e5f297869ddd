"""The shipped examples: complete, plain, as their makers make them, and as meant.

Invented data: what is held here is that each job shows what it was made to show, and
nothing about the arithmetic.
"""

import csv
import re
import runpy
import shutil
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from scipy.special import chdtri

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge import blunder_tests, checked_marks
from brasscap.io.record.copies import job_files
from brasscap.io.tables.load import load
from brasscap.networks import CommandError
from brasscap.networks.example_jobs import example_files, example_names
from brasscap.networks.simulate import simulate

TESTS = Path(__file__).parent
MAKERS = runpy.run_path(str(TESTS / "make_examples"))
NAMES = tuple(MAKERS["EXAMPLES"])
PLANTED = {name: example.PLANTED for name, example in MAKERS["EXAMPLES"].items()}
FROZEN = TESTS / "benchmarks" / "example_as_first_shipped"


@cache
def planned(name):
    return MAKERS["planned"](name)


@cache
def loaded(name):
    """Return the shipped example, loaded as ``brasscap new`` would lay it down."""
    with TemporaryDirectory() as folder:
        for file, content in example_files(name).items():
            (Path(folder) / file).parent.mkdir(parents=True, exist_ok=True)
            (Path(folder) / file).write_bytes(content)
        return load(Path(folder))


@cache
def judged(name, mode):
    adjustment = estimate(loaded(name).network, mode)
    return adjustment, blunder_tests(adjustment)


def cells(text):
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return list(csv.reader(lines))


def shipped(name):
    return {file: raw.decode() for file, raw in example_files(name).items()}


def column(rows, name):
    place = rows[0].index(name)
    return [row[place] for row in rows[1:]]


def test_the_examples_are_listed_and_plain_text():
    assert example_names() == tuple(sorted(NAMES)) == ("harbour", "mill", "tramway")
    for name in NAMES:
        files = example_files(name)
        assert "job.toml" in files
        for file, content in files.items():
            assert file.endswith((".toml", ".csv"))
            content.decode("ascii")


def test_an_unknown_example_is_refused_with_the_known_ones():
    with pytest.raises(CommandError, match="harbour, mill, tramway"):
        example_files("harbor")


@pytest.mark.parametrize("name", NAMES)
def test_the_shipped_files_are_what_the_makers_write_byte_for_byte(name):
    """But for a last digit or two, where the rounding of a machine may fall apart.

    A number is printed to 1e-4 or 0.1″ of values good to 1e-9, so that another
    machine's arithmetic moves one number in thousands by its last digit.
    """
    made, there = MAKERS["make"](name), shipped(name)
    assert sorted(made) == sorted(there)
    apart = []
    for file in made:
        if made[file] == there[file]:
            continue
        ours, theirs = cells(made[file]), cells(there[file])
        assert [len(row) for row in ours] == [len(row) for row in theirs], file
        for own, other in zip(ours, theirs, strict=True):
            apart += [(file, a, b) for a, b in zip(own, other, strict=True) if a != b]
    assert len(apart) <= 2, apart
    for file, a, b in apart:
        digits = [int("".join(c for c in cell if c.isdigit())) for cell in (a, b)]
        assert abs(digits[0] - digits[1]) == 1, (file, a, b)


def test_what_came_later_is_not_read_until_it_is_copied_over(tmp_path):
    """The same input with and without later/; no part of it in a record; another once
    it stands among the tables."""
    for file, content in example_files("harbour").items():
        (tmp_path / file).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / file).write_bytes(content)
    assert not [name for name in job_files(tmp_path) if name.startswith("later")]
    before = load(tmp_path).computed_hash
    control = (tmp_path / "later" / "control.csv").read_bytes()
    shutil.rmtree(tmp_path / "later")
    assert load(tmp_path).computed_hash == before
    (tmp_path / "control.csv").write_bytes(control)
    assert load(tmp_path).computed_hash != before


INTENDED = {
    # The crew's second reading of the planted height, and the mark on one vector.
    "harbour": {("readings-disagree", "S3-ICE"), ("hangs-loose", "DUNE TRACK")},
    "mill": set(),
    "tramway": set(),
}


@pytest.mark.parametrize("name", NAMES)
def test_an_example_loads_without_faults_and_with_the_queries_it_was_made_for(name):
    findings = loaded(name).findings
    assert not [f for f in findings if f.verdict == "fault"]
    queries = [f for f in findings if f.verdict == "query"]
    assert len(queries) == len(INTENDED[name])
    for slug, about in INTENDED[name]:
        assert any(f.slug == slug and about in f.about for f in queries)


@pytest.mark.parametrize("mode", ["minimal", "constrained"])
@pytest.mark.parametrize("name", NAMES)
def test_the_planted_blunder_leads_the_tests_and_fails(name, mode):
    planted, (_, tests) = PLANTED[name], judged(name, mode)
    first = tests.order()[0]
    assert (tests.kind[first], tests.name[first]) == (planted.kind, planted.about)
    assert tests.verdict[first] == "fails"
    size = np.nonzero(planted.shift)[0]
    found, sd = tests.tests.shift[first, size], tests.tests.sd_shift[first, size]
    assert (np.abs(found - np.array(planted.shift)[size]) < 1.96 * sd).all()


@pytest.mark.parametrize("name", NAMES)
def test_run_names_the_planted_blunder_first(name, tmp_path, capsys):
    folder = tmp_path / name
    assert main(["new", str(folder), "--example", name, "--quiet"]) == 0
    capsys.readouterr()
    assert main(["--job", str(folder), "run", "--quiet"]) == 1
    said = " ".join(capsys.readouterr().out.split())
    (first,) = re.findall(r"largest finding: (.*?) Minimally", said)
    assert PLANTED[name].about in first
    assert "too large" in first
    assert (folder / "reports" / "report.html").is_file()


@pytest.mark.parametrize("name", NAMES)
def test_without_the_blunder_nothing_fails_and_the_misfit_is_what_chance_gives(name):
    """The plan's own noise: vᵀPv is chi-square, here well inside 1 in 1000."""
    adjustment = estimate(
        simulate(planned(name), seed=MAKERS["EXAMPLES"][name].SEED), "constrained"
    )
    freedom = adjustment.degrees_of_freedom
    assert chdtri(freedom, 0.9995) < adjustment.vtpv < chdtri(freedom, 0.0005)
    assert set(blunder_tests(adjustment).verdict) <= {"meets", "unchecked"}


@pytest.mark.parametrize(
    ("name", "unchecked"),
    [
        # One vector, and nothing else.
        ("harbour", {"DUNE TRACK": [False, False]}),
        # In plan: under a tripod that instrument and target shared. A levelling
        # bolt has no plan.
        ("mill", {"YARD 3": [False, True], "COUNTING HOUSE": [False, True]}),
    ],
)
def test_what_nothing_checks_is_what_it_was_made_to_be(name, unchecked):
    adjustment, tests = judged(name, "constrained")
    checked = checked_marks(adjustment, tests)
    names = loaded(name).network.marks.name
    assert {
        mark: both.tolist()
        for mark, both in zip(names, checked, strict=True)
        if not both.all()
    } == unchecked


def test_heights_alone_are_all_checked():
    adjustment, tests = judged("tramway", "constrained")
    assert loaded("tramway").network.dimension == "height"
    assert checked_marks(adjustment, tests)[:, 1].all()


def test_each_example_has_the_kinds_that_it_stands_for():
    kinds = {
        name: {
            "vectors": len(loaded(name).network.vectors) > 0,
            "sights": len(loaded(name).network.sights) == 3,
            "levels": loaded(name).network.levels is not None,
        }
        for name in NAMES
    }
    assert kinds == {
        "harbour": {"vectors": True, "sights": True, "levels": True},
        "mill": {"vectors": False, "sights": True, "levels": True},
        "tramway": {"vectors": False, "sights": False, "levels": True},
    }


def test_the_frozen_copy_is_a_whole_job():
    """Kept for the benchmarks as first shipped, whatever becomes of the example."""
    load(FROZEN)


def test_the_target_height_of_the_mill_has_two_digits_exchanged():
    rows = cells(shipped("mill")["total_station.csv"])
    booked = {
        height
        for set_up, mark, height in zip(
            *(column(rows, c) for c in ("set_up", "target_station", "target_height_m")),
            strict=True,
        )
        if (set_up, mark) == ("T2", "LOADING DOCK")
    }
    assert booked == {"1.573"}
    assert 1.573 - PLANTED["mill"].shift[2] == pytest.approx(1.537)


def test_tripods_of_the_mill_and_the_harbour_serve_instrument_and_target():
    for name, shared in (("mill", 5), ("harbour", 3)):
        rows = cells(shipped(name)["set_ups.csv"])
        tripods = [tripod for tripod in column(rows, "forced_centring") if tripod]
        assert len(set(tripods)) == shared
        assert all(tripods.count(tripod) >= 2 for tripod in tripods)


def test_the_mill_has_a_free_station():
    rows = cells(shipped("mill")["set_ups.csv"])
    stations = column(rows, "station")
    free = [n for n, s in zip(column(rows, "set_up"), stations, strict=True) if not s]
    assert free == ["F1"]


def test_runs_of_the_tramway_go_out_and_back_but_for_two_sections():
    rows = cells(shipped("tramway")["levels.csv"])
    runs = column(rows, "run")
    assert runs.count("out") == runs.count("back") == 8
    assert runs.count("single") == 2
