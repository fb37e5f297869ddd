"""A large job lets go of what it can make or read again: the same answers, to the byte.

The limits are lowered, so that a job of 100 marks counts as large.
"""

import sys
from pathlib import Path
from shutil import rmtree

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate, light
from brasscap.adjust.again import without_factor
from brasscap.adjust.judge.names import about
from brasscap.adjust.light import without_rows
from brasscap.adjust.remade import Remade
from brasscap.io.results import as_kept
from brasscap.io.tables import let_go
from brasscap.io.tables.let_go import with_tables_let_go
from brasscap.io.tables.load import load
from brasscap.networks import InputError
from brasscap.reports.judged import judge

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))
from large_job import write_job

COUNT = 100
DATED = "--dated=2026-03-01T00:00:00Z"


@pytest.fixture
def large(monkeypatch):
    monkeypatch.setattr(light, "LARGE", 1)
    monkeypatch.setattr(let_go, "LARGE", 1)


def job_in(folder):
    write_job(folder, COUNT)
    return folder


def answered(folder, capsys, *words):
    """Return text, object and page of a command on a fresh job in a folder."""
    job_in(folder)
    code = main([*words, "--job", str(folder), "--json=all.json", DATED])
    page = folder / "reports" / "report.html"
    return (
        code,
        capsys.readouterr().out,
        Path("all.json").read_bytes(),
        page.read_bytes() if page.exists() else b"",
    )


@pytest.mark.parametrize("words", [["adjust"], ["adjust", "free"], ["run"]])
def test_the_answer_is_the_same_to_the_byte(
    words, tmp_path, monkeypatch, capsys, request
):
    monkeypatch.chdir(tmp_path)
    whole = answered(tmp_path / "job", capsys, *words)
    request.getfixturevalue("large")
    rmtree(tmp_path / "job")
    assert answered(tmp_path / "job", capsys, *words) == whole
    # And once more, from what is kept.
    assert answered(tmp_path / "job", capsys, *words) == whole


def test_tables_are_read_when_they_are_asked_for_and_are_the_same(tmp_path, large):
    loaded = load(job_in(tmp_path))
    light_one = with_tables_let_go(loaded)
    tables = light_one.tables
    before = dict(vars(tables)["_tables"])
    assert set(tables) == set(loaded.tables)
    assert len(tables) == len(loaded.tables)
    assert "set_ups" in tables
    assert "levels" not in tables
    assert tables.get("levels") is None
    assert before == vars(tables)["_tables"]
    assert set(before.values()) == {None}
    for name, table in loaded.tables.items():
        again = tables[name]
        assert again.columns.keys() == table.columns.keys()
        for column, values in table.columns.items():
            np.testing.assert_array_equal(again.columns[column], values)
    assert light_one.files == tuple(sorted(f"{name}.csv" for name in tables))


def test_small_tables_stay(tmp_path):
    loaded = load(job_in(tmp_path))
    assert with_tables_let_go(loaded) is loaded


def test_a_folder_that_has_changed_is_refused(tmp_path, large):
    loaded = with_tables_let_go(load(job_in(tmp_path)))
    path = tmp_path / "set_ups.csv"
    path.write_bytes(path.read_bytes().replace(b"J. Tallow", b"J. Tallov", 1))
    with pytest.raises(InputError) as raised:
        _ = loaded.tables["baselines"]
    (finding,) = raised.value.findings
    assert (finding.slug, finding.verdict) == ("changed-meanwhile", "fault")


def test_a_solution_without_rows_and_factor_answers_alike(tmp_path, large):
    network = load(job_in(tmp_path)).network
    kept = as_kept(estimate(network, "minimal"))
    bare = without_factor(without_rows(kept))
    assert bare.vtpv == kept.vtpv
    assert bare.degrees_of_freedom == kept.degrees_of_freedom
    assert np.array_equal(bare.residuals["baseline"], kept.residuals["baseline"])
    some = np.arange(20), np.arange(20)[::-1].copy()
    assert np.array_equal(bare.covariance(*some), kept.covariance(*some))
    assert bare.reciprocal_condition == kept.reciprocal_condition
    pull = np.random.default_rng(1).normal(0, 1, int(kept.columns.max()) + 1)
    assert np.array_equal(bare.factor.solve(pull), kept.factor.solve(pull))
    one, other = judge(bare), judge(kept)
    assert np.array_equal(one.checked, other.checked)
    assert np.array_equal(one.tests.basis.test, other.tests.basis.test, equal_nan=True)


def test_what_is_made_later_is_made_once():
    times = []

    def make():
        times.append(1)
        return [3, 4]

    some = Remade(make)
    assert not times
    assert list(some) == [3, 4]
    assert (some[1], some[0:1]) == (4, [3])
    assert len(times) == 1


def test_words_of_tests_are_those_of_all_of_them(tmp_path):
    """Identity: whoever asks, in whatever order, is told the same."""
    network = load(job_in(tmp_path)).network
    tests = judge(estimate(network)).tests
    every = [
        words for run in tests.runs for words in about(network, run.table, run.edge)
    ]
    assert list(tests.about) == every
    assert len(tests.about) == len(tests)
    shuffled = np.random.default_rng(1).permutation(len(tests))[:300]
    assert [tests.about[i] for i in shuffled] == [every[i] for i in shuffled]
    assert tests.about[-2:] == tuple(every[-2:])
