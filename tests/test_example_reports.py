"""Reports of jobs without GNSS: no plan is made up, and what is checked is said."""

import json
import re

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.io.tables.load import load
from brasscap.reports.judged import judge


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    """Return the folder of an example that was run."""

    def run(name):
        folder = tmp_path_factory.mktemp("ran") / name
        assert main(["new", str(folder), "--example", name, "--quiet"]) == 0
        assert main(["--job", str(folder), "run", "--quiet"]) == 1
        return folder

    return {name: run(name) for name in ("mill", "tramway")}


def adjusted(folder, capsys):
    capsys.readouterr()
    main(["--job", str(folder), "adjust", "--json"])
    found = json.loads(capsys.readouterr().out)
    return {mark["station"]: mark for mark in found["marks"]}


def test_a_job_of_heights_says_no_north_and_no_east(ran, capsys):
    marks = adjusted(ran["tramway"], capsys)
    assert {mark["north_m"] for mark in marks.values()} == {None}
    assert {mark["east_m"] for mark in marks.values()} == {None}
    assert all(10 < mark["height_m"] < 40 for mark in marks.values())
    page = (ran["tramway"] / "reports" / "report.html").read_text("utf-8")
    assert "No map: this job has heights alone" in page
    assert "0.0000" not in page.split('id="marks"')[1].split("<section")[0]


def test_a_job_of_heights_counts_its_marks_as_checked(ran):
    page = (ran["tramway"] / "reports" / "report.html").read_text("utf-8")
    words = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    assert "marks checked 6 meets" in words
    assert "nothing checks anything" not in words
    assert re.search(r"smallest blunder of a single observation .* is \d", words)


def test_a_bolt_that_only_levels_reach_has_a_height_and_no_place(ran, capsys):
    marks = adjusted(ran["mill"], capsys)
    bolt = marks["COUNTING HOUSE"]
    assert (bolt["north_m"], bolt["east_m"]) == (None, None)
    assert bolt["height_m"] == 102.046  # held
    assert bolt["checked"]
    assert not marks["YARD 3"]["checked"]
    page = (ran["mill"] / "reports" / "report.html").read_text("utf-8")
    assert "map-mark_20_YARD_20_1" in page
    assert "map-mark_20_COUNTING_20_HOUSE" not in page.split("</svg>")[0]


def test_a_plot_leaves_out_what_has_no_place(ran):
    from brasscap.reports.plots import network_figure

    judged = judge(estimate(load(ran["mill"]).network))
    (axes,) = network_figure(judged).axes
    drawn = [text.get_position() for text in axes.texts]
    assert np.isfinite(axes.get_xlim()).all()
    assert len(drawn) == len(judged.network.marks) - 1
