"""The orthometric correction that levelled runs neglect, and a height told once."""

import json

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge.orthometric import (
    neglected_corrections,
    orthometric_correction,
)
from brasscap.adjust.precision.heights import (
    orthometric_covariance,
    orthometric_heights,
)
from brasscap.io.tables.load import load
from brasscap.networks.example_jobs import example_files

JOB = """schema = 1
[job]
title = "pass"
who = "ab"
[frame]
kind = "geodetic"
geographic_epsg = 4979
epoch = 2020.0
geoid = "none"
[network]
dimension = "height"
[levels]
sd_mm_per_sqrt_km = 1.0
"""


@pytest.fixture
def line(tmp_path):
    """A line over a pass: 45° to 45° 10′ north in two runs, at 2000 m."""
    folder = tmp_path / "pass"
    folder.mkdir()
    (folder / "job.toml").write_text(JOB)
    (folder / "stations.csv").write_text(
        "station,approx_latitude_deg,approx_longitude_deg,approx_ellipsoidal_height_m\n"
        "A,45.0,7.0,1900\nB,45.08333333,7.0,2100\nC,45.16666667,7.0,1900\n"
    )
    (folder / "control.csv").write_text("station,use_height,height_m\nA,held,1900.0\n")
    (folder / "levels.csv").write_text(
        "section,from_station,to_station,rise_m,run,length_km\n"
        "L1,A,B,200.000,single,10\nL2,B,C,-200.000,single,10\n"
        "L2,C,B,200.001,back,10\n"
    )
    return folder


def test_the_formula_by_normal_gravity():
    """Against the normal gravity g of GRS 80 by Somigliana's formula (Moritz 1980:
    9.7803267715 at the equator, 9.8321863685 m/s² at the pole): a level way at H
    rises by −H · dg/g. To 1 %, as the formula has two figures."""

    def gravity(latitude):
        a, b, ge, gp = 6378137.0, 6356752.3141, 9.7803267715, 9.8321863685
        c, s = np.cos(latitude) ** 2, np.sin(latitude) ** 2
        return (a * ge * c + b * gp * s) / np.sqrt(a * a * c + b * b * s)

    south, north, height = np.radians(47.0), np.radians(47.5), 1500.0
    middle = gravity((south + north) / 2)
    exact = -height * (gravity(north) - gravity(south)) / middle
    found = orthometric_correction(
        np.array([height]), np.array([(south + north) / 2]), np.array([north - south])
    )
    assert found[0] == pytest.approx(exact, rel=0.01)


def test_a_high_line_northwards_is_asked_about(line, capsys):
    """By hand: run L1, mean 2000 m, 5′: −0.0053 · 2000 · sin 90.08° · 0.00145444 =
    −15.4 mm; the second as much again: 30.8 mm from A to C, of sd 3.2 mm a run."""
    made = neglected_corrections(estimate(load(line).network, "constrained"))
    assert made.correction[:2] * 1000 == pytest.approx([-15.4, -15.4], abs=0.05)
    # A run booked the other way has the other sign.
    assert made.correction[2] * 1000 == pytest.approx(15.4, abs=0.05)
    assert made.between * 1000 == pytest.approx(30.8, abs=0.1)
    main(["run", "--job", str(line), "--quiet"])
    capsys.readouterr()
    main(["--json", "--job", str(line)])
    queries = json.loads(capsys.readouterr().out)["queries"]
    (query,) = [q for q in queries if q["slug"] == "orthometric-neglected"]
    assert "15.4 mm" in query["said"]
    page = (line / "reports" / "report.html").read_text()
    assert "30.8" in page


def test_a_level_town_line_is_not(tmp_path):
    assert main(["new", str(tmp_path / "h"), "--example", "harbour", "--quiet"]) == 0
    made = neglected_corrections(estimate(load(tmp_path / "h").network, "constrained"))
    assert made is not None
    assert made.between < 1e-4


def test_an_unreadable_height_is_told_once(tmp_path, capsys):
    """The cell is a fault; that its three vectors lack a height is not said too."""
    assert main(["new", str(tmp_path / "h"), "--example", "harbour", "--quiet"]) == 0
    table = tmp_path / "h" / "set_ups.csv"
    table.write_text(table.read_text().replace("1.671", "1.67l", 1))
    capsys.readouterr()
    assert main(["check", "--json", "--job", str(tmp_path / "h")]) == 3
    found = json.loads(capsys.readouterr().out)["findings"]
    assert [f["slug"] for f in found if f["verdict"] == "fault"] == ["unit-in-cell"]
    assert "name-two-places" not in [f["slug"] for f in found]


def test_a_height_that_is_not_booked_is_told_of_each_vector(tmp_path, capsys):
    assert main(["new", str(tmp_path / "h"), "--example", "harbour", "--quiet"]) == 0
    table = tmp_path / "h" / "set_ups.csv"
    table.write_text(table.read_text().replace("1.671,", ",", 1))
    capsys.readouterr()
    main(["check", "--json", "--job", str(tmp_path / "h")])
    found = json.loads(capsys.readouterr().out)["findings"]
    assert [f["slug"] for f in found].count("height-missing") >= 3


def test_a_correction_that_was_applied_is_not_asked_about(line, capsys):
    table = line / "levels.csv"
    head, *rows = table.read_text().splitlines()
    text = [f"{head},corrections_applied", *(f"{row},orthometric" for row in rows)]
    table.write_text("\n".join(text) + "\n")
    main(["run", "--job", str(line), "--quiet"])
    capsys.readouterr()
    main(["--json", "--job", str(line)])
    queries = json.loads(capsys.readouterr().out)["queries"]
    assert "orthometric-neglected" not in [q["slug"] for q in queries]


def test_levelled_heights_are_correlated_by_what_was_levelled(tmp_path):
    """Identities: the covariance of all marks has no negative variance in it and the
    variances that are printed; and of two marks that a run joins, H₂ − H₁ is at least
    as good as that run alone (Gauss–Markov)."""
    for name, content in example_files("harbour").items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(content)
    made = estimate(load(tmp_path).network, "constrained")
    marks = np.flatnonzero(np.isfinite(orthometric_heights(made).sd))
    joint = orthometric_covariance(made, marks)
    up = 3 * np.arange(len(marks)) + 2
    sd = orthometric_heights(made).sd[marks]
    np.testing.assert_allclose(np.sqrt(joint[up, up]), sd)
    assert np.linalg.eigvalsh(joint).min() > -1e-12
    levels, place = made.network.levels, {m: k for k, m in enumerate(marks)}
    assert len(levels.start)
    for start, end, own in zip(levels.start, levels.end, levels.sd**2, strict=True):
        one, two = (
            up[place[int(made.network.mark_of(np.array([node]))[0])]]
            for node in (start, end)
        )
        between = joint[one, one] + joint[two, two] - 2 * joint[one, two]
        assert between <= own * (1 + 1e-9)
