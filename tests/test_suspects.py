"""What `suspects` prints and gives: three different answers, a schema, a next step."""

import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.causes import suspects
from brasscap.io.tables.load import load
from brasscap.json_schemas import empty_object, schema_of
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country
from brasscap.reports.words_suspects import (
    answer_words,
    named_in_row,
    twins_words,
    weights_words,
)


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    folder = tmp_path_factory.mktemp("suspects") / "harbour"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    return folder


def said(capsys, *words):
    capsys.readouterr()
    code = main(["suspects", *words, "--quiet"])
    return code, capsys.readouterr()


def test_the_height_that_was_booked_wrong_comes_first(job, capsys):
    code, captured = said(capsys, "--job", str(job))
    assert code == 1
    flat = " ".join(captured.out.split())
    assert "too high" in flat
    assert "1 height of set-up S3-ICE" in flat
    assert "echoes of cause 1" in flat
    assert captured.out.rstrip().endswith(
        f"next: brasscap --job {job} show set-up S3-ICE"
    )


def test_nothing_is_written(job, capsys):
    before = sorted(path for path in Path(job).rglob("*"))
    said(capsys, "--job", str(job))
    assert sorted(path for path in Path(job).rglob("*")) == before


@pytest.mark.parametrize("datum", ["constrained", "minimal"])
def test_the_object_fits_its_schema_and_the_contract(job, capsys, datum):
    code, captured = said(capsys, "--job", str(job), "--datum", datum, "--json")
    found = json.loads(captured.out)
    jsonschema.Draft202012Validator(schema_of("suspects")).validate(found)
    assert code == 1
    assert found["datum"] == datum
    first = found["causes"][0]
    assert (first["rank"], first["group"]) == (1, 1)
    assert (first["kind"], first["about"]) == ("set-up height", ["S3-ICE"])
    assert first["size"]["up_mm"] == pytest.approx(54, abs=20)
    assert first["test"] == pytest.approx(
        (first["statistic"] / first["limit"]) ** 0.5, rel=1e-5
    )
    assert first["variance_factor_without"] < 1.3
    assert first["verdict"] == "fails"
    assert len(found["causes"]) <= 20
    assert found["groups"][0]["members"] == [1]
    assert found["groups"][0]["named"][0] == 1
    assert found["steps"][0]["accepted"] == 1


def test_a_group_names_in_its_row_what_it_lists(job):
    """Whoever reads the JSON and whoever reads the table see the same group."""
    found = suspects(estimate(load(job).network))
    for group in found.groups:
        named = named_in_row(group)
        first = group.members[0]
        row = f"{found.words[first]}; {twins_words(found, first)}"
        if found.test[first] > 1:
            assert all(found.words[k] in row for k in named)
        assert named[0] == first
        assert len(set(named)) == len(named)


def test_ten_thousand_kilometres_in_one_vector_are_no_matter_of_weights():
    """A digit too many: no standard deviation times hundreds of millions is offered."""
    network = simulate(country(20, "uniform", set_ups=True), seed=1)
    vectors = network.vectors
    delta = vectors.delta.copy()
    delta[3, 0] += 1e7
    wrong = replace(network, vectors=replace(vectors, delta=delta))
    found = suspects(estimate(wrong))
    assert found.about[0] == (vectors.name[3],)
    said = weights_words(found)
    assert "cause 1 takes away most of it" in said


def test_about_one_thing_only(job, capsys):
    code, captured = said(
        capsys, "--job", str(job), "--json", "--about", "baseline", "B5"
    )
    found = json.loads(captured.out)
    assert code == 1
    assert [cause["about"] for cause in found["causes"]] == [["B5"]]
    assert found["causes"][0]["kind"] == "observation"


def test_about_a_name_with_blanks(job, capsys):
    _, captured = said(
        capsys, "--job", str(job), "--json", "--about", "mark", "GRAIN SHED"
    )
    kinds = {cause["kind"] for cause in json.loads(captured.out)["causes"]}
    assert kinds == {"known mark plan", "known mark height", "known mark"}


def test_about_what_nothing_checks(job, capsys):
    code, captured = said(capsys, "--job", str(job), "--about", "baseline", "B21")
    assert code == 1
    assert "nothing checks it" in captured.out


def test_about_an_echo(job, capsys):
    _, captured = said(capsys, "--job", str(job), "--about", "tripod", "T1")
    flat = " ".join(captured.out.split())
    assert "one height error in all" in flat
    assert "only as an echo of cause 1" in flat


_WRONG = [("B5",), ("--about", "baseline"), ("--about",), ("--about", "set-up", "S9")]


@pytest.mark.parametrize("words", _WRONG)
def test_a_wrong_command_line(job, capsys, words):
    code, captured = said(capsys, "--job", str(job), *words)
    assert code == 2
    assert "about" in captured.err


def test_a_fault_prints_the_whole_object(job, capsys, tmp_path):
    folder = tmp_path / "job"
    main(["new", str(folder), "--example", "tramway", "--quiet"])
    (folder / "levels.csv").write_text("nonsense\n1\n")
    code, captured = said(capsys, "--job", str(folder), "--json")
    found = json.loads(captured.out)
    assert code == found["exit_code"] == 3
    assert set(empty_object("suspects")) <= set(found)


def test_high_low_and_passes_but_are_three_answers(job):
    found = suspects(estimate(load(job).network))
    factor = found.variance_factor

    def with_verdict(word):
        return replace(found, variance_factor=replace(factor, verdict=word))

    high, low, but = (
        answer_words(with_verdict(word)) for word in ("fails", "query", "meets")
    )
    assert high.startswith("too high")
    assert low.startswith("too low")
    assert "no blunder" in low
    assert but.startswith("passes, but")
    assert answer_words(with_verdict("unchecked")).startswith("nothing was measured")


def test_units_in_feet(job, capsys):
    _, captured = said(capsys, "--job", str(job), "--units", "ift")
    assert "ift" in captured.out
    assert " mm" not in captured.out


def test_nothing_measured_twice_is_said_in_words(tmp_path, capsys):
    folder = tmp_path / "job"
    main(["new", str(folder), "--example", "tramway", "--quiet"])
    table = (folder / "levels.csv").read_text("utf-8").splitlines()
    once = [row for row in table[1:] if ",out," in row and row[:3] != "T10"]
    (folder / "levels.csv").write_text("\n".join([table[0], *once]) + "\n", "utf-8")
    code, captured = said(capsys, "--job", str(folder), "--datum", "minimal")
    flat = " ".join(captured.out.split())
    assert code == 0
    assert "no degrees of freedom" in flat
    assert "a blunder of any size is hidden" in flat
    assert captured.out.rstrip().endswith(f"next: brasscap --job {folder} loops")


def test_the_size_is_told_what_it_looks_like(job, capsys):
    _, captured = said(capsys, "--job", str(job), "--json")
    first, second, *_ = json.loads(captured.out)["causes"]
    words = [like["words"] for like in first["likeness"]]
    assert "the gap to the second reading of the height" in words
    assert all(
        0 < like["chance"] <= like["chance_of_any"] for like in first["likeness"]
    )
    assert second["likeness"] == []
