"""Queries with a life: raised by input and results, answered, no longer raised."""

import csv
import json
import re
import shlex
from pathlib import Path

import pytest

from brasscap.__main__ import main
from brasscap.networks.queries import Query, named_queries, with_answers


@pytest.fixture
def ask(capsys):
    """Return a function that runs a command line: exit code, stdout, stderr."""

    def run(*words):
        capsys.readouterr()
        code = main([str(word) for word in words])
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


@pytest.fixture
def job(tmp_path, monkeypatch, capsys):
    """Return the folder of the example of levels, in which commands then run."""
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "tramway", "--quiet"]) == 0
    monkeypatch.chdir(folder)
    return folder


def stands(ask):
    return {q["query"]: q for q in json.loads(ask("--json")[1])["queries"]}


def decided():
    return csv.DictReader(Path("decisions.csv").read_text().splitlines())


def by_source(queries, source):
    return [q for q in queries.values() if q["source"] == source]


def test_a_query_of_a_result_lives_and_dies(ask, job):
    """Raised by `run`, listed by `brasscap`, accepted with its verdict kept, then
    gone when what it asked is left out; all this by names that stay."""
    assert ask("run")[0] == 1
    first = stands(ask)
    (cause,) = by_source(first, "suspects")
    assert cause["state"] == "open"
    assert cause["verdict"] == "fails"
    assert "T6" in cause["about"]
    name = cause["query"]
    assert name in ask("suspects")[1]
    code, out, _ = ask("decide", "accept", "query", name, "--reason", "as built")
    assert code == 0
    # The results count still: an answer changes no figure.
    after = stands(ask)
    assert set(after) == set(first)
    assert after[name]["state"] == "answered"
    assert after[name]["verdict"] == "fails"
    assert after[name]["answer"]["reason"] == "as built"
    code, out, _ = ask()
    assert code == 1
    said = re.sub(r"\s+", " ", out)
    assert "fails, accepted by decision" in said
    rows = [line.split()[0] for line in out.splitlines() if re.search(r" open ", line)]
    assert out.index(rows[-1]) < out.index(name)  # open ones first
    line = ["decide", "leave-out", "level difference", "T6", "--reason", "misread"]
    assert ask(*line)[0] == 0
    ask("run")
    assert stands(ask)[name]["state"] == "gone"
    assert "no longer raised" in ask()[1]


@pytest.mark.parametrize("source", ["suspects", "control", "loops"])
def test_a_decision_answers_a_query_of_each_command(ask, job, source):
    ask("run")
    query = by_source(stands(ask), source)[0]["query"]
    shown = json.loads(ask(source, "--json")[1])["queries"]
    assert query in [q["query"] for q in shown]
    line = ["decide", "leave-out", "level difference", "T9", "--answers", query]
    assert ask(*line, "--reason", "weak")[0] == 0
    row = next(iter(decided()))
    assert row["answers_query"] == query


def test_a_query_that_nothing_checks(ask, tmp_path, monkeypatch):
    """Of the site grid one mark hangs on one set-up: asked, and no failure."""
    folder = tmp_path / "mill"
    ask("new", folder, "--example", "mill")
    monkeypatch.chdir(folder)
    ask("run")
    (query,) = by_source(stands(ask), "reliability")
    assert query["verdict"] == "unchecked"
    line = ("decide", "accept", "query", query["query"], "--reason", "temporary")
    assert ask(*line)[0] == 0
    (query,) = by_source(stands(ask), "reliability")
    assert query["state"] == "answered"


def test_an_unknown_query_is_refused_with_its_nearest_open_names(ask, job):
    ask("run")
    names = [q["query"] for q in stands(ask).values()]
    wrong = names[0][:3] + ("2" if names[0][3] != "2" else "3")
    code, _, err = ask("decide", "accept", "query", wrong, "--reason", "x")
    assert code == 2
    assert names[0] in err
    assert "nearest open" in re.sub(r"\s+", " ", err)
    assert not Path("decisions.csv").exists()


