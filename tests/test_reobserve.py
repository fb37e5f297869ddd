"""A crew's plan on the example, by what must hold of any plan, and bad input."""

import json
import shutil
from pathlib import Path

import pytest

from brasscap.__main__ import main

EXAMPLES = Path(__file__).parents[1] / "networks" / "examples"


@pytest.fixture
def job(tmp_path):
    return shutil.copytree(EXAMPLES / "harbour", tmp_path / "harbour")


def asked(capsys, job, *words):
    code = main(["reobserve", "--job", str(job), *words])
    return code, capsys.readouterr()


def minutes(clock):
    return 60 * int(clock[:2]) + int(clock[3:])


def test_a_plan_keeps_to_its_hours_and_buys_what_it_says(job, capsys):
    code, said = asked(capsys, job, "--hours", "4", "--receivers", "2", "--json")
    found = json.loads(said.out)
    assert code == 0
    assert found["jobs"][0]["buys"]["unchecked_removed"]
    assert found["before"]["unchecked_count"] > found["after"]["unchecked_count"]
    assert minutes(found["back"]) <= minutes("12:00")
    gone = sum(len(one["buys"]["unchecked_removed"]) for one in found["jobs"])
    left = found["before"]["unchecked_count"] - found["after"]["unchecked_count"]
    assert gone == left
    for one in found["jobs"]:
        assert minutes(one["end"]) - minutes(one["start"]) == 45
        for visit in one["visits"]:
            assert visit["leave"] <= visit["arrive"] <= visit["ready"] <= one["start"]
    starts = [one["start"] for one in found["jobs"]]
    assert starts == sorted(starts)


def test_fewer_hours_do_the_same_first(job, capsys):
    """Stop anywhere: half the time does the beginning of the whole plan."""
    plans = []
    for hours in ("2", "6"):
        _, said = asked(capsys, job, "--hours", hours, "--receivers", "2", "--json")
        plans.append([one["stations"] for one in json.loads(said.out)["jobs"]])
    assert plans[1][: len(plans[0])] == plans[0]
    assert len(plans[1]) > len(plans[0]) > 0


def test_a_blocked_proposal_is_told_and_not_done(job, capsys):
    path = job / "proposed.csv"
    text = path.read_text("utf-8")
    header, *rows = text.strip().splitlines()
    blocked = [f"{header},blocked", *(f"{row}," for row in rows)]
    blocked[1] = f"{rows[0]},crane over the mark"
    path.write_text("\n".join(blocked) + "\n", "utf-8")
    _, said = asked(capsys, job, "--hours", "4", "--json")
    found = json.loads(said.out)
    assert "P1" not in {one["proposal"] for one in found["jobs"]}
    assert found["not_worth"][0]["why"] == "blocked: crane over the mark"


def test_no_time_says_so(job, capsys):
    code, said = asked(capsys, job, "--hours", "0.2")
    assert code == 0
    assert "No candidate can be done in these hours" in said.out


@pytest.mark.parametrize(
    "words",
    [
        ("--hours", "-4"),
        ("--hours", "noon"),
        ("--receivers", "0"),
        ("--from", "SIGNAL HIL"),
        ("--purpose", "fun"),
    ],
)
def test_a_wrong_command_line_is_told(job, capsys, words):
    code, said = asked(capsys, job, *words)
    assert code == 2
    assert words[1] in said.err


def test_sunset_before_the_start_is_told(job, capsys):
    path = job / "job.toml"
    path.write_text(path.read_text("utf-8").replace("18:45", "07:45"), "utf-8")
    code, said = asked(capsys, job)
    assert code == 2
    assert "sunset 07:45 is not after the start" in said.err


def test_the_sheet_needs_nothing_and_its_twin_is_read_back(job, capsys, tmp_path):
    page = tmp_path / "sheet.html"
    asked(capsys, job, "--hours", "4", "--receivers", "2", "--sheet", str(page))
    text = page.read_text("utf-8")
    assert "<script" not in text
    assert "default-src 'none'" in text
    assert "http" not in text.replace("http-equiv", "")
    first = text.index("Before going out")
    assert text.index("Overhead lines") > first
    assert text.index("Overhead lines") < text.index('class="job"')
    for words in ("Lone work", "Excavations", "licensed person", "slant", "ift"):
        assert words in text
    twin = tmp_path / "sheet.csv"
    header, *rows = twin.read_text("utf-8").splitlines()
    assert len(rows) == 2 * text.count('class="job"')
    code = main(["import", str(twin), "--as", "set_ups", "--job", str(job), "--json"])
    found = json.loads(capsys.readouterr().out)
    assert (code, found["imports"][0]["rows"]) == (0, len(rows))
    # Empty cells are no readings: the job still computes as before.
    assert main(["check", "--job", str(job)]) == 0
    assert header.startswith("set_up,station,support")


def test_a_sheet_is_no_table(job, capsys):
    code, said = asked(capsys, job, "--sheet", "sheet.csv")
    assert code == 2
    assert "its twin is the .csv" in said.err
