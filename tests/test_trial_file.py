"""A trial file adjusted in full; one that is not of this job, or no trial at all."""

import json

import pytest

from brasscap.__main__ import main


@pytest.fixture
def job(tmp_path):
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    return folder


@pytest.fixture
def trial(job, capsys):
    """Return what writes a trial file of some changes."""
    capsys.readouterr()
    main(["trial", "--job", str(job), "--json", "--quiet"])
    made = json.loads(capsys.readouterr().out)

    def write(*changes, **other):
        words = ("action", "kind", "name", "value")
        listed = [dict(zip(words, (*c, "")[:4], strict=True)) for c in changes]
        keys = ("schema", "job_hash", "datum")
        given = {key: made[key] for key in keys} | {"changes": listed} | other
        path = job.parent / "trial.json"
        path.write_text(json.dumps(given), "utf-8")
        return path

    return write


def said(capsys, job, *words):
    capsys.readouterr()
    code = main(["adjust", "--job", str(job), "--quiet", *words])
    out, err = capsys.readouterr()
    return code, out, err


def decide(job, *words):
    more = ("--job", str(job), "--reason", "try", "--who", "ab", "--quiet")
    assert main(["decide", *words, *more]) == 0


def test_a_trial_is_what_the_same_decisions_give(job, trial, capsys):
    """Identity: left out by a trial or by a decision, the figures are the same."""
    changes = (
        ("leave-out", "baseline", "B2"),
        ("check-only", "known mark", "PILOT POINT"),
    )
    path = trial(*changes)
    tried = json.loads(said(capsys, job, "--trial", str(path), "--json")[1])
    for words in changes:
        decide(job, *words)
    decided = json.loads(said(capsys, job, "--json")[1])
    assert tried["marks"] == decided["marks"]
    assert tried["observations"] == decided["observations"]


def test_it_says_which_decisions_it_would_take(job, trial, capsys):
    path = trial(("leave-out", "baseline", "B2"), ("free", "known mark", "PILOT POINT"))
    _, out, _ = said(capsys, job, "--trial", str(path))
    start = f"brasscap --job {job} decide"
    assert f"{start} leave-out baseline B2 --reason …" in out
    assert f"{start} check-only 'known mark' 'PILOT POINT' --reason …" in out
    assert not (job / "decisions.csv").exists()


def test_a_trial_of_another_state_is_refused(job, trial, capsys):
    path = trial(("leave-out", "baseline", "B2"))
    decide(job, "leave-out", "baseline", "B3")
    code, _, err = said(capsys, job, "--trial", str(path))
    assert code == 3
    assert "trial-of-another-state" in err
    assert f"brasscap --job {job} trial" in err


def test_all_faults_of_a_trial_file_come_at_once(job, trial, capsys):
    path = trial(("burn", "baseline", "B2"), ("leave-out", "", "B2"), datum="free")
    code, _, err = said(capsys, job, "--trial", str(path))
    assert code == 3
    assert err.count("fault") >= 3
    assert "'burn'" in err


@pytest.mark.parametrize("text", ["", "[]", '{"schema": "brasscap/adjust/1"}'])
def test_what_is_no_trial_is_said(job, text, capsys):
    path = job.parent / "other.json"
    path.write_text(text, "utf-8")
    code, _, err = said(capsys, job, "--trial", str(path))
    assert code == 3
    assert "trial-unreadable" in err


def test_a_name_that_is_not_there_is_said(job, trial, capsys):
    path = trial(("leave-out", "baseline", "B999"))
    code, _, err = said(capsys, job, "--trial", str(path))
    assert code == 3
    assert "B999" in err


@pytest.mark.parametrize(
    ("named", "word"),
    [("ICE HOUSE,SLIPWAX", "did you mean SLIPWAY"), ("ICE HOUSE", "two marks")],
)
def test_a_part_of_marks_that_are_not_there(job, capsys, named, word):
    capsys.readouterr()
    out = str(job.parent / "t.html")
    words = ["trial", "--job", str(job), "--out", out, "--stations", named]
    assert main([*words, "--quiet"]) == 2
    assert word in capsys.readouterr().err
    assert not (job.parent / "t.html").exists()
