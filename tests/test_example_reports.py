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


def test_every_verdict_stands_on_the_first_page(tmp_path, capsys):
    """Precision and reliability of the specification; known marks of either solution,
    and that of the queries agrees with them: PILOT POINT is moved by 400 mm."""
    folder = tmp_path / "harbour"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    control = folder / "control.csv"
    text = control.read_text("utf-8").replace("595110.8834", "595111.2834")
    control.write_text(text, "utf-8")
    assert main(["--job", str(folder), "run", "--quiet"]) == 1
    page = (folder / "reports" / "report.html").read_text("utf-8")
    sections = {
        name: " ".join(re.sub(r"<[^>]+>", " ", part).split())
        for name, part in re.findall(
            r'id="(verdict|queries)"(.*?)</section>', page, re.S
        )
    }
    verdict, queries = sections["verdict"], sections["queries"]
    for what in ("precision", "reliability"):
        assert f"quay, pairs in plan: {what}" in verdict
    said = re.search(r"control, constrained \S+ (\w+) .*? query (\w{4})", verdict)
    assert said[1] == "fails"
    row = queries.split(said[2])[1]
    assert "fails known-mark-differs: constrained solution: known minus" in row
    assert "control, minimal" in verdict
