"""Variance components: published figures, another route, decisions that use them."""

import json
import re
import runpy
import shlex
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from scipy import optimize

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.causes import suspects
from brasscap.adjust.causes.weights import weights
from brasscap.adjust.judge.component_dense import state_of
from brasscap.adjust.judge.components import labelled, stacks_of
from brasscap.adjust.judge.variance_components import variance_components
from brasscap.json_schemas import schema_of
from brasscap.networks import (
    Frame,
    KnownMarks,
    Levels,
    LocalFrame,
    Marks,
    Network,
    Positions,
    SetUps,
    Vectors,
)
from brasscap.networks.covariances import Batch, single
from brasscap.networks.simulate import simulate

MAKERS = runpy.run_path(str(Path(__file__).parent / "make_examples"))


def levels_only(names, held, runs, groups=()):
    """Return heights joined by runs (start, end, rise, sd, group), m."""
    number = {name: i for i, name in enumerate(names)}
    n, m, none = len(runs), len(names), np.zeros(0, dtype=np.int64)
    start, end = (np.array([number[run[k]] for run in runs]) for k in (0, 1))
    blank, nothing = np.zeros((0, 3)), np.zeros(0)
    frame: Frame = LocalFrame()
    return Network(
        frame,
        Marks(tuple(names), np.full((m, 3), np.nan), ("",) * m, ("",) * m,
              np.zeros(m, dtype=np.int64)),
        SetUps((), none, (), none, nothing, np.zeros((0, 2)), nothing, nothing, (), (),
               (), none),
        Vectors((), none, none, blank, nothing, nothing, (), none, none,
                np.zeros(0, dtype=bool), none),
        Positions((), none, blank, nothing, np.zeros((0, 3), dtype=bool), (), none,
                  np.zeros(0, dtype=bool), none),
        KnownMarks(
            np.array([number[name] for name in held]), np.zeros((len(held), 3)),
            np.tile([False, False, True], (len(held), 1)), ("",) * len(held),
            ("held",) * len(held),
            single(np.tile(np.eye(3), (len(held), 1, 1))), ("",) * len(held),
            np.ones(len(held), dtype=bool), np.arange(len(held)) + 2,
        ),
        groups=tuple(groups),
        dimension="height",
        levels=Levels(
            tuple(f"L{k}" for k in range(n)), start, end,
            np.array([run[2] for run in runs], dtype=float),
            np.array([run[3] for run in runs], dtype=float),
            np.zeros(n), np.zeros(n), np.full((n, 2), -1), np.ones(n, dtype=bool),
            np.arange(n) + 2, np.array([run[4] for run in runs], dtype=np.int64),
        ),
    )  # fmt: skip


def test_two_groups_as_published(case):
    """Rails as heights: six runs M–B of rise 0, three readings of each B from Z."""
    problem = case("vce_two_groups_rail")
    rails = [f"B{i}" for i in range(6)]
    runs = [("M", name, 0.0, 10.0, 0) for name in rails]
    for name, readings in zip(rails, problem["data"]["groups"], strict=True):
        runs += [("Z", name, float(value), 10.0, 1) for value in readings]
    network = levels_only(["Z", "M", *rails], ["Z"], runs, ("between", "within"))
    found = variance_components(estimate(network), floor=2.0)
    between, within = 10 * found.multiplier
    again = estimate(
        replace(
            network,
            levels=replace(
                network.levels, sd=np.where(network.levels.group == 0, between, within)
            ),
        )
    )
    problem.check(
        mu=again.nodes.xyz[1, 2], sd_between=between, sd_within=within
    )  # fmt: skip
    problem.check_computed(
        sum_r_between=variance_components(again, floor=2.0).redundancy[0],
        sum_r_within=variance_components(again, floor=2.0).redundancy[1],
    )


