"""Results are kept by the input they belong to, reused, and never trusted blindly."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from brasscap.__main__ import main


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    return folder


@pytest.fixture
def answer(job: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    """Return what a command prints about the job, as JSON."""

    def ask(*words: str) -> str:
        capsys.readouterr()
        main([*words, "--job", str(job), "--json", "--quiet"])
        return capsys.readouterr().out

    return ask


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def about_criteria(text: str) -> list[dict[str, str]]:
    found = json.loads(text)["findings"]
    return [finding for finding in found if finding["slug"].startswith("criteria-")]


@pytest.fixture
def no_estimate(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("estimated again")

    monkeypatch.setattr("brasscap.adjust.estimate", refuse)


@pytest.mark.parametrize("mode", ["minimal", "constrained", "free"])
def test_a_kept_result_says_the_same(answer, request, mode):
    first = answer("adjust", mode)
    request.getfixturevalue("no_estimate")
    assert json.loads(first)["marks"]
    assert answer("adjust", mode) == first


def test_show_report_and_export_read_it_back(answer, request):
    answer("run")
    request.getfixturevalue("no_estimate")
    assert json.loads(answer("show", "mark", "ICE HOUSE"))["mark"]
    assert json.loads(answer("report", "--html"))["files"]["html"]
    assert json.loads(answer("export", "--csv"))["files"]["csv"]


def test_the_same_input_gives_the_same_bytes(job, answer):
    answer("adjust", "--dated", "2026-05-04T14:30:00Z")
    kept = job / "results" / "constrained.npz"
    before = kept.read_bytes(), (job / "evidence" / "criteria.json").read_bytes()
    kept.unlink()
    (job / "evidence" / "criteria.json").unlink()
    answer("adjust", "--dated", "2026-05-04T14:30:00Z")
    after = kept.read_bytes(), (job / "evidence" / "criteria.json").read_bytes()
    assert after == before


@pytest.mark.parametrize(
    "damage",
    [
        lambda raw: b"",
        lambda raw: b"not a result",
        lambda raw: raw[: len(raw) // 2],
        lambda raw: raw[:2000] + bytes([raw[2000] ^ 1]) + raw[2001:],
        lambda raw: raw[:-300] + b"\0" * 300,
    ],
    ids=["empty", "text", "half", "one bit", "tail"],
)
def test_a_damaged_file_is_made_anew(job, answer, damage):
    first = answer("adjust")
    kept = job / "results" / "constrained.npz"
    sound = kept.read_bytes()
    kept.write_bytes(damage(sound))
    assert answer("adjust") == first
    assert kept.read_bytes() == sound


@pytest.mark.parametrize("place", range(0, 60_000, 3_777))
def test_any_flipped_byte_is_noticed_or_harmless(job, answer, place):
    first = answer("adjust")
    kept = job / "results" / "constrained.npz"
    raw = bytearray(kept.read_bytes())
    raw[place % len(raw)] ^= 0x40
    kept.write_bytes(raw)
    assert answer("adjust") == first


def test_a_result_of_another_input_is_not_used(job, answer):
    answer("adjust")
    before = (job / "results" / "constrained.npz").read_bytes()
    table = job / "baselines.csv"
    table.write_text(table.read_text() + "# one more line\n")
    answer("adjust")
    assert (job / "results" / "constrained.npz").read_bytes() != before


def test_another_choice_of_marks_is_another_result(answer):
    everywhere = json.loads(answer("adjust", "free", "--over", "all"))
    some = json.loads(answer("adjust", "free", "--over", "ICE HOUSE,SLIPWAY"))
    assert everywhere["marks"] != some["marks"]
    again = json.loads(answer("adjust", "free", "--over", "all"))
    assert again == everywhere


def test_only_adjust_and_run_write(job, answer):
    before = names(job)
    for words in (
        ("check",),
        ("show", "mark", "ICE HOUSE"),
        ("show", "pair", "ICE HOUSE", "SLIPWAY"),
        ("report",),
        (),
    ):
        answer(*words)
        assert names(job) == before, words
    answer("adjust")
    assert names(job) == sorted([*before, "evidence", "results"])


def test_results_are_safe_to_delete(job, answer):
    first = answer("adjust")
    for file in (job / "results").iterdir():
        file.unlink()
    (job / "results").rmdir()
    assert answer("adjust") == first


def test_a_folder_that_cannot_be_written_is_a_note(job, monkeypatch, capsys):
    """The superuser may write everywhere: the system's refusal is played."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.mkdir", refuse)
    code = main(["adjust", "minimal", "--job", str(job)])
    said = capsys.readouterr()
    assert code == 1  # the planted blunder, not the folder
    assert "SIGNAL HILL held" in said.out
    assert "note: the result is not kept" in said.err
    assert "note: the criteria are not kept" in said.err
    assert not (job / "results").exists()


def test_criteria_are_kept_once_and_a_change_is_a_query(job, answer, capsys):
    answer("adjust", "--dated", "2026-05-04T14:30:00Z")
    kept = (job / "evidence" / "criteria.json").read_bytes()
    assert json.loads(kept)["set_utc"] == "2026-05-04T14:30:00Z"
    settings = job / "job.toml"
    moved = settings.read_text().replace(
        "outlier_alpha = 0.001", "outlier_alpha = 0.01"
    )
    settings.write_text(moved)
    answer("adjust")
    assert (job / "evidence" / "criteria.json").read_bytes() == kept
    (finding,) = about_criteria(answer("check"))
    assert finding["slug"] == "criteria-changed"
    assert "outlier_alpha 0.01 (was 0.001)" in finding["booked"]
    name = finding["query"]
    words = ["decide", "accept", "query", name, "--reason", "client asks"]
    assert main([*words, "--job", str(job)]) == 0
    (finding,) = about_criteria(answer("check"))
    assert finding["answered_by"]
    assert finding["query"] == name


def test_a_decided_change_of_criteria_is_an_answered_query(job, answer):
    answer("adjust")
    words = ["decide", "criteria", "tests", "power", "0.9", "--reason", "client asks"]
    assert main([*words, "--job", str(job)]) == 0
    (finding,) = about_criteria(answer("check"))
    assert finding["slug"] == "criteria-changed"
    assert finding["answered_by"]
    # A second change, in job.toml, is not what was decided.
    settings = job / "job.toml"
    moved = settings.read_text().replace("confidence = 0.95", "confidence = 0.9", 1)
    settings.write_text(moved)
    (finding,) = about_criteria(answer("check"))
    assert not finding["answered_by"]


def test_damaged_criteria_are_a_query(job, answer):
    answer("adjust")
    (job / "evidence" / "criteria.json").write_text("{")
    (finding,) = about_criteria(answer("check"))
    assert finding["slug"] == "criteria-unreadable"
