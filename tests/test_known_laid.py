"""Known minus survey where the known coordinates have errors of their own.

By hand on two benchmarks; against numerical derivatives of the whole adjustment; and
by chance: a test of sound control must be chi-square, laid on one mark or on all.
"""

from dataclasses import replace

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.judge import known_minus_survey
from brasscap.adjust.judge.control import control
from brasscap.adjust.judge.known_laid import known_share
from brasscap.io.tables.load import load
from brasscap.networks.covariances import Batch

JOB = """schema = 1
[job]
title = "by hand"
surveyor_in_charge = "R. Example"
licence = "none"
[frame]
kind = "local"
earth = "flat"
height_datum = "site datum"
[set_up]
none = true
"""
PLACES = {"A": (0, 0), "B": (1000, 0), "C": (0, 1000), "P": (300, 400)}
"""East, north, m."""


def written(folder, name, lines):
    (folder / name).write_text("\n".join(lines) + "\n", "utf-8")


@pytest.fixture
def levels(tmp_path):
    """Benchmarks A and B, 2 mm each, 3 mm apart by a run of 3 mm: A + 1.000 = B."""
    (tmp_path / "job.toml").write_text(
        JOB + '[network]\ndimension = "height"\n', "utf-8"
    )
    head = "station,use_height,height_m,height_datum,sd_height_mm,source"
    written(
        tmp_path,
        "control.csv",
        [
            head,
            "A,weighted,10.000,site datum,2,by hand",
            "B,weighted,11.006,site datum,2,by hand",
        ],
    )
    head = "section,from_station,to_station,rise_m,run,sd_mm"
    written(tmp_path, "levels.csv", [head, "L1,A,B,1.000,single,3"])
    return load(tmp_path).network


def test_two_benchmarks_by_hand(levels):
    """Laid on both: d = ±½ · 6 mm, variance ¼ (2² + 2² + 3²) = 4.25 mm².

    Laid on A: d = 6 mm, variance 2² + 2² + 3² = 17 mm². T = 6²/17 in all three.
    """
    free = known_minus_survey(estimate(levels, "free", over="known"))
    np.testing.assert_allclose(free.difference[:, 2] * 1e3, [-3, 3], atol=1e-6)
    np.testing.assert_allclose(free.sd[:, 2] * 1e3, np.sqrt(4.25), rtol=1e-9)
    minimal = known_minus_survey(estimate(levels, "minimal"))
    assert minimal.station == ("B",)
    assert minimal.sd[0, 2] * 1e3 == pytest.approx(np.sqrt(17), rel=1e-9)
    for found in (free, minimal):
        np.testing.assert_allclose(found.statistic, 36 / 17, rtol=1e-9)
    row = next(r for r in control(estimate(levels, "minimal")).rows if r.sd[2] > 0)
    assert row.sd[2] * 1e3 == pytest.approx(np.sqrt(17), rel=1e-9)


def test_one_mark_alone_says_nothing(levels):
    """A free network laid on one mark meets it exactly: no difference, no test."""
    network = replace(levels, known=replace(levels.known, used=np.array([True, False])))
    found = known_minus_survey(estimate(network, "free", over="known"))
    assert found.station == ("A",)
    assert found.verdict == ("unchecked",)
    assert found.components.tolist() == [0]


def correlated(network, seed=3):
    """Return the network with known rows that are all correlated, some mm each."""
    rng = np.random.default_rng(seed)
    size = 3 * len(network.known)
    root = rng.normal(size=(size, size)) * 0.004
    batch = Batch(np.arange(len(network.known))[None], (root @ root.T)[None])
    return replace(network, known=replace(network.known, covariances=(batch,)))


@pytest.fixture
def vectors(tmp_path):
    """A star of vectors over four known marks, one of them only compared."""
    (tmp_path / "job.toml").write_text(JOB, "utf-8")
    head = "station,use_plan,use_height,north_m,east_m,height_m,height_datum,"
    head += "sd_north_mm,sd_east_mm,sd_height_mm,source"
    written(
        tmp_path,
        "control.csv",
        [
            head,
            *(
                f"{name},weighted,weighted,{north},{east},100,site datum,4,4,4,by hand"
                for name, (east, north) in PLACES.items()
            ),
        ],
    )
    head = "baseline,from_station,to_station,de_m,dn_m,du_m,horizon_at,sd_e_mm,"
    head += "sd_n_mm,sd_u_mm,corr_en,corr_eu,corr_nu"
    pairs = [("A", "P"), ("B", "P"), ("C", "P"), ("A", "B"), ("B", "C")]
    written(
        tmp_path,
        "baselines.csv",
        [
            head,
            *(
                f"V{i},{a},{b},{PLACES[b][0] - PLACES[a][0]},"
                f"{PLACES[b][1] - PLACES[a][1]},0,{a},5,5,5,0,0,0"
                for i, (a, b) in enumerate(pairs)
            ),
        ],
    )
    return correlated(load(tmp_path).network)


STEP = 1e-4
"""m by which a known coordinate is changed."""


def moved(network, row, axis):
    xyz = network.known.xyz.copy()
    xyz[row] += STEP * network.frame.axes(xyz[row : row + 1])[0][axis]
    return replace(network, known=replace(network.known, xyz=xyz))


@pytest.mark.parametrize(
    ("mode", "over"), [("free", "known"), ("free", ["A", "C"]), ("minimal", None)]
)
def test_the_share_is_what_errors_of_the_control_do(vectors, mode, over):
    """(I − P) column by column: move one known coordinate, adjust, compare again."""

    def difference(network):
        found = known_minus_survey(estimate(network, mode, over=over))
        rows = {name: i for i, name in enumerate(found.station)}
        nothing = np.zeros(3)
        return np.array(
            [found.difference[rows[n]] if n in rows else nothing for n in PLACES]
        )

    before = difference(vectors)
    count = len(vectors.known)
    columns = [
        (difference(moved(vectors, row, axis)) - before).ravel() / STEP
        for row in range(count)
        for axis in range(3)
    ]
    matrix = np.array(columns).T
    whole = matrix @ vectors.known.covariances[0].matrix[0] @ matrix.T
    share = known_share(estimate(vectors, mode, over=over))
    for row in range(count):
        at = slice(3 * row, 3 * row + 3)
        np.testing.assert_allclose(share[row], whole[at, at], rtol=0, atol=1e-10)


@pytest.mark.parametrize("mode", ["free", "minimal"])
def test_sound_control_is_chi_square(vectors, mode):
    """200 draws of control and vectors: T sums to its degrees of freedom.

    Within 4 of its own standard deviations; the four marks are not independent, so
    that the spread is that of fully dependent ones: √(2·3·4²·200) at most.
    """
    rng = np.random.default_rng(20261125)
    root = np.linalg.cholesky(vectors.known.covariances[0].matrix[0])
    made, freedom = [], []
    for _ in range(200):
        off = (root @ rng.normal(size=len(root))).reshape(-1, 3)
        known = replace(vectors.known, xyz=vectors.known.xyz + off)
        delta = vectors.vectors.delta
        delta = delta + rng.normal(0, 0.005, delta.shape)
        drawn = replace(
            vectors, known=known, vectors=replace(vectors.vectors, delta=delta)
        )
        found = known_minus_survey(estimate(drawn, mode))
        made.append(found.statistic.sum())
        freedom.append(found.components.sum())
    spread = np.sqrt(2 * 3 * len(found.station) ** 2 * len(made))
    assert abs(sum(made) - sum(freedom)) < 4 * spread