def rows_of(adjustment):
    """Return design, covariance, misclosure and component of every row, one by one."""
    component, labels = labelled(adjustment)
    design, covariance, misclosure, label = [], [], [], []
    u = int(adjustment.columns.max()) + 1
    for batch in adjustment.whitened:
        for c, members in enumerate(batch.members):
            lower = batch.lower[c]
            wide = np.zeros((len(lower), u + 1))
            for k, column in enumerate(batch.columns[c]):
                wide[:, column] += (lower @ batch.design[c])[:, k]
            design.append(wide[:, :-1])
            covariance.append(lower @ lower.T)
            misclosure.append(lower @ batch.misclosure[c])
            label.append(labels[batch.kind][members].ravel())
    n = sum(len(block) for block in covariance)
    whole, at = np.zeros((n, n)), 0
    for block in covariance:
        whole[at : at + len(block), at : at + len(block)] = block
        at += len(block)
    return (
        component,
        np.concatenate(design),
        whole,
        np.concatenate(misclosure),
        np.concatenate(label),
    )


def minus_log_likelihood(log_sd, asked, design, covariance, misclosure, label):
    """Return −2 log of the restricted likelihood (Patterson and Thompson 1971)."""
    factor = np.ones(label.max() + 2)
    factor[asked] = np.exp(log_sd)
    of_row = np.where(np.isin(label, asked), factor[label], 1.0)
    stretched = covariance * of_row[:, None] * of_row
    weight = np.linalg.inv(stretched)
    normal = design.T @ weight @ design
    shift = np.linalg.solve(normal, design.T @ weight @ misclosure)
    left = misclosure - design @ shift
    return (
        np.linalg.slogdet(stretched)[1]
        + np.linalg.slogdet(normal)[1]
        + left @ weight @ left
    )


def mill(seed=4):
    return estimate(simulate(MAKERS["planned"]("mill"), seed=seed))


def test_the_same_as_the_likelihood_maximised_directly():
    """A site grid (rows are east, north, up): scipy climbs the likelihood itself."""
    adjustment = mill()
    found = variance_components(adjustment)
    component, design, covariance, misclosure, label = rows_of(adjustment)
    assert component == found.component
    asked = np.flatnonzero(found.judged)
    assert len(asked) >= 3
    # Unknowns in metres and radians differ by powers of ten.
    scale = 1 / np.sqrt(np.diag(design.T @ np.linalg.inv(covariance) @ design))
    best = optimize.minimize(
        minus_log_likelihood,
        np.zeros(len(asked)),
        (asked, design * scale, covariance, misclosure, label),
        method="BFGS",
        options={"gtol": 1e-6},
    )
    assert found.multiplier[asked] == pytest.approx(np.exp(best.x), rel=1e-4)
    information = expected_information(
        asked, found.multiplier, design * scale, covariance, label
    )
    freedom = 2 / np.diag(np.linalg.inv(information))
    assert found.degrees_of_freedom[asked] == pytest.approx(freedom, rel=1e-6)


def expected_information(asked, multiplier, design, covariance, label):
    """Return ½ tr(P dQ P dQ) of log f², with whole matrices (Searle; from memory)."""
    factor = np.append(np.where(np.isfinite(multiplier), multiplier, 1.0), 1.0)[label]
    whole = covariance * factor[:, None] * factor
    weight = np.linalg.inv(whole)
    normal = design.T @ weight @ design
    projected = weight - weight @ design @ np.linalg.solve(normal, design.T @ weight)
    changes = []
    for k in asked:
        own = (label == k) * 0.5
        changes.append(projected @ (whole * (own[:, None] + own)))
    return np.array([[np.sum(a * b.T) / 2 for b in changes] for a in changes])


