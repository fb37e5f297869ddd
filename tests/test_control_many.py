"""Many known marks at once: by the same equations as few, in words where they end.

Identities that hold for every network: what is said of a mark does not depend on how
many are looked at together, and pairs found by arrays are those found one by one.
"""

import json
import runpy
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge import control as controls
from brasscap.adjust.judge import control_twins
from brasscap.adjust.judge.control import control
from brasscap.adjust.judge.control_joint import jointly
from brasscap.adjust.judge.hypotheses import known_marks
from brasscap.io.tables.load import load
from brasscap.json_schemas import schema_of
from brasscap.networks.covariances import single
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country

MAKE_LEVELS = runpy.run_path(str(Path(__file__).parent / "test_control.py"))[
    "make_levels"
]


@pytest.fixture(scope="module")
def many():
    """Return 600 marks, of which 90 are known, held and weighted by turns.

    Every ninth is off by 50 mm.
    """
    plan = country(600, "clustered", seed=6)
    rng = np.random.default_rng(7)
    network = simulate(with_known(plan, rng.choice(600, 90, replace=False)), seed=8)
    known = network.known
    off = np.zeros((len(known), 3))
    off[::9] = rng.normal(0, 0.05, off[::9].shape)
    return estimate(replace(network, known=replace(known, xyz=known.xyz + off)))


def with_known(plan, marks):
    """Return a plan with other marks known, to 3 mm."""
    known, n = plan.known, len(marks)
    return replace(
        plan,
        known=replace(
            known,
            mark=np.asarray(marks),
            xyz=plan.marks.approximate[marks],
            components=np.ones((n, 3), dtype=bool),
            use_plan=tuple("held" if k % 2 else "weighted" for k in range(n)),
            use_height=tuple("held" if k % 3 else "weighted" for k in range(n)),
            covariances=single(np.tile(9e-6 * np.eye(3), (n, 1, 1))),
            source=("invented",) * n,
            used=np.ones(n, dtype=bool),
            row=np.arange(n) + 2,
        ),
    )


def same(one, other):
    """Hold the rows of two answers equal to rounding: a nanometre of a millimetre."""
    assert len(one.rows) == len(other.rows) > 0
    for a, b in zip(one.rows, other.rows, strict=True):
        assert (a.station, a.part, a.use) == (b.station, b.part, b.use)
        assert (a.verdict, a.twins) == (b.verdict, b.twins)
        for what in ("difference", "sd"):
            np.testing.assert_allclose(
                getattr(a, what), getattr(b, what), rtol=1e-6, atol=1e-9
            )


def test_alone_or_with_all_others_a_mark_is_where_it_is(many):
    """A principal part of what is known of all, against equations of its own."""
    found = {(r.station, r.part): r for r in control(many).rows}
    hypotheses = known_marks(many)
    assert len(hypotheses) == 180
    for one in hypotheses[::7]:
        row = found[one.name, one.kind.removeprefix("known mark ")]
        its = jointly(many, [one]).let_go([0])
        here = np.isfinite(row.difference)
        np.testing.assert_allclose(row.difference[here], its.shift, atol=1e-9)
        sd = np.sqrt(np.diagonal(its.covariance))
        np.testing.assert_allclose(row.sd[here], sd, rtol=1e-6)
    assert {row.verdict for row in found.values()} >= {"meets", "fails"}


def test_all_together_by_few_eigenvalues_or_by_all(many, monkeypatch):
    """What letting all go takes off, by the unchecked directions alone."""
    from brasscap.adjust.judge import control_joint

    whole = control(many, effects=False)
    monkeypatch.setattr(control_joint, "_WHOLE", 0)
    for one, other in zip(
        control(many, effects=False).together, whole.together, strict=True
    ):
        assert one.degrees_of_freedom == other.degrees_of_freedom > 50
        assert one.statistic == pytest.approx(other.statistic, rel=1e-6)


def pairs_and_a_ring(folder):
    """Return five benchmarks in a ring, and pairs that hang on by nothing, or little.

    Each pair is 30 mm apart from what is levelled between its two.
    """
    ring = ["A", "B", "C", "D", "E"]
    runs = [(a, b, 0.0, 2) for a, b in zip(ring, ring[1:] + ring[:1], strict=True)]
    known = dict.fromkeys(ring, ("held", 10.0, ""))
    for k in range(4):
        one, other = f"P{k}", f"Q{k}"
        runs.append((one, other, 0.0, 2 + k))
        known |= {one: ("held", 10.0, ""), other: ("weighted", 10.03, 3)}
    runs.append(("P0", "A", 0.0, 500))
    runs.append(("Q1", "C", 0.0, 4))
    return MAKE_LEVELS(folder, runs, known)


def test_twins_by_arrays_are_those_found_one_by_one(tmp_path, many, monkeypatch):
    levels = estimate(load(pairs_and_a_ring(tmp_path)).network)
    by_arrays = [control(levels), control(many)]
    twins = {row.station: row.twins for row in by_arrays[0].rows}
    assert twins["P2"] == ("Q2",)
    assert twins["A"] == ()
    monkeypatch.setattr(
        control_twins.Alone,
        "_close",
        lambda self, one, across: np.ones(len(across), dtype=bool),
    )
    for one, other in zip(by_arrays, [control(levels), control(many)], strict=True):
        same(one, other)


def test_more_than_are_taken_together_are_judged_by_themselves(many, monkeypatch):
    whole = control(many)
    monkeypatch.setattr(controls, "TOGETHER", 40)
    found = control(many)
    same(replace_twins(found), replace_twins(whole))
    assert [one.verdict for one in found.together] == ["unchecked"] * 2
    assert "90 known marks are more than the 40" in found.together[0].said
    assert all(row.twins == () for row in found.rows)


def replace_twins(found):
    return replace(found, rows=tuple(replace(row, twins=()) for row in found.rows))


def test_what_is_not_worked_out_is_said(tmp_path, monkeypatch, capsys):
    """Of the largest test only; and of any mark that is asked for by name."""
    folder = pairs_and_a_ring(tmp_path)
    monkeypatch.setattr(controls, "_SOLVED", 0)
    monkeypatch.setattr(controls, "_LEAST", 1)
    words = ["--job", str(folder), "--quiet"]
    main(["control", *words])
    out = " ".join(capsys.readouterr().out.split())
    assert out.count("not worked out") == 12
    assert "is worked out for the 1 with the largest tests" in out
    main(["control", *words, "--json"])
    made = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(schema_of("control")).validate(made)
    main(["show", "known mark", "B", *words])
    out = " ".join(capsys.readouterr().out.split())
    assert "not worked out" not in out
    assert "moves" in out
