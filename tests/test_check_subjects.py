"""``check --only``: fixed subjects, each finding in at least one of them."""

import json
import shutil
from importlib.resources import files
from pathlib import Path

import pytest

from brasscap.__main__ import main
from brasscap.subjects import SUBJECTS

JOBS = Path(__file__).parent / "jobs"


def explained():
    """Return the names of all findings that have a help page."""
    page = (files("brasscap.commands") / "help" / "findings.txt").read_text("utf-8")
    heads = [line[2:] for line in page.splitlines() if line.startswith("# ")]
    return {slug.strip() for head in heads for slug in head.split(",")}


def test_every_finding_belongs_to_a_subject():
    sorted_in = {slug for slugs in SUBJECTS.values() for slug in slugs.split()}
    assert sorted_in == explained()


@pytest.fixture(name="bad_job")
def _bad_job(tmp_path):
    """A job with an unknown name, a duplicate name and a decimal comma."""
    (tmp_path / "job.toml").write_text('schema = 1\n[frame]\nkind = "local"\n')
    (tmp_path / "stations.csv").write_text("station\nT1\nT1\nT2\n")
    (tmp_path / "levels.csv").write_text(
        'section,from_station,to_station,rise_m,sd_mm\nL1,T1,T2,"1,5",1\n'
    )
    return tmp_path


def slugs(capsys):
    return {f["slug"] for f in json.loads(capsys.readouterr().out)["findings"]}


def test_only_shows_the_subjects_that_are_asked_for(bad_job, capsys):
    args = ["check", "--job", str(bad_job), "--json"]
    assert main([*args, "--only", "names"]) == 3
    names = slugs(capsys)
    assert "duplicate-name" in names
    assert names <= set(SUBJECTS["names"].split())
    assert main([*args, "--only", "numbers, names"]) == 3
    assert slugs(capsys) == {*names, "decimal-comma"}
    # The exit code is the worst of what is shown.
    assert main([*args, "--only", "faces"]) == 0
    assert slugs(capsys) == set()


@pytest.mark.parametrize("only", ["nmaes", "names,nothing", "", "names,", "NAMES"])
def test_a_subject_that_there_is_not_is_refused_with_the_list(only, bad_job, capsys):
    assert main(["check", "--job", str(bad_job), f"--only={only}"]) == 2
    said = " ".join(capsys.readouterr().err.split())
    if only not in ("",):
        assert ", ".join(SUBJECTS) in said
    if only == "nmaes":
        assert "did you mean names?" in said


def test_help_lists_the_subjects(capsys):
    assert main(["check", "--help"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert ", ".join(SUBJECTS) in said


def test_a_sound_job_shows_nothing_wrong_whatever_the_subject(tmp_path, capsys):
    job = shutil.copytree(
        JOBS / "gnss_textbook_two_control_13_vectors", tmp_path / "job"
    )
    for subject in SUBJECTS:
        assert main(["check", "--job", str(job), "--only", subject]) == 0