@pytest.mark.parametrize("name", ["harbour", "mill", "tramway"])
def test_redundancies_sum_to_the_degrees_of_freedom(name):
    """All rows together, priors of parameters too; and one component alone is s0²."""
    adjustment = estimate(simulate(MAKERS["planned"](name), seed=2))
    component, labels = labelled(adjustment)
    unknowns = int(adjustment.columns.max()) + 1
    basis = adjustment.factor.basis
    one = {kind: np.where(some.active & some.used[:, None], 0, -1)
           for kind, some in ((e.kind, e) for e in adjustment.equations)}  # fmt: skip
    state = state_of(stacks_of(adjustment, one)[0], np.zeros(1), unknowns, basis)
    freedom = adjustment.degrees_of_freedom
    assert state.redundancy == pytest.approx([freedom], abs=1e-6)
    assert state.square_sum == pytest.approx([adjustment.vtpv])
    assert state.information == pytest.approx(np.array([[freedom / 2]]), abs=1e-6)
    apart = state_of(
        stacks_of(adjustment, labels)[0], np.zeros(len(component)), unknowns, basis
    )
    known = np.isin([c.kind for c in component], ["parameter"])
    assert not known.any()
    assert apart.redundancy.sum() <= freedom + 1e-6


def with_poor_vectors(factor, seed):
    """Return harbour drawn with vectors worse than stated, the same in every axis."""
    plan = MAKERS["planned"]("harbour")

    def times(vectors, scale):
        batches = (Batch(b.members, b.matrix * scale) for b in vectors.covariances)
        return replace(vectors, covariances=tuple(batches))

    drawn = simulate(replace(plan, vectors=times(plan.vectors, factor**2)), seed=seed)
    return estimate(replace(drawn, vectors=times(drawn.vectors, factor**-2)))


def test_vectors_stated_too_good_lead():
    adjustment = with_poor_vectors(3.0, 0)
    found = suspects(adjustment)
    made = weights(found)
    assert made.leads
    assert made.over > made.tested / 10
    out = {made.components.component[k].words for k in made.components.standing_out}
    assert out == {"vectors of group static, plan", "vectors of group static, height"}


def test_a_blunder_is_not_taken_for_weights():
    """With the cause in the model no group stands out; the total meets then."""
    adjustment = estimate(
        simulate(
            MAKERS["planned"]("harbour"),
            seed=3,
            blunders=[MAKERS["EXAMPLES"]["harbour"].PLANTED],
        )
    )
    made = weights(suspects(adjustment))
    assert not made.leads
    assert made.beside
    assert made.components.standing_out == ()


def test_what_cannot_be_judged_is_said():
    """One loop of three vectors: a redundancy of 2 in plan and 1 in height."""
    runs = [("A", "B", 1.0, 0.01, -1), ("B", "C", 1.0, 0.01, -1)]
    runs += [("C", "A", -2.02, 0.01, -1)]
    found = variance_components(estimate(levels_only(["A", "B", "C"], ["A"], runs)))
    assert found.verdict == ("unchecked",)
    assert np.isnan(found.multiplier).all()
    assert found.degrees_of_freedom == pytest.approx([1.0])


def test_one_group_alone_has_the_limits_of_chi_square():
    """Nine runs of one height difference: s0² on 8 degrees of freedom.

    Chi-square of 8 (any table, 2.5 % and 97.5 %): 2.180 and 17.535; f = 2 as the runs
    spread by twice their sd.
    """
    rises = 1 + 0.001 * np.array([-3, -2, -1.5, -1, 0, 1, 1.5, 2, 3])
    sd = np.std(rises, ddof=1) / 2
    runs = [("A", "B", rise, sd, -1) for rise in rises]
    found = variance_components(estimate(levels_only(["A", "B"], ["A"], runs)))
    assert found.multiplier == pytest.approx([2.0])
    assert found.degrees_of_freedom == pytest.approx([8.0])
    assert found.lower == pytest.approx([2 * np.sqrt(8 / 17.535)], rel=1e-4)
    assert found.upper == pytest.approx([2 * np.sqrt(8 / 2.180)], rel=1e-3)
    assert found.verdict == ("query",)


@pytest.fixture
def job(tmp_path):
    """Harbour with its planted height put right, and vectors stated too good."""
    folder = tmp_path / "harbour"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    path = folder / "job.toml"
    text = path.read_text("utf-8")
    poor = re.sub(r"(sd_multiplier_\w+ *=) *[\d.]+", r"\1 0.25", text)
    assert poor.count("= 0.25") == 2
    path.write_text(poor, "utf-8")
    right = ["value", "set-up", "S3-ICE", "height_m=1.617", "--reason", "exchanged"]
    assert main(["decide", *right, "--job", str(folder), "--who", "AB", "--quiet"]) == 0
    return folder


