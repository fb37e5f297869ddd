"""What is said of a large job: the worst rows, full tables beside, a thinner map."""

import csv
import json
import sys
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge import closures as closures_module
from brasscap.adjust.judge.closures import closures
from brasscap.io.tables.load import load
from brasscap.reports import content_loops, content_map, content_tests, worst_rows
from brasscap.reports.content_map import map_figure
from brasscap.reports.content_report import report_document
from brasscap.reports.heading import Heading
from brasscap.reports.html import html
from brasscap.reports.judged import judge
from brasscap.reports.rounding import Units
from brasscap.reports.thinning import thinned

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))
from large_job import write_job

MARKS = 100


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    """A job that is large where tables are long from 60 rows on."""
    folder = tmp_path_factory.mktemp("large") / "job"
    write_job(folder, MARKS, set_ups=False)
    return folder


@pytest.fixture
def short(monkeypatch):
    for module in (worst_rows, content_tests):
        monkeypatch.setattr(module, "LONG", 60)
    monkeypatch.setattr(content_map, "MOST_MARKS", 60)


@pytest.fixture(scope="module")
def judged(job):
    return judge(estimate(load(job).network, "constrained"))


def rows_of(path):
    with path.open(newline="", encoding="utf-8") as file:
        assert next(file).startswith("# adjusted constrained, ")
        return list(csv.DictReader(file))


def test_the_text_shows_the_worst_and_the_files_hold_all(job, short, capsys):
    code = main(["adjust", "--job", str(job), f"--json={job / 'all.json'}"])
    said = capsys.readouterr().out
    assert code == 0
    assert len(said.splitlines()) < 130
    said = " ".join(said.split())
    assert f"20 of {MARKS} rows" in said
    whole = json.loads((job / "all.json").read_text())
    written = {name: job / "results" / "constrained" / f"{name}.csv" for name in FILES}
    for name, path in written.items():
        digest = sha256(path.read_bytes()).hexdigest()
        count = len(rows_of(path))
        assert f"{name}.csv, {count} rows, SHA-256 {digest[:16]}" in said
    marks = rows_of(written["marks"])
    assert [row["station"] for row in marks] == [m["station"] for m in whole["marks"]]
    for row, mark in zip(marks, whole["marks"], strict=True):
        for key in ("x_m", "latitude_deg", "ellipsoidal_height_m"):
            assert float(row[key]) == pytest.approx(mark[key], abs=6e-5, rel=0)
        covariance = np.array(mark["covariance_enu_m2"], dtype=float)
        assert float(row["cov_en_mm2"]) == pytest.approx(
            1e6 * covariance[0, 1], abs=1e-6, rel=1e-4
        )
    tests = rows_of(written["tests"])
    assert len(tests) == len(whole["observations"])
    assert {row["verdict"] for row in tests} <= {"meets", "query", "fails"}


FILES = ("marks", "tests", "baselines")


def test_the_worst_rows_are_the_largest_ellipses(judged, short):
    shown = worst_rows.worst(judged, judged.marks.semi_major, "x", "marks")
    sizes = judged.marks.semi_major
    assert len(shown.rows) == worst_rows.SHOWN
    rest = np.delete(sizes, shown.rows)
    assert sizes[shown.rows].min() >= np.nanmax(rest) * (1 - 1e-6)


def test_a_small_job_writes_no_tables(job, capsys):
    for path in (job / "results").glob("constrained/*"):
        path.unlink()
    assert main(["adjust", "--job", str(job)]) == 0
    assert "SHA-256" not in capsys.readouterr().out
    assert not list((job / "results").glob("constrained/*"))


def test_the_map_draws_one_mark_of_each_square(judged, short, monkeypatch):
    figure = map_figure(judged, Units())
    assert f"of {MARKS} marks are drawn" in figure.caption
    monkeypatch.setattr("brasscap.reports.thinning.SQUARES", 4)
    thinner = map_figure(judged, Units())
    drawn = int(
        thinner.caption.split(" marks are drawn")[0].split(" of ")[-2].split()[-1]
    )
    assert drawn <= 25
    assert len(thinner.svg) < 0.5 * len(figure.svg)
    # Every known mark is among those drawn, for a held one stands for its square.
    for station in judged.adjustment.datum.held:
        assert station.split()[0] in thinner.svg


def test_thinning_keeps_the_heaviest_of_a_square_and_all_have_one_to_stand_for_them():
    rng = np.random.default_rng(2)
    places, weight = rng.uniform(0, 1000, (3000, 2)), rng.uniform(0, 1, 3000)
    places[5] = np.nan
    thin = thinned(places, weight)
    assert thin.place[5] == -1
    stands = thin.drawn[np.delete(thin.place, 5)]
    some = np.delete(np.arange(3000), 5)
    apart = np.abs(places[some] - places[stands]).max(axis=1)
    assert apart.max() <= thin.side
    assert (weight[stands] >= weight[some]).all()
    assert len(thin.drawn) <= 21 * 21


def test_loops_of_many_vectors_are_not_sought_and_that_is_said(job, monkeypatch):
    network = load(job).network
    monkeypatch.setattr(content_loops, "MOST_LOOPS", 10)
    found = closures(network)
    tables = [
        p for p in content_loops.loops_parts(found, Units()) if hasattr(p, "rows")
    ]
    assert any("20 of" in table.note for table in tables)
    monkeypatch.setattr(closures_module, "MOST_VECTORS", 100)
    found = closures(network)
    line = content_loops.loops_line(found)
    assert found.verdict == "unchecked"
    assert line.evidence.startswith(f"not sought among {len(network.vectors)} vectors")


def test_a_page_of_a_large_job_stays_small(judged, short, monkeypatch):
    monkeypatch.setattr(closures_module, "MOST_VECTORS", 100)
    found = closures(judged.network)
    page = html(report_document(judged, Heading(), closed=found))
    assert "results/constrained/marks.csv" in page
    assert "not sought among" in page
    tables = page.split("<table")[1:]
    assert max(table.count("<tr") for table in tables) <= worst_rows.SHOWN + 2
