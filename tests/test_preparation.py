"""Spread of repeated readings and implied refraction, by hand and against a job."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust.judge.closures import closures
from brasscap.adjust.judge.limits import chi_square_quantile
from brasscap.adjust.judge.loop_tests import spread_verdict
from brasscap.io.tables.load import load
from brasscap.networks import (
    KnownMarks,
    LocalFrame,
    Marks,
    Network,
    Options,
    Positions,
    SetUps,
    Sights,
    Vectors,
)
from brasscap.networks.preparation import RADIUS_M, reciprocals, spreads

ARCSEC = np.pi / 180 / 3600
JOBS = Path(__file__).parent / "jobs"


def ints(*values):
    return np.array(values, dtype=np.int64)


def network_of(*sights):
    none, no = np.zeros(0), np.zeros(0, dtype=bool)
    three = np.zeros((0, 3))
    blank = ("",) * 4
    return Network(
        LocalFrame(),
        Marks(tuple("ABCD"), np.full((4, 3), np.nan), blank, blank, np.arange(4)),
        SetUps(
            (), ints(), (), ints(), none, np.zeros((0, 2)), none, none, (), (), (),
            ints(),
        ),
        Vectors((), ints(), ints(), three, none, none, (), ints(), ints(), no, ints()),
        Positions((), ints(), three, none, three > 0, (), ints(), no, ints()),
        KnownMarks(ints(), three, three > 0, (), (), (), (), no, ints()),
        sights=sights,
    )  # fmt: skip


def sights(kind, rows, sd):
    """Return sights of rows (at, to, value, round, instrument and target height)."""
    n = len(rows)
    parameter = np.full((n, 2), -1)
    parameter[:, 0] = [row[3] for row in rows]
    return Sights(
        kind, ("s",) * n, ints(*(r[0] for r in rows)), ints(*(r[1] for r in rows)),
        np.full(n, -1), np.array([r[4] for r in rows], dtype=float),
        np.array([r[5] for r in rows], dtype=float), np.zeros(n),
        np.array([r[2] for r in rows], dtype=float), np.full(n, sd), parameter,
        np.full(n, 0.13), np.ones(n, dtype=bool), np.arange(n) + 2,
    )  # fmt: skip


def test_two_readings_of_one_line():
    """6 arcsec apart, each 3 off their mean: √(9 + 9) = 4.24; 18 / 3² = 2."""
    rows = [(0, 1, 1.5 + e * ARCSEC, -1, 1.5, 1.5) for e in (0, 6)]
    (found,) = spreads(network_of(sights("zenith angle", rows, 3 * ARCSEC)))
    assert (found.readings, found.freedom) == (2, 1)
    assert found.spread == pytest.approx(np.sqrt(18) * ARCSEC, rel=1e-6)
    assert found.statistic == pytest.approx(2, rel=1e-6)
    # √10.828 · 3 arcsec, 0.1 % of chi-square with 1 degree of freedom.
    limit, verdict = spread_verdict(found, Options())
    assert limit == pytest.approx(3.2905 * 3 * ARCSEC, rel=1e-4)
    assert verdict == "meets"


def test_another_target_height_is_another_line():
    rows = [(0, 1, 1.5, -1, 1.5, 1.5), (0, 1, 1.501, -1, 1.5, 1.6)]
    assert spreads(network_of(sights("zenith angle", rows, 3 * ARCSEC))) == ()


def test_two_rounds_over_three_targets():
    """Differences of the rounds 0, 6, 0 arcsec: less their mean −2, 4, −2.

    Half of each in either round: 2 (1 + 4 + 1) = 12 with (2 − 1)(3 − 1) = 2 degrees
    of freedom; the second round begins elsewhere on the circle, across its zero.
    """
    turned = [0.0, 0.5, 1.0]
    rows = [(0, 1 + k, t, 0, 0, 0) for k, t in enumerate(turned)]
    rows += [
        (0, 1 + k, (t + 6.0 + e * ARCSEC) % (2 * np.pi), 1, 0, 0)
        for k, (t, e) in enumerate(zip(turned, (0, 6, 0), strict=True))
    ]
    (found,) = spreads(network_of(sights("direction", rows, 2 * ARCSEC)))
    assert (found.readings, found.freedom) == (6, 2)
    assert found.spread == pytest.approx(np.sqrt(6) * ARCSEC, rel=1e-6)
    assert found.statistic == pytest.approx(12 / 4, rel=1e-6)


def test_one_round_has_no_spread():
    rows = [(0, 1, 0.0, 0, 0, 0), (0, 2, 0.5, 0, 0, 0)]
    assert spreads(network_of(sights("direction", rows, 2 * ARCSEC))) == ()


def test_a_spread_over_its_limit_is_a_query():
    rows = [(0, 1, 50 + e, -1, 0, 0) for e in (0.0, 0.020)]
    network = network_of(sights("slope distance", rows, 0.002))
    found = closures(network)
    assert found.spread_verdicts == ("query",)
    assert found.verdict == "query"


def test_the_refraction_that_was_put_in_comes_out():
    """1000 m, k = 0.13; the angles share (1 − k) s / R; target 0.5 m above."""
    length, k = 1000.0, 0.13
    bend = (1 - k) * length / RADIUS_M / 2
    rows = [
        (0, 1, np.pi / 2 + bend - 0.5 / length, -1, 1.5, 2.0),
        (1, 0, np.pi / 2 + bend, -1, 1.6, 1.6),
    ]
    xyz = np.array([[0.0, 0, 0], [length, 0, 0], [0, 0, 0], [0, 0, 0]])
    network = network_of(sights("zenith angle", rows, 3 * ARCSEC))
    (found,) = reciprocals(network, xyz)
    assert found.coefficient == pytest.approx(k, abs=1e-4)
    # √2 · 3 arcsec · R / s
    assert found.sd == pytest.approx(np.sqrt(2) * 3 * ARCSEC * RADIUS_M / length)
    one_way = replace(network.sights[0], used=np.array([True, False]))
    assert reciprocals(replace(network, sights=(one_way,)), xyz) == ()


def test_a_job_made_without_refraction_implies_none():
    """tests/jobs/README.md: made by others, refraction zero by construction."""
    found = closures(load(JOBS / "mixed_nine_marks").network).reciprocals
    assert len(found) == 6
    ratios = np.array([one.coefficient / one.sd for one in found])
    assert ratios @ ratios < chi_square_quantile(0.999, len(found))
