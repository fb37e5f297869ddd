"""Standard deviations by group: a section of the report, and a query with its mend."""

import json
import re
import shlex
from dataclasses import replace
from html import unescape

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.causes import suspects
from brasscap.adjust.causes.weights import weights
from brasscap.adjust.judge.components import Component
from brasscap.adjust.judge.variance_components import VarianceComponents
from brasscap.json_schemas import schema_of
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country
from brasscap.reports.words_weights import meaning_words


@pytest.fixture
def wrong(tmp_path):
    """Harbour with its planted height, and vectors stated four times too good."""
    folder = tmp_path / "harbour"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    path = folder / "job.toml"
    text = path.read_text("utf-8")
    poor, count = re.subn(r"(sd_multiplier_\w+ *=) *[\d.]+", r"\1 0.25", text)
    assert count == 2
    path.write_text(poor, "utf-8")
    return folder


@pytest.fixture
def job(wrong):
    """The same with the planted height put right."""
    right = ["value", "set-up", "S3-ICE", "height_m=1.617", "--reason", "exchanged"]
    assert main(["decide", *right, "--job", str(wrong), "--who", "AB", "--quiet"]) == 0
    return wrong


@pytest.fixture
def counted(monkeypatch):
    """Return the list that a call of ``suspects`` adds its adjustment to."""
    from brasscap.adjust import causes

    calls, real = [], causes.suspects

    def counting(adjustment, *rest, **more):
        calls.append(adjustment)
        return real(adjustment, *rest, **more)

    monkeypatch.setattr(causes, "suspects", counting)
    return calls


def queries(capsys, job):
    """Return the queries that stand, by name, held to the schema."""
    capsys.readouterr()
    main(["--job", str(job), "--json", "--quiet"])
    found = json.loads(capsys.readouterr().out)
    Draft202012Validator(schema_of("stands")).validate(found)
    return {one["query"]: one for one in found["queries"]}


def section(job, name):
    page = (job / "reports" / "report.html").read_text("utf-8")
    part = re.search(rf'id="{name}"(.*?)</section>', page, re.S)[1]
    return unescape(" ".join(re.sub(r"<[^>]+>", " ", part).split()))


def test_a_group_that_stands_out_is_a_query_that_its_mend_closes(job, capsys, counted):
    """The line as printed, typed: the query is answered by that decision, and gone."""
    assert main(["--job", str(job), "run", "--quiet"]) == 1
    assert len(counted) == 1
    raised = queries(capsys, job)
    (asked,) = (q for q in raised.values() if q["slug"].startswith("standard-dev"))
    said = "standard deviations of group static: plan and height stated too good"
    assert asked["about"] == said
    assert (asked["state"], asked["source"]) == ("open", "suspects")
    # It is what fails: more than a tenth over their limits, and no few causes.
    assert asked["verdict"] == "fails"
    assert asked["said"].startswith("multiply first, then look for blunders")
    assert asked["mend"].endswith(f" --answers {asked['query']}")
    assert asked["mend"] in section(job, "queries")
    capsys.readouterr()
    main(["--job", str(job), "--quiet"])
    # Whole, in a line of its own: broken, it could not be typed.
    typed = asked["mend"].replace("brasscap ", f"brasscap --job {job} ", 1)
    assert f"    mend: {typed}\n" in capsys.readouterr().out
    words = shlex.split(asked["mend"])[1:]
    assert main([*words, "--job", str(job), "--quiet"]) == 0
    main(["--job", str(job), "run", "--quiet"])
    after = queries(capsys, job)[asked["query"]]
    assert after["state"] == "gone"
    assert after["answer"]["action"] == "multiplier"


def test_the_page_has_every_group_and_computes_the_causes_once(job, counted):
    assert main(["--job", str(job), "report", "--html", "--quiet"]) == 1
    assert len(counted) == 1
    said = section(job, "weights")
    assert "stated too good" in said
    assert "vectors of group static, height" in said
    assert "as stated, within what chance does" in said
    assert re.search(
        r"set-ups on pillar, height unchecked cannot be judged \d\.\d fewer than 6",
        said,
    )


