"""One cause is one fault: what follows from a header or a row is not told again."""

import json
import shlex

import pytest

from brasscap.__main__ import main


@pytest.fixture
def job(tmp_path):
    """Return a maker of a copy of an example in which one text was changed once."""

    def make(example, file, old, new):
        folder = tmp_path / example
        assert main(["new", str(folder), "--example", example, "--quiet"]) == 0
        text = (folder / file).read_text("utf-8")
        assert old in text
        (folder / file).write_text(text.replace(old, new, 1), "utf-8")
        return folder

    return make


def faults(capsys, folder):
    capsys.readouterr()
    assert main(["check", "--job", str(folder), "--quiet", "--json"]) == 3
    found = json.loads(capsys.readouterr().out)["findings"]
    return [f for f in found if f["verdict"] == "fault"]


@pytest.mark.parametrize(
    ("example", "file", "old", "new", "slug"),
    [
        # A header without a usable unit: of heights, of a standard deviation.
        ("harbour", "set_ups.csv", "height_m,reading", "height_ft,reading", "foot"),
        ("harbour", "set_ups.csv", "height_m,reading", "height,reading", "unit"),
        ("mill", "instruments.csv", "sd_distance_mm", "sd_distance_ft", "foot"),
        # A row that is a fault already: another datum, a coordinate of letters.
        ("harbour", "control.csv", ",sd,7843,2020,", ",sd,4979,2020,", "frame-differs"),
        ("harbour", "control.csv", "71.3948", "seventy", "not-a-number"),
    ],
)
def test_one_cause_is_one_fault(job, capsys, example, file, old, new, slug):
    found = faults(capsys, job(example, file, old, new))
    assert [f["slug"].startswith(slug) for f in found] == [True], found


def test_another_fault_beside_it_is_told(job, capsys):
    """A height that is missing in a row stays a fault where its header is sound."""
    folder = job("harbour", "set_ups.csv", "slant,slant mark,4.704", "slant,,")
    text = (folder / "set_ups.csv").read_text("utf-8")
    (folder / "set_ups.csv").write_text(text.replace(",1.701,", ",,", 1), "utf-8")
    assert "height-missing" in {f["slug"] for f in faults(capsys, folder)}


def test_a_covariance_under_the_header_of_a_correlation_is_named(job, capsys):
    folder = job("harbour", "baselines.csv", "cov_xy_mm2", "corr_xy")
    found = [f for f in faults(capsys, folder) if f["slug"] == "out-of-range"]
    assert found
    assert {f["likely"] for f in found} == {
        "a covariance: its column is cov_xy_mm2, not corr_…"
    }


def test_a_height_in_feet_is_mended_before_the_place_it_leads_to(job, capsys):
    """1.701 m is 5.581 ft: booked as metres its vectors lead to another place."""
    folder = job("harbour", "set_ups.csv", "1.701,vertical", "5.581,vertical")
    capsys.readouterr()
    assert main(["check", "--job", str(folder), "--quiet"]) == 0
    last = capsys.readouterr().out.splitlines()[-1]
    assert last.endswith("decide unit set-up 'S1-ICE' 'height=ift' --reason …")
    line = last.partition("brasscap ")[2].replace("…", "'booked in feet'")

    assert main([*shlex.split(line), "--who", "AB", "--quiet"]) == 0
    capsys.readouterr()
    assert main(["check", "--job", str(folder), "--quiet", "--json"]) == 0
    slugs = {f["slug"] for f in json.loads(capsys.readouterr().out)["findings"]}
    assert "height-looks-like-feet" not in slugs
    assert "name-two-places" not in slugs
