"""Empty tables alone, into a job that is there: nobody has to know headers by heart."""

import pytest

from brasscap.__main__ import main
from brasscap.io.tables.blank import table_schemas


@pytest.fixture
def job(tmp_path):
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "tramway", "--quiet"]) == 0
    return folder


def test_a_table_is_added_and_nothing_else_changes(job, capsys):
    before = {p: p.read_bytes() for p in job.rglob("*") if p.is_file()}
    wanted = "proposed,topo/field_test.csv"
    assert main(["new", str(job), "--table", wanted, "--quiet"]) == 0
    after = {p: p.read_bytes() for p in job.rglob("*") if p.is_file()}
    new = {p.relative_to(job).as_posix() for p in after.keys() - before.keys()}
    assert new == {"proposed.csv", "topo/field_test.csv"}
    assert all(after[path] == raw for path, raw in before.items())
    assert "brasscap check --job" in capsys.readouterr().out


def test_the_columns_of_a_field_test_are_those_that_are_read(job):
    assert main(["new", str(job), "--table", "topo/field_test", "--quiet"]) == 0
    lines = (job / "topo" / "field_test.csv").read_text("utf-8").splitlines()
    assert all(line.startswith("# ") for line in lines[:-1])
    known = {c.header for c in table_schemas()["topo/field_test"].columns}
    assert set(lines[-1].split(",")) == known


@pytest.mark.parametrize("name", sorted(table_schemas()))
def test_every_table_may_be_asked_for_and_is_no_fault(name, tmp_path):
    """An empty table of any name is read: at most a note that it has no rows."""
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "mill", "--quiet"]) == 0
    (folder / f"{name}.csv").unlink(missing_ok=True)
    needed = name in ("stations", "control", "set_ups", "instruments", "total_station")
    assert main(["new", str(folder), "--table", name, "--quiet"]) == 0
    if not needed:
        assert main(["check", "--job", str(folder), "--quiet"]) == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--table", "levels"], "there already"),
        (["--table", "names,levls"], "did you mean levels?"),
        (["--table", "names", "--kind", "site"], "stands alone"),
    ],
)
def test_what_is_there_or_unknown_is_refused_whole(job, capsys, words, said):
    before = sorted(job.rglob("*"))
    capsys.readouterr()
    assert main(["new", str(job), *words, "--quiet"]) == 2
    assert said in " ".join(capsys.readouterr().err.split())
    assert sorted(job.rglob("*")) == before


def test_the_help_lists_examples_and_tables(capsys):
    assert main(["new", "--help"]) == 0
    said = capsys.readouterr().out
    for name in ("harbour", "mill", "tramway", "covariances", "topo/constructions"):
        assert f"  {name}" in said or f", {name}" in said
