"""Specifications: limits against standards, verdicts by hand, identities, bad input."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge import hypotheses
from brasscap.adjust.judge.external import reliability
from brasscap.adjust.judge.pair_effects import pair_effects
from brasscap.adjust.precision import pair
from brasscap.adjust.precision.compliance import judge_pairs
from brasscap.adjust.precision.relative import relative
from brasscap.io.tables.job_specifications import specification_of
from brasscap.io.tables.load import load
from brasscap.networks.neighbours import all_pairs, observed_pairs
from brasscap.networks.specifications import PRESETS, Limit, Specification

EXAMPLES = Path(__file__).parents[1] / "networks" / "examples"


@pytest.fixture(scope="module")
def harbour():
    return estimate(load(EXAMPLES / "harbour").network, "minimal")


@pytest.mark.parametrize(
    ("name", "distance_m", "limit_mm"),
    [
        # ALTA/NSPS 2021 and 2026: 2 cm + 50 ppm of the direct distance.
        ("alta-nsps-2021", 300, 35.0),
        ("alta-nsps-2026", 0, 20.0),
        # FGCC 1984, from memory: second order, class II is 1:20 000.
        ("fgcc-1984-second-2", 2000, 100.0),
        # FGCC 1989, from memory: order B, 8 mm and 1 ppm: √(8² + 20²) over 20 km.
        ("fgcc-1989-b", 20000, 21.5407),
        # LINZS25006: order 5 has 0.01 m and 5e-5: √(10² + 5²) over 100 m.
        ("linz-order-5", 100, 11.1803),
        # Canada 1978, first order, C = 2 (from memory): 2 (1 + 0.2) cm over 1 km.
        ("canada-1978-first", 1000, 24.0),
        # NOS NGS 92, primary: 1 cm in plan, whatever the distance.
        ("ngs-92-primary", 0, 10.0),
    ],
)
def test_standards_limits(name, distance_m, limit_mm):
    limit = PRESETS[name].plan.over(np.array([float(distance_m)]))[0]
    assert 1000 * limit == pytest.approx(limit_mm, abs=1e-3)


def test_height_limits():
    # FGCC 1984, from memory: third order 2.0 mm/√km; over 9 km 6 mm.
    third = PRESETS["fgcc-1984-height-third"]
    assert 1000 * third.height.over(np.array([9000.0]))[0] == pytest.approx(6.0)
    # LINZS25006: order 2 in height 0.010 m and 3e-6: √(10² + 15²) mm over 5 km.
    second = PRESETS["linz-order-2"].height.over(np.array([5000.0]))[0]
    assert 1000 * second == pytest.approx(np.hypot(10, 15))


def test_job_and_preset_say_the_same():
    stated = {
        "kind": "relative positional precision",
        "constant_mm": 20,
        "ppm": 50,
        "confidence": 0.95,
        "pairs": "adjacent",
        "also_stated_as": "0.07 ift",
    }
    made = specification_of("boundary", stated)
    assert made.plan == PRESETS["alta-nsps-2026"].plan
    # 0.07 ft is 21.3 mm (exact: 21.336).
    assert made.plan.also == pytest.approx(0.021336)
    own = specification_of("wider", {"preset": "linz-order-5", "within_m": 500})
    assert (own.name, own.within, own.tier_plan) == ("wider", 500, 0.15)


def test_many_pairs_say_what_one_pair_says(harbour):
    names = harbour.network.marks.name
    pairs = all_pairs(np.arange(len(names)))
    found = relative(harbour, pairs)
    for k in range(0, len(pairs), 7):
        one = pair(harbour, *(names[mark] for mark in pairs[k]))
        assert found.covariance[k] == pytest.approx(one.covariance, abs=1e-15)
        assert found.distance[k] == pytest.approx(one.level_distance, abs=1e-9)
        assert found.azimuth[k] == pytest.approx(one.azimuth, abs=1e-12)


def test_effects_on_marks_are_those_of_reliability(harbour):
    causes = hypotheses.set_ups(harbour)
    marks = np.arange(len(harbour.network.marks))
    alone = np.stack([np.full(len(marks), -1), marks], axis=1)
    found = pair_effects(harbour, causes, alone)
    expected = reliability(harbour, causes).effect.max(axis=0)
    assert np.array_equal(np.isinf(found.most), np.isinf(expected))
    finite = np.isfinite(expected)
    assert found.most[finite] == pytest.approx(expected[finite], rel=1e-9, abs=1e-12)


def test_a_pair_moves_as_its_marks_differ(harbour):
    """A blunder of a vector shifts a pair as much as re-adjusting says."""
    causes = [c for c in hypotheses.observations(harbour) if c.kind == "baseline"]
    pairs = observed_pairs(harbour.network)
    found = pair_effects(harbour, causes, pairs)
    one, part = 4, 0
    number = int(found.by[one, part])
    alone = pair_effects(harbour, [causes[number]], pairs)
    assert alone.most[one, part] == found.most[one, part]
    assert (found.most >= alone.most).all()


def level_job(folder, sd_mm=2.0, runs=2):
    folder.mkdir()
    (folder / "job.toml").write_text(
        'schema = 1\n[frame]\nkind = "local"\nheight_datum = "site"\n'
        "[spec.heights]\n"
        'kind = "height difference"\nmm_per_sqrt_km = 4\nconfidence = 0.95\n'
        'pairs = "adjacent"\n',
        "utf-8",
    )
    (folder / "stations.csv").write_text(
        "station,approx_north_m,approx_east_m,approx_height_m\nA,0,0,10\nB,1000,0,11\n",
        "utf-8",
    )
    (folder / "control.csv").write_text(
        "station,use_height,height_m,height_datum\nA,held,10.000,site\n", "utf-8"
    )
    rows = "".join(f"S{k},A,B,1.00{k},single,1,{sd_mm}\n" for k in range(runs))
    (folder / "levels.csv").write_text(
        "section,from_station,to_station,rise_m,run,length_km,sd_mm\n" + rows, "utf-8"
    )
    return folder


def asked(capsys, *words):
    code = main([*words])
    return code, capsys.readouterr()


def test_a_levelled_pair_by_hand(tmp_path, capsys):
    """Two runs of 2 mm: 2/√2 × 1.95996 = 2.772 mm; the limit over 1 km is 4 mm."""
    folder = level_job(tmp_path / "job")
    code, said = asked(capsys, "spec", "--job", str(folder), "--json")
    found = json.loads(said.out)
    (line,) = found["specifications"][0]["lines"]
    assert (code, found["specifications"][0]["precision"]) == (0, "meets")
    assert line["value_mm"] == pytest.approx(1.959964 * 2 / 2**0.5, abs=1e-3)
    assert line["limit_mm"] == pytest.approx(4.0, abs=1e-3)
    # Repeats check each other: a blunder of 4.13 × √(2² + 2²) is just found, half of
    # it is in the mean: 5.84 mm, more than the limit.
    assert line["unseen_blunder_moves_mm"] == pytest.approx(
        17.0746**0.5 * 8**0.5 / 2, abs=1e-2
    )
    assert found["specifications"][0]["reliability"] == "query"


def test_a_single_run_is_unchecked_and_a_poor_one_fails(tmp_path, capsys):
    folder = level_job(tmp_path / "one", runs=1)
    _, said = asked(capsys, "spec", "--job", str(folder), "--json")
    found = json.loads(said.out)["specifications"][0]
    assert (found["precision"], found["reliability"]) == ("meets", "unchecked")
    assert found["lines"][0]["moved_by_any_amount"]
    poor = level_job(tmp_path / "poor", sd_mm=4.0)
    code, said = asked(capsys, "spec", "--job", str(poor))
    assert code == 1
    # 4/√2 × 1.95996 = 5.5 mm of 4 mm.
    assert "5.5 of 4.0 mm" in " ".join(said.out.split())


def test_between_two_roundings_is_a_query(harbour):
    pairs = observed_pairs(harbour.network)[:1]
    value = judge_pairs(harbour, _precision(1.0, 1.0), pairs, [])[0].value[0]
    low, high = 0.999 * value, 1.001 * value
    words = [
        judge_pairs(harbour, _precision(first, also), pairs, [])[0].precision[0]
        for first, also in ((low, high), (high, low), (low, low), (high, high))
    ]
    assert words == ["query", "query", "fails", "meets"]


def _precision(constant, also):
    limit = Limit(constant, also=also)
    return Specification("s", "relative positional precision", 0.95, limit)


def test_plan_of_a_job_of_heights_cannot_be_judged(tmp_path, capsys):
    folder = level_job(tmp_path / "job")
    code, said = asked(
        capsys, "spec", "--job", str(folder), "--spec", "alta-nsps-2026", "--json"
    )
    found = json.loads(said.out)["specifications"][0]
    assert (code, found["precision"]) == (0, "unchecked")
    assert found["lines"][0]["value_mm"] is None


def test_the_statement_defers_to_the_licensed_person(tmp_path, capsys):
    folder = level_job(tmp_path / "job")
    _, said = asked(capsys, "spec", "--job", str(folder), "--statement")
    words = " ".join(said.out.split())
    assert "to be edited and signed by the licensed person" in words
    assert "95 %" in words
    assert "multiplier 1.960" in words


@pytest.fixture
def copied(tmp_path):
    return shutil.copytree(EXAMPLES / "harbour", tmp_path / "harbour")


@pytest.mark.parametrize(
    ("text", "slug"),
    [
        ('kind = "ratio"\nconfidence = 0.95', "key-missing"),
        ('kind = "ratio"\nratio = 1000', "key-missing"),
        ("confidence = 0.95\nratio = 1000", "key-missing"),
        ('kind = "ratios"\nratio = 1000\nconfidence = 0.95', "word-not-known"),
        ('preset = "alta-nsps-2025"', "word-not-known"),
        ('kind = "ratio"\nratio = 9\nppm = 3\nconfidence = 0.95', "key-without-effect"),
        ('preset = "alta-nsps-2021"\nalso_stated_as = "0.07 ft"', "foot-not-named"),
        ('preset = "alta-nsps-2021"\nalso_stated_as = "7"', "value-not-understood"),
    ],
)
def test_a_wrong_specification_is_a_fault(copied, capsys, text, slug):
    job = copied / "job.toml"
    old = job.read_text("utf-8")
    job.write_text(f"{old}\n[spec.wrong]\n{text}\n", "utf-8")
    code, said = asked(capsys, "check", "--job", str(copied), "--json")
    assert code == 3
    assert slug in {f["slug"] for f in json.loads(said.out)["findings"]}


@pytest.mark.parametrize(
    ("content", "slugs"),
    [
        ("station\nICE HOUSE\nNETT LOFT\nICE HOUSE\n", ["unknown-name"] * 2),
        ("from_station,to_station\nICE HOUSE,ICE HOUSE\n", ["pairs-file"]),
        ("from,to\nICE HOUSE,NET LOFT\n", ["pairs-file"]),
        ("station\nICE HOUSE\n", ["pairs-none"]),
        (None, ["pairs-file"]),
    ],
)
def test_a_wrong_pairs_file_is_told(copied, capsys, content, slugs):
    if content is not None:
        (copied / "corners.csv").write_text(content, "utf-8")
    words = ("spec", "--job", str(copied), "--pairs", "corners.csv", "--json")
    code, said = asked(capsys, *words)
    assert code == 3
    assert [f["slug"] for f in json.loads(said.out)["findings"]] == slugs


def test_corners_in_order_are_pairs(copied, capsys):
    corners = "station\nICE HOUSE\nNET LOFT\nSLIPWAY\nICE HOUSE\n"
    (copied / "corners.csv").write_text(corners, "utf-8")
    words = ("spec", "--job", str(copied), "--pairs", "corners.csv", "--json")
    _, said = asked(capsys, *words)
    lines = json.loads(said.out)["specifications"][0]["lines"]
    both = {(line["from"], line["to"]) for line in lines}
    assert both == {
        ("ICE HOUSE", "NET LOFT"), ("NET LOFT", "SLIPWAY"), ("SLIPWAY", "ICE HOUSE"),
    }  # fmt: skip


def test_no_specification_and_a_wrong_name(tmp_path, capsys):
    folder = level_job(tmp_path / "job")
    text = (folder / "job.toml").read_text("utf-8")
    (folder / "job.toml").write_text(text.split("[spec")[0], "utf-8")
    code, said = asked(capsys, "spec", "--job", str(folder))
    assert code == 3
    assert "--spec alta-nsps-2026" in said.out + said.err
    code, said = asked(capsys, "spec", "--job", str(folder), "--spec", "alta-nsps")
    assert code == 2
    assert "alta-nsps-2" in said.err


def test_nothing_is_said_of_precision_where_the_solution_fails(tmp_path, capsys):
    """Two runs of 2 mm that differ by 90 mm: the mean is no better for its formula."""
    folder = level_job(tmp_path / "job")
    path = folder / "levels.csv"
    path.write_text(path.read_text("utf-8").replace("1.001", "1.091"), "utf-8")
    code, said = asked(capsys, "spec", "--job", str(folder), "--json")
    found = json.loads(said.out)
    assert code == 1
    assert found["solutions"][0]["variance_factor_verdict"] == "fails"
    one = found["specifications"][0]
    # One degree of freedom, and the stated sds are known to be wrong: the estimated
    # ones count, 45 mm × t = 12.7.
    assert one["covariance_kind"] == "estimated"
    assert one["lines"][0]["value_mm"] == pytest.approx(45.0 * 12.706, rel=0.02)
    assert "meets" not in {one["precision"], one["lines"][0]["precision"]}
    _, said = asked(capsys, "spec", "--job", str(folder), "--statement")
    assert "nothing can be stated" in " ".join(said.out.split())
