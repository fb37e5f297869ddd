"""What nothing checks, sought in arrays: an identity with looking at each by itself.

Known marks judged without their effects: the same figures as with them.
"""

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.judge import blind, control_joint, external, hypotheses
from brasscap.adjust.judge.control import control
from brasscap.commands.reliability import unlimited_in
from brasscap.io.tables.load import load
from brasscap.networks.example_jobs import example_files
from brasscap.reports.raised import of_reliability


@pytest.fixture(scope="module", params=["harbour", "mill", "tramway"])
def adjustment(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("job")
    for name, content in example_files(request.param).items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return estimate(load(folder).network)


def blind_of(found):
    """Return kind and name of what nothing checks, and the marks that it moves."""
    return {
        (found.hypotheses[k].kind, found.hypotheses[k].name): found.unlimited(
            k
        ).tolist()
        for k in np.flatnonzero(found.unchecked).tolist()
    }


def test_nothing_that_is_unchecked_is_passed_over(adjustment):
    found = unlimited_in(adjustment)
    every = {
        "observation": hypotheses.observations(adjustment),
        "set-up": hypotheses.set_ups(adjustment),
    }
    for part, some in every.items():
        whole = blind_of(external.reliability(adjustment, some))
        assert blind_of(found[part]) == whole
        assert not found[part].passed_over


def test_what_is_passed_over_is_said(adjustment, monkeypatch):
    whole = unlimited_in(adjustment)
    asked = [blind.blind_observations(adjustment), blind.blind_set_ups(adjustment)]
    monkeypatch.setattr(blind, "AT_MOST", 0)
    none = [blind.blind_observations(adjustment), blind.blind_set_ups(adjustment)]
    monkeypatch.undo()
    known = len(hypotheses.known_marks(adjustment))
    assert [len(one.hypotheses) for one in none] == [known, 0]
    if not sum(one.passed_over for one in none):
        assert not of_reliability(whole, adjustment.network.marks.name)
        return
    monkeypatch.setattr(external, "_LEAST", 0)
    monkeypatch.setattr(external, "_SOLVED", 0)
    found = unlimited_in(adjustment)
    passed = sum(one.passed_over for one in found.values())
    assert (
        passed
        == sum(one.unchecked.sum() for one in whole.values())
        <= sum(len(one.hypotheses) for one in asked)
    )
    (said,) = of_reliability(found, adjustment.network.marks.name)
    assert f"{passed} more" in said.said
    assert said.verdict == "unchecked"


def test_known_marks_are_judged_the_same_without_their_effects(adjustment, monkeypatch):
    whole = control(adjustment)
    monkeypatch.setattr(control_joint, "_WHOLE", 0)
    short = control(adjustment, effects=False)
    assert len(short.rows) == len(whole.rows) > 0
    for one, other in zip(short.rows, whole.rows, strict=True):
        said = (one.station, one.part, one.use, one.verdict)
        assert said == (other.station, other.part, other.use, other.verdict)
        for name in ("difference", "covariance", "limit", "test"):
            few, all_of = getattr(one, name), getattr(other, name)
            np.testing.assert_allclose(few, all_of, rtol=1e-6, atol=1e-15)
        assert not one.followed
        assert other.followed
    for one, other in zip(short.together, whole.together, strict=True):
        assert (one.stations, one.verdict) == (other.stations, other.verdict)
        assert one.statistic == pytest.approx(other.statistic, rel=1e-6, nan_ok=True)
