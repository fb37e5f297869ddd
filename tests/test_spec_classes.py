"""Accuracy classes: published rows through a job folder; effects that are bounded."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge import hypotheses, pair_effects
from brasscap.adjust.precision.compliance import averages, judge_marks, judge_pairs
from brasscap.io.tables.job_specifications import specification_of
from brasscap.io.tables.load import load
from brasscap.networks.neighbours import all_pairs

EXAMPLES = Path(__file__).parents[1] / "networks" / "examples"


@pytest.fixture
def published(case, tmp_path):
    """Return a job with one vector to a mark a row of the data sheets, and the rows.

    The vector carries the row's covariance, set-ups none: the mark's is the row's.
    """
    problem = case("ngs_local_network_accuracy")
    rows = problem["observations"]
    folder = tmp_path / "published"
    folder.mkdir()
    (folder / "job.toml").write_text(
        'schema = 1\n[frame]\nkind = "local"\nheight_datum = "site"\n'
        '[tests]\nellipses_from = "stated"\n'
        + "".join(
            f"[set_up.{kind}]\nsd_centring_mm = 0\nsd_height_mm = 0\n"
            for kind in ("tripod", "pillar", "target", "pole_bipod", "pole_hand")
        ),
        "utf-8",
    )
    (folder / "control.csv").write_text(
        "station,use_plan,use_height,north_m,east_m,height_m,height_datum\n"
        "DATUM,held,held,0,0,0,site\n",
        "utf-8",
    )
    lines = [
        f"V{k},DATUM,M{k},{100 + k},{10 * k},1,"
        f"{10 * row['sd_e_cm']},{10 * row['sd_n_cm']},{10 * row['sd_h_cm']},"
        f"{row['corr_ne']},0,0"
        for k, row in enumerate(rows)
    ]
    (folder / "baselines.csv").write_text(
        "baseline,from_station,to_station,de_m,dn_m,du_m,sd_e_mm,sd_n_mm,sd_u_mm,"
        "corr_en,corr_eu,corr_nu\n" + "\n".join(lines) + "\n",
        "utf-8",
    )
    return load(folder).network, problem


def test_network_and_local_accuracies_of_published_sheets(published):
    """US National Geodetic Survey's data sheets: 95 % circle and height, each row."""
    network, problem = published
    stated = {"kind": "network accuracy", "confidence": 0.95}
    one = specification_of("datum", stated)
    constrained = estimate(network)
    names = network.marks.name
    count = len(problem["observations"])
    marks = np.array([names.index(f"M{k}") for k in range(count)])
    plan, height = judge_marks(constrained, one, marks, [])
    problem.check(horiz95_cm=100 * plan.cubic, ellip95_cm=100 * height.value)
    problem.check_computed(horiz95_exact_cm=100 * plan.value)
    local = specification_of("near", {**stated, "kind": "local accuracy"})
    assert local.pairs == "adjacent"
    pairs = np.stack([np.full(count, names.index("DATUM")), marks], axis=1)
    plan, height = judge_pairs(estimate(network, "minimal"), local, pairs, [])
    problem.check(horiz95_cm=100 * plan.cubic, ellip95_cm=100 * height.value)
    # One local accuracy a mark is the mean over its pairs.
    made = averages(plan)
    at = made.mark.tolist().index(names.index("DATUM"))
    assert made.neighbours[at] == count
    assert made.average[at] == pytest.approx(plan.value.mean())
    assert made.worst[at] == plan.value.max()


def test_held_marks_are_no_lines(published):
    network, _ = published
    stated = {"kind": "network accuracy", "confidence": 0.95}
    marks = np.arange(len(network.marks))
    plan, _ = judge_marks(estimate(network), specification_of("d", stated), marks, [])
    assert network.marks.name.index("DATUM") not in plan.pairs[:, 1]
    assert len(plan.value) == len(marks) - 1


@pytest.fixture(scope="module")
def harbour():
    return estimate(load(EXAMPLES / "harbour").network, "minimal")


def test_bounded_effects_are_no_smaller_and_never_change_a_verdict(
    harbour, monkeypatch
):
    """Cauchy–Schwarz: an effect is at most bias-to-noise times sd."""
    causes = [*hypotheses.observations(harbour), *hypotheses.set_ups(harbour)]
    pairs = all_pairs(np.arange(len(harbour.network.marks)))
    one = specification_of(
        "s",
        {
            "kind": "relative uncertainty",
            "constant_mm": 9,
            "constant_height_mm": 15,
            "confidence": 0.95,
        },
    )
    exact = judge_pairs(harbour, one, pairs, causes)
    assert not any(line.at_most.any() for line in exact)
    monkeypatch.setattr(pair_effects, "EXACTLY", 0)
    bounded = judge_pairs(harbour, one, pairs, causes)
    for line, true in zip(bounded, exact, strict=True):
        assert line.at_most.any()
        assert not line.at_most.all()
        assert line.reliability == true.reliability
        assert (line.effect >= true.effect * (1 - 1e-9)).all()
        assert (line.effect[line.at_most] <= line.limit[line.at_most]).all()
        known = ~line.at_most & np.isfinite(true.effect)
        assert line.effect[known] == pytest.approx(true.effect[known])
        assert (line.by[known] == true.by[known]).mean() > 0.9


