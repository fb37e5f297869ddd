"""A SINEX solution from the file through the tables to the adjusted marks.

Facts: tests/realdata/expected.json, computed apart from this project; nothing may be
lost or scaled on the way.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.io.formats import position_tables, read_sinex
from brasscap.io.tables.load import load

REAL = Path(__file__).parent / "realdata"
FACTS = json.loads((REAL / "expected.json").read_text())["STR1.SNX"]
# ITRF2020, geographic 3D: the axes need an ellipsoid, here GRS 80.
JOB = """schema = 1
[job]
title = "imported"
[frame]
kind = "geodetic"
geographic_epsg = 9989
epoch = 2025.911
"""


@pytest.fixture(scope="module")
def adjustment(tmp_path_factory):
    folder = tmp_path_factory.mktemp("imported")
    (folder / "job.toml").write_text(JOB)
    solution = read_sinex(REAL / "STR1.SNX")
    tables = position_tables(solution, frame_epsg=9989, name="day333")
    for name, text in tables.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text)
    return estimate(load(folder).network)


def geocentric(adjustment, first, second):
    """Return the (3, 3) geocentric covariance of two marks."""
    names = adjustment.network.marks.name
    i, j = names.index(first), names.index(second)
    axes = adjustment.nodes.axes
    block = adjustment.covariance(np.array([i]), np.array([j]))[0]
    return axes[i].T @ block @ axes[j]


@pytest.mark.parametrize("name", FACTS["coordinates"])
def test_coordinates_and_their_sds(adjustment, name):
    fact = FACTS["coordinates"][name]
    mark = adjustment.network.marks.name.index(name)
    xyz = adjustment.nodes.xyz[mark]
    np.testing.assert_allclose(xyz, fact["xyz"], rtol=0, atol=1e-7)
    own = adjustment.covariance(np.array([mark]), np.array([mark]))[0]
    np.testing.assert_allclose(np.sqrt(np.diag(own)), fact["sd_enu"], rtol=1e-6)


@pytest.mark.parametrize("line", FACTS["vectors"])
def test_a_distance_keeps_the_correlation_of_its_ends(adjustment, line):
    """Without the cross terms the sd of STR1-STR2 would be 1.00 mm, not 0.53 mm."""
    fact = FACTS["vectors"][line]
    first, second = line.split("-")
    names = adjustment.network.marks.name
    ends = [adjustment.nodes.xyz[names.index(name)] for name in (first, second)]
    delta = ends[1] - ends[0]
    length = np.linalg.norm(delta)
    cross = geocentric(adjustment, first, second)
    covariance = (
        geocentric(adjustment, first, first)
        + geocentric(adjustment, second, second)
        - (cross + cross.T)
    )
    assert length == pytest.approx(fact["slope_distance"], abs=1e-7)
    sd = np.sqrt(delta @ covariance @ delta) / length
    assert sd == pytest.approx(fact["sd_distance"], rel=1e-6)
    np.testing.assert_allclose(covariance, fact["cov_xyz"], rtol=1e-6, atol=1e-13)


def test_a_solution_alone_has_no_redundancy(adjustment):
    assert adjustment.degrees_of_freedom == 0
    assert adjustment.vtpv == pytest.approx(0, abs=1e-9)
