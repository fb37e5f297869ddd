"""A published daily solution, imported as a user does and adjusted as positions.

tests/realdata/README.md names file, repository and licence; expected.json holds
facts that were computed apart from any importer.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.precision import pair
from brasscap.io.tables.load import load

REALDATA = Path(__file__).parent / "realdata"
EXPECTED = json.loads((REALDATA / "expected.json").read_text("utf-8"))["STR1.SNX"]
# EPSG:9989 is ITRF2020, latitude, longitude and ellipsoidal height; the epoch is
# the file's 25:333:43200.
JOB = """schema = 1
[job]
title = "daily solution"
surveyor_in_charge = "R. Example"
licence = "none"
[frame]
kind = "geodetic"
geographic_epsg = 9989
epoch = 2025.911
geoid = "none"
"""


@pytest.fixture(scope="module")
def adjustment(tmp_path_factory):
    folder = tmp_path_factory.mktemp("solution")
    (folder / "job.toml").write_text(JOB, "utf-8")
    source = str(REALDATA / "STR1.SNX")
    line = ["import", source, "--as", "positions", "--frame-epsg", "job"]
    assert main(["--job", str(folder), *line]) == 0
    return estimate(load(folder).network, "constrained")


def at(adjustment, name):
    return adjustment.network.marks.name.index(name)


def test_all_of_it_came_over(adjustment):
    assert len(adjustment.network.marks) == EXPECTED["stations_with_coordinates"]
    assert adjustment.observations_count == EXPECTED["parameters"]


def test_without_other_observations_nothing_can_be_judged(adjustment):
    """As many unknowns as observations: no misfit, no variance factor."""
    assert adjustment.degrees_of_freedom == 0
    assert adjustment.vtpv == pytest.approx(0, rel=0, abs=1e-9)
    assert np.isnan(adjustment.s0_sq)


@pytest.mark.parametrize("name", EXPECTED["coordinates"])
def test_positions_and_their_covariance(adjustment, name):
    expected = EXPECTED["coordinates"][name]
    node = at(adjustment, name)
    np.testing.assert_allclose(
        adjustment.nodes.xyz[node], expected["xyz"], rtol=0, atol=1e-8
    )
    (enu,) = adjustment.covariance(np.array([node]), np.array([node]))
    np.testing.assert_allclose(np.sqrt(np.diag(enu)), expected["sd_enu"], rtol=1e-7)
    axes = adjustment.nodes.axes[node]
    # The weakest of 45 correlated figures is known to 1e-9 of the largest.
    np.testing.assert_allclose(axes.T @ enu @ axes, expected["cov_xyz"], rtol=1e-7)


@pytest.mark.parametrize("line", EXPECTED["vectors"])
def test_lines_between_correlated_positions(adjustment, line):
    """Without the cross-covariance the sd of the 70 m line would be twice as large."""
    expected = EXPECTED["vectors"][line]
    seen = pair(adjustment, *line.split("-"))
    assert seen.slope_distance == pytest.approx(expected["slope_distance"], abs=2e-8)
    assert seen.ellipsoid_distance == pytest.approx(expected["geodesic_m"], abs=1e-6)
    assert np.degrees(seen.azimuth) == pytest.approx(expected["azimuth_deg"], abs=1e-9)
    first, second = (at(adjustment, name) for name in line.split("-"))
    axes = adjustment.nodes.axes[first]
    geocentric = axes.T @ seen.covariance @ axes
    np.testing.assert_allclose(geocentric, expected["cov_xyz"], rtol=1e-6)
    chord = adjustment.nodes.xyz[second] - adjustment.nodes.xyz[first]
    along = chord / np.linalg.norm(chord)
    sd = np.sqrt(along @ geocentric @ along)
    assert sd == pytest.approx(expected["sd_distance"], rel=1e-6)
