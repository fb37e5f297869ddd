"""Zenith angles of a flat site: neither curvature nor refraction, and it is said.

By hand, D = 800 m, R = 6,371 km: the earth falls away by D²/2R = 640,000 / 12,742,000
= 50.23 mm; refraction with Gauss's coefficient 0.13 gives back 6.53 mm. A mark at the
same level as the instrument is therefore seen 43.70 mm low: what neglecting both
costs. With refraction alone the whole 50.23 mm is left.
"""

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.io.tables.load import load

FAR = 800.0
FALLS = FAR**2 / (2 * 6371000.0)
LOW = (1 - 0.13) * FALLS


def flat(folder, frame="", refraction=""):
    (folder / "job.toml").write_text(
        f'schema = 1\n[frame]\nkind = "local"\nheight_datum = "site"\n{frame}\n'
        f'[network]\ndimension = "space"\n{refraction}'
    )
    (folder / "control.csv").write_text(
        "station,use_plan,use_height,north_m,east_m,height_m\n"
        f"A,held,held,1000,1000,100\nB,held,check-only,{1000 + FAR},1000,100\n"
    )
    (folder / "set_ups.csv").write_text(
        "set_up,station,support,height_m\nT1,A,tripod,1.5\n"
    )
    zenith = 90 + np.degrees(np.arctan(LOW / FAR))
    (folder / "total_station.csv").write_text(
        "pointing,set_up,target_station,target_height_m,direction_deg,zenith_deg,"
        "slope_distance_m,sd_direction_arcsec,sd_zenith_arcsec,sd_distance_mm\n"
        f"1,T1,B,1.5,0,{zenith:.10f},{np.hypot(FAR, LOW):.6f},1,1,2\n"
    )
    return folder


def found(folder):
    loaded = load(folder)
    made = estimate(loaded.network)
    (mark,) = (i for i, n in enumerate(loaded.network.marks.name) if n == "B")
    said = [f for f in loaded.findings if f.slug == "curvature-neglected"]
    return loaded.network.frame.grid(made.nodes.xyz[[mark]])[0, 2], said


def test_a_flat_earth_has_neither_and_says_how_much_that_is(tmp_path):
    height, (query,) = found(flat(tmp_path))
    assert height == pytest.approx(100 - LOW, abs=1e-5)
    assert "over 800 m" in query.against
    assert "50 mm" in query.against
    assert "44 mm" in query.against


def test_a_refraction_that_is_stated_is_kept_and_said(tmp_path):
    stated = "[refraction]\ncoefficient = 0.13\nsd = 0\n"
    height, (query,) = found(flat(tmp_path, refraction=stated))
    assert height == pytest.approx(100 - FALLS, abs=1e-5)
    assert "0.13 stated in [refraction]" in query.against
    assert "50 mm off" in query.against


def test_a_curved_site_has_both(tmp_path):
    """Level is level again; R there is √(MN), not the mean radius: below 0.2 mm."""
    frame = 'earth = "curved"\nlatitude_deg = 46.5\nreference_height_m = 100\n'
    height, said = found(flat(tmp_path, frame))
    assert height == pytest.approx(100, abs=2e-4)
    assert not said


def test_a_new_site_job_states_no_refraction(tmp_path, capsys):
    folder = tmp_path / "site"
    assert main(["new", str(folder), "--kind", "site"]) == 0
    capsys.readouterr()
    text = (folder / "job.toml").read_text()
    assert "# coefficient" in text
    assert "\ncoefficient" not in text