def said(capsys, folder, *words):
    capsys.readouterr()
    code = main(["suspects", "--job", str(folder), "--quiet", *words])
    return code, capsys.readouterr().out


def test_the_printed_decision_mends_what_it_says(job, capsys):
    """The multipliers in force are taken along: 0.25 times about 4."""
    code, out = said(capsys, job)
    assert code == 1
    flat = " ".join(out.split())
    assert "standard deviations that were stated too good" in flat
    command = flat.rpartition("next: brasscap ")[2]
    assert command.startswith(f"--job {job} decide multiplier group static 'plan=")
    words = [w.replace("INITIALS", "AB") for w in shlex.split(command)]
    assert main([*words, "--quiet"]) == 0
    code, out = said(capsys, job, "--json")
    found = json.loads(out)
    jsonschema.Draft202012Validator(schema_of("suspects")).validate(found)
    made = found["standard_deviations"]
    assert not made["leads"]
    vectors = [one for one in made["components"] if one["kind"] == "baseline"]
    for one in vectors:
        assert one["multiplier"] == pytest.approx(1.0, abs=0.01)
        assert one["verdict"] == "meets"
        assert 0.5 < one["multiplier_present"] < 2


@pytest.mark.parametrize(
    ("decided", "kind", "part"),
    [
        ("group levels height=2", "level difference", "height"),
        ("group total_station distance=2", "slope distance", "distance"),
        ("group total_station 'plan=2 distance=1'", "direction", "plan"),
        ("group total_station height=2", "zenith angle", "height"),
        ("support tripod plan=2", "set-up", "plan"),
    ],
)
def test_each_multiplier_multiplies_its_own(job, decided, kind, part):
    """Twice the sd is a quarter of the weight: nothing else changes."""
    from brasscap.io.tables.load import load

    def sds():
        adjustment = estimate(load(job).network)
        made = {}
        for some in adjustment.equations:
            for batch in some.covariances:
                sd = np.sqrt(np.einsum("cqq->cq", batch.matrix))
                rows = some.active.shape[1]
                for edges, values in zip(batch.members, sd, strict=True):
                    for n, edge in enumerate(edges.tolist()):
                        made[some.kind, edge] = values[n * rows : (n + 1) * rows]
        return made, adjustment.network

    before, network = sds()
    words = ["decide", "multiplier", *shlex.split(decided)]
    command = [*words, "--reason", "test", "--who", "AB", "--job", str(job), "--quiet"]
    assert main(command) == 0
    after, _ = sds()
    for (its, edge), was in before.items():
        mine = its == kind
        if kind == "set-up":
            mine &= network.set_ups.support[edge] == "tripod"
        ratio = after[its, edge] / was
        expected = np.ones(len(was))
        if mine:
            expected[slice(0, 2) if kind == "set-up" else slice(None)] = 2.0
        assert ratio == pytest.approx(expected), (its, edge)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    ("runs", "answer"),
    [
        ([("A", "B", 1.0, 0.001, -1)], "unchecked"),
        ([("A", "B", 1.0, 0.001, -1), ("B", "C", 1.0, 0.001, -1)], "unchecked"),
        ([("A", "B", 1.0, 0.001, -1)] * 9 + [("A", "B", 1e6, 0.001, -1)], "high"),
        ([("A", "B", 1.0, 0.001, -1)] * 9, "low"),
    ],
)
def test_bad_input_gives_words_and_no_warning(runs, answer):
    """One observation, no redundancy, 10⁶ m, and runs that agree to the last digit."""
    marks = sorted({end for run in runs for end in run[:2]})
    found = suspects(estimate(levels_only(marks, ["A"], runs)))
    made = weights(found)
    assert found.answer == answer
    assert not made.leads
    verdicts = set(made.components.verdict)
    assert verdicts <= {"meets", "query", "unchecked"}
    if answer == "unchecked":
        assert verdicts == {"unchecked"}
