"""Constant and scale of distance meters, through job folders and by hand."""

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.judge import parameter_estimates
from brasscap.io.tables.load import load
from brasscap.networks import NoSolution
from brasscap.networks.errors import InputError

JOB = """schema = 1
[job]
title = "test"
surveyor_in_charge = "A"
licence = "none"
[frame]
kind = "local"
height_datum = "site"
[network]
dimension = "plan"
[set_up.tripod]
sd_centring_mm = 0
sd_height_mm = 0
[set_up.target]
sd_centring_mm = 0
sd_height_mm = 0
"""
# A line along east: A 0, B 100, C 400, D 900 m.
EAST = {"A": 0.0, "B": 100.0, "C": 400.0, "D": 900.0}
HEAD = "instrument,sd_direction_arcsec,sd_zenith_arcsec,sd_distance_mm,sd_distance_ppm"
CONTROL = "station,use_plan,north_m,east_m\n"


def control(names="ABCD"):
    return CONTROL + "".join(f"{n},held,0,{EAST[n]}\n" for n in names)


def distances(*rows, head=""):
    """Return level distances from T1 over A: target, metres, and what ``head`` adds."""
    text = f"pointing,set_up,target_station,horizontal_distance_m{head}\n"
    for i, row in enumerate(rows):
        text += f"p{i},T1," + ",".join(str(cell) for cell in row) + "\n"
    return text


@pytest.fixture
def job(tmp_path):
    def make(instruments, total_station, known="ABCD"):
        tables = {
            "control": control(known),
            "instruments": instruments,
            "set_ups": "set_up,station,support,instrument\nT1,A,tripod,TS\n",
            "total_station": total_station,
        }
        (tmp_path / "job.toml").write_text(JOB, "utf-8")
        for name, text in tables.items():
            (tmp_path / f"{name}.csv").write_text(text, "utf-8")
        return load(tmp_path)

    return make


def found(made):
    estimates = parameter_estimates(made)
    return dict(
        zip(
            estimates.name, zip(estimates.value, estimates.sd, strict=True), strict=True
        )
    )


def test_what_is_stated_exactly_is_applied_and_said(job):
    """(399.990 + 0.006)·(1 + 10e-6) = 400.0000 m to 0.04 mm."""
    instruments = f"{HEAD},constant_mm,scale_ppm\nTS,3,3,2,0,6,10\n"
    loaded = job(instruments, distances(("C", 399.990)))
    (sights,) = loaded.network.sights
    assert sights.value[0] == pytest.approx((399.990 + 0.006) * (1 + 10e-6), abs=1e-9)
    assert (sights.parameter < 0).all()
    (note,) = [f for f in loaded.findings if f.slug == "instrument-constant-applied"]
    assert note.verdict == "note"
    assert "constant_mm 6" in note.booked
    assert "scale_ppm 10" in note.booked


def test_what_is_stated_with_an_sd_is_a_parameter_with_a_prior(job):
    """One distance, 100.004 m of 100 ± 2 mm, constant 0 ± 2 mm: half each.

    Measured − true comes out as +2 mm, and the prior is an observation: 1 degree of
    freedom, vtpv = 2 · (2/2)² = 2.
    """
    instruments = f"{HEAD},sd_constant_mm\nTS,3,3,2,0,2\n"
    made = estimate(job(instruments, distances(("B", 100.004))).network)
    value, sd = found(made)["constant of TS (measured − true)"]
    assert value == pytest.approx(0.002, abs=1e-9)
    assert sd == pytest.approx(np.sqrt(2) * 1e-3, rel=1e-6)
    assert made.degrees_of_freedom == 1
    assert made.vtpv == pytest.approx(2.0, rel=1e-6)


def test_a_correction_is_the_opposite_of_what_is_measured_too_long(job):
    """A correction of −3 mm ± 1 µm: the distances are 3 mm too long."""
    instruments = f"{HEAD},constant_mm,sd_constant_mm\nTS,3,3,2,0,-3,0.001\n"
    made = estimate(job(instruments, distances(("B", 100.003))).network)
    value, _ = found(made)["constant of TS (measured − true)"]
    assert value == pytest.approx(0.003, abs=1e-9)
    assert made.vtpv < 1e-9


def test_unknown_constant_and_scale_are_found(job):
    """100, 400, 900 m measured 3 mm and 20 ppm too long: both come back exactly."""
    instruments = f"{HEAD},unknown\nTS,3,3,2,0,constant and scale\n"
    rows = [(n, f"{EAST[n] * (1 + 20e-6) + 0.003:.6f}") for n in "BCD"]
    made = estimate(job(instruments, distances(*rows)).network)
    by_name = found(made)
    assert by_name["constant of TS (measured − true)"][0] == pytest.approx(
        0.003, abs=1e-9
    )
    assert by_name["scale of TS (measured − true)"][0] == pytest.approx(
        20e-6, abs=1e-12
    )
    assert made.degrees_of_freedom == 1
    # By hand: lines 100, 400, 900 m of 2 mm; Sxx = 326 667 m².
    scale_sd = 2e-3 / np.sqrt(980000 - 1400**2 / 3)
    assert by_name["scale of TS (measured − true)"][1] == pytest.approx(
        scale_sd, rel=1e-4
    )


def test_each_prism_has_a_constant_of_its_own(job):
    """P1 is 4 mm too long, P2 is 30 mm too short; one scale for both is not asked."""
    instruments = f"{HEAD},unknown\nTS,3,3,2,0,constant\n"
    rows = [("B", 100.004, "P1"), ("C", 400.004, "P1"), ("B", 99.970, "P2")]
    made = estimate(job(instruments, distances(*rows, head=",prism")).network)
    assert {name: round(value, 9) for name, (value, _) in found(made).items()} == {
        "constant of TS with P1 (measured − true)": 0.004,
        "constant of TS with P2 (measured − true)": -0.030,
    }


def test_a_row_of_one_prism_serves_that_prism_alone(job):
    """To P2 30 mm are added; all others take the row without a prism."""
    instruments = f"{HEAD},prism,constant_mm\nTS,3,3,2,0,,\nTS,3,3,4,0,P2,30\n"
    rows = [("B", 100.004, "P1"), ("B", 99.970, "P2")]
    (sights,) = job(instruments, distances(*rows, head=",prism")).network.sights
    np.testing.assert_allclose(sights.value, [100.004, 100.0], rtol=0, atol=1e-9)
    np.testing.assert_allclose(sights.sd, [0.002, 0.004], rtol=1e-12)


def test_unknown_and_known_at_once(job):
    instruments = f"{HEAD},sd_constant_mm,unknown\nTS,3,3,2,0,1,constant\n"
    with pytest.raises(InputError) as caught:
        job(instruments, distances(("B", 100.0)))
    faults = [f.slug for f in caught.value.findings if f.verdict == "fault"]
    assert faults == ["instrument-unknown-with-sd"]
    twice = f"{HEAD},prism,scale_ppm\nTS,3,3,2,0,,5\nTS,3,3,2,0,P2,6\n"
    with pytest.raises(InputError) as caught:
        job(twice, distances(("B", 100.0)))
    assert "instrument-scale-twice" in [f.slug for f in caught.value.findings]


def test_a_free_scale_sizes_nothing(job):
    """From one known mark, with a scale to find, no distance places another."""
    instruments = f"{HEAD},unknown\nTS,3,3,2,0,scale\n"
    network = job(instruments, distances(("B", 100.0), ("C", 400.0)), "A").network
    with pytest.raises(NoSolution):
        estimate(network)