def test_a_blunder_that_no_multiplier_explains_comes_first(wrong, capsys):
    """54 mm are too much for four times the standard deviations; the rest is not."""
    main(["--job", str(wrong), "--json", "--quiet", "run"])
    found = json.loads(capsys.readouterr().out)
    Draft202012Validator(schema_of("run")).validate(found)
    assert found["standard_deviations"]["leads"] is False
    (asked,) = (
        q for q in found["queries"] if q["slug"] == "standard-deviations-differ"
    )
    assert asked["verdict"] == "query"
    assert asked["said"].startswith(
        "settle the suspected cause first; with the suspected cause, height of set-up "
        "S3-ICE (ICE HOUSE, session S3), taken as true: vectors"
    )
    assert found["next_steps"][0]["command"] == "brasscap show set-up S3-ICE"


def noisy(marks, times):
    """Return vectors whose noise is so many times what is stated.

    Two draws about the same truth differ by √2 times the noise of one.
    """
    plan = country(marks, seed=3)
    one, other = (simulate(plan, seed=seed).vectors for seed in (4, 5))
    noise = (one.delta - other.delta) / np.sqrt(2)
    truth = (one.delta + other.delta) / 2  # its own noise is 1/√2 times that stated
    return replace(plan, vectors=replace(one, delta=truth + times * noise))


def test_chance_among_many_is_no_blunder_and_a_blunder_is_one():
    """Of 275 vectors, five times as noisy as stated, some are over five times their
    limits by chance: what is wrong is the standard deviations. A vector that is 3 m
    off is not explained by them."""
    network = noisy(100, 5.0)
    made = weights(suspects(estimate(network, "constrained")))
    assert (made.beside, made.leads) == ((), True)
    delta = network.vectors.delta.copy()
    delta[40] += [0.0, 0.0, 3.0]
    wrong = replace(network, vectors=replace(network.vectors, delta=delta))
    made = weights(suspects(estimate(wrong, "constrained")))
    assert len(made.beside) == 1
    assert network.vectors.name[40] in made.causes[0]


def test_kept_queries_are_not_raised_again(job, counted):
    """A second run looks at the causes once more, for the page, and not twice."""
    main(["--job", str(job), "run", "--quiet"])
    counted.clear()
    main(["--job", str(job), "run", "--quiet"])
    assert len(counted) == 1


def test_a_job_too_large_says_who_judges(job, monkeypatch, capsys):
    """No query then, from whichever command: its mend could not be found again."""
    from brasscap.adjust.causes import weights

    monkeypatch.setattr(weights, "ROUTINE", 100)
    main(["--job", str(job), "run", "--quiet"])
    assert "Not judged here: 153 unknowns are more than the 100" in section(
        job, "weights"
    )
    slugs = {q["slug"] for q in queries(capsys, job).values()}
    assert "standard-deviations-differ" not in slugs


def test_a_multiplier_is_said_in_words():
    """Too good, too poor, as stated; too few; enough, but not to be told apart."""
    kinds = tuple(Component("direction", name, "plan") for name in "abcdef")
    nan = float("nan")
    multiplier = [2.0, 0.5, 1.1, nan, nan, 1.5]
    found = VarianceComponents(
        kinds,
        np.full(6, 20),
        np.full(6, 10.0),
        # As it is put where there are enough, but another group looks the same.
        np.array([10, 10, 10, 3.0, 6 - 1e-9, 10]),
        np.array(multiplier),
        np.array([1.5, 0.3, 0.8, nan, nan, 1.1]),
        np.array([3.0, 0.8, 1.6, nan, nan, 2.2]),
        ((1,), (), (), (), (), ()),
        ("query", "query", "meets", "unchecked", "unchecked", "meets"),
        6.0,
        True,
        4,
    )
    said = [meaning_words(found, k) for k in range(6)]
    assert said[0].startswith("stated too good")
    assert said[0].endswith(
        "it may be directions of group b instead, which cannot be told"
    )
    assert said[1].startswith("stated too poor")
    assert said[2].startswith("as stated")
    assert said[3].startswith("fewer than 6 degrees of freedom")
    assert said[4].startswith("not to be told from another group")
    assert said[5].startswith("its own limits leave out 1, but of 4 groups one may")