def test_strict_counts_open_queries_only(ask, job):
    """A loop over its limit is a query; accepted, it no longer counts."""
    assert ask("loops")[0] == 0
    assert ask("loops", "--strict")[0] == 1
    (query,) = json.loads(ask("loops", "--json")[1])["queries"]
    ask("decide", "accept", "query", query["query"], "--reason", "known")
    assert ask("loops", "--strict")[0] == 0
    assert "accepted by decision" in re.sub(r"\s+", " ", ask("loops")[1])


def test_a_superseded_answer_opens_the_query_again(ask, job):
    ask("run")
    query = by_source(stands(ask), "loops")[0]["query"]
    ask("decide", "accept", "query", query, "--reason", "first")
    first = next(iter(decided()))
    code, _, err = ask(
        "decide",
        "leave-out",
        "level difference",
        "T9",
        "--reason",
        "second",
        "--supersedes",
        first["decision"],
    )
    assert code == 0, err
    ask("run")
    assert stands(ask)[query]["state"] == "open"
    assert "superseded by" in Path("reports/report.html").read_text()
    code, _, err = ask(
        "decide", "accept", "query", query, "--reason", "x", "--supersedes", "ZZZZ"
    )
    assert code == 2
    assert "names no decision" in err


def test_the_report_has_the_table(ask, job):
    ask("run")
    page = Path("reports/report.html").read_text()
    for name in stands(ask):
        assert f">{name}<" in page
    assert 'id="queries"' in page


def test_what_fails_is_a_new_query_when_only_a_query_was_accepted():
    asked = Query("known-mark-differs", "known mark height A", "query")
    fails = Query("known-mark-differs", "known mark height A", "fails")
    (one,), (other,) = named_queries([asked]), named_queries([fails])
    assert one.name != other.name
    (now,) = with_answers([other], {one.name: "D"}, complete=False)
    assert now.state == "open"


@pytest.mark.parametrize("example", ["harbour", "mill", "tramway"])
def test_run_ends_with_steps_that_work_as_printed(ask, tmp_path, example):
    folder = tmp_path / "a job"
    ask("new", folder, "--example", example)
    code, out, _ = ask("--job", folder, "run")
    lines = [
        line.partition(": ")[2]
        for line in out.splitlines()
        if re.match(r"(next|then): ", line)
    ]
    assert code == 1
    assert len(lines) == 3
    assert "show" in lines[0]
    for line in lines:
        program, *words = shlex.split(line)
        assert program == "brasscap"
        assert ask(*words)[0] in (0, 1), line
    assert lines == [
        line.partition(": ")[2]
        for line in ask("--job", folder)[1].splitlines()
        if re.match(r"(next|then): ", line)
    ]


def test_the_steps_of_a_clean_job(ask, job):
    """Two benchmarks agree when the planted blunders are gone: nothing is to be
    looked for, so what is missing and what is handed over come next."""
    text = Path("levels.csv").read_text()
    ask("decide", "leave-out", "level difference", "T6", "--reason", "misread")
    control = Path("control.csv").read_text()
    Path("control.csv").write_text(control.replace("DEPOT SILL,,held", "DEPOT SILL,,"))
    ask("run")
    steps = json.loads(ask("run", "--json")[1])["next_steps"]
    assert text == Path("levels.csv").read_text()
    commands = [step["command"] for step in steps]
    assert "brasscap help specification" in commands
    assert all(step["why"] for step in steps)


def test_the_steps_where_nothing_is_checked(ask, job):
    """One run between two marks, one of them held: nothing can be judged."""
    head = Path("levels.csv").read_text().splitlines()
    keep = [line for line in head if line.startswith("#")]
    keep += [line for line in head if not line.startswith("#")][:2]
    Path("levels.csv").write_text("\n".join(keep) + "\n")
    Path("stations.csv").write_text("station\nTOLL HOUSE\nDEPOT SILL\nCHAPEL STEP\n")
    code, _, _ = ask("run")
    assert code == 0
    steps = json.loads(ask("run", "--json")[1])["next_steps"]
    assert steps[0]["command"] in (
        "brasscap check",
        "brasscap reliability --only unchecked",
    )
    assert any("unchecked" in step["command"] for step in steps)