def test_pairs_within_a_distance_are_all_of_them(harbour):
    """Against every pair, one after another."""
    from brasscap.adjust.precision.near import count_within, pairs_within

    places = harbour.nodes.xyz[: len(harbour.network.marks)]
    far = np.linalg.norm(places[:, None] - places, axis=2)
    expected = [
        [i, j]
        for i in range(len(places))
        for j in range(i + 1, len(places))
        if far[i, j] <= 900
    ]
    assert pairs_within(places, 900).tolist() == expected
    assert count_within(places, 900) == len(expected)


def asked(capsys, *words):
    code = main([*words])
    return code, capsys.readouterr()


@pytest.fixture
def job(tmp_path):
    folder = shutil.copytree(EXAMPLES / "harbour", tmp_path / "harbour")
    with (folder / "job.toml").open("a", encoding="utf-8") as file:
        file.write(
            '[spec.datum]\nkind = "network accuracy"\nconfidence = 0.95\n'
            '[spec.near]\npreset = "linz-order-5"\nwithin_m = 600\n'
        )
    return folder


def test_a_classification_has_no_verdict_but_says_what_is_unchecked(job, capsys):
    code, said = asked(capsys, "spec", "--job", str(job), "--spec", "datum", "--json")
    found = json.loads(said.out)
    plan, height = found["specifications"]
    # The harbour's planted blunder fails the variance factor: exit 1 for that.
    assert code == 1
    assert (plan["part"], height["part"]) == ("plan", "height")
    for one in (plan, height):
        assert one["precision"] == ""
        assert one["reliability"] == "unchecked"
        for line in one["lines"]:
            assert line["limit_mm"] is None
            size = float(line["accuracy_class"].split()[0])
            unit = {"mm": 1, "cm": 10, "dm": 100}[line["accuracy_class"].split()[1]]
            assert line["value_mm"] <= size * unit


def test_every_pair_within_the_distance_is_tested(job, capsys):
    _, said = asked(capsys, "spec", "--job", str(job), "--spec", "near", "--json")
    found = json.loads(said.out)["specifications"]
    pairs = [one for one in found if one["of"] == "pairs" and one["part"] == "plan"]
    network = load(job).network
    adjustment = estimate(network, "minimal")
    from brasscap.adjust.precision.relative import relative

    every = relative(adjustment, all_pairs(np.arange(len(network.marks))))
    assert len(pairs[0]["lines"]) == int((every.distance <= 600).sum())
    assert all(line["distance_m"] <= 600 for line in pairs[0]["lines"])


def test_the_statement_names_the_record_that_stands(job, capsys):
    words = ("spec", "--job", str(job), "--spec", "quay", "--statement")
    _, said = asked(capsys, *words)
    assert "none is issued yet" in said.out
    asked(
        capsys, "record", "issue", "--job", str(job), "--with-open", "--who", "ab",
        "--dated", "2026-05-04T10:00:00Z",
    )  # fmt: skip
    _, said = asked(capsys, *words)
    assert "issue 1 of 2026-05-04, made from the same input" in said.out
    path = job / "stations.csv"
    path.write_text(path.read_text("utf-8") + "\n", "utf-8")
    _, said = asked(capsys, *words)
    assert "since then stations.csv changed" in " ".join(said.out.split())


def test_run_and_report_hold_the_specification(job, capsys):
    _, said = asked(capsys, "run", "--job", str(job), "--json", "--until", "spec")
    found = json.loads(said.out)["specifications"]
    assert {one["name"] for one in found} == {"quay", "datum", "near"}
    _, said = asked(capsys, "report", "--job", str(job))
    assert "Specification" in said.out
    assert "quay, pairs in plan: reliability" in said.out


def test_a_specification_that_cannot_be_judged_stops_no_report(job, capsys):
    path = job / "job.toml"
    text = path.read_text("utf-8").replace('pairs = "adjacent"', 'pairs = "none.csv"')
    path.write_text(text, "utf-8")
    code, said = asked(capsys, "report", "--job", str(job))
    assert code in (0, 1)
    assert "It cannot be judged" in said.out
    code, said = asked(capsys, "spec", "--job", str(job))
    assert code == 3
