"""Command lines as printed can be copied: folder named, on one line, none half said."""

import re
import shlex
import shutil

import pytest

from brasscap.__main__ import main
from brasscap.reports.text_lines import filled


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory):
    """An example in a folder whose name has a blank."""
    folder = tmp_path_factory.mktemp("jobs") / "my job"
    assert main(["new", str(folder), "--example", "tramway", "--quiet"]) == 0
    assert main(["run", "--job", str(folder), "--quiet"]) == 1
    return folder


def printed(capsys, *words):
    capsys.readouterr()
    main([*words, "--quiet"])
    said = capsys.readouterr()
    return said.out + said.err


def commands(said):
    """Return the command lines of a text: all from ``brasscap`` to the line's end."""
    found = re.findall(r"(?:^|  |: )brasscap (?!help|new)(.*)", said, re.MULTILINE)
    return [line for line in found if not line.startswith("alone")]


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("check",),
        ("loops",),
        ("suspects",),
        ("control",),
        ("reliability",),
        ("adjust", "minimal"),
        ("trial",),
        ("record", "issue", "--who", "AB"),
    ],
)
def test_every_command_line_names_the_folder(elsewhere, capsys, words):
    said = printed(capsys, *words, "--job", str(elsewhere))
    lines = commands(said)
    assert lines, said
    for line in lines:
        assert line.startswith(f"--job {shlex.quote(str(elsewhere))} "), line


@pytest.mark.parametrize("words", [("suspects",), ("control",), ("reliability",), ()])
def test_the_next_step_runs_as_it_is_printed(elsewhere, capsys, words):
    """Copied into a shell it is understood: 0 or 1, which are results."""
    said = printed(capsys, *words, "--job", str(elsewhere))
    steps = re.findall(r"^(?:next|then): brasscap (.*)$", said, re.MULTILINE)
    assert steps, said
    for step in steps:
        assert main([*shlex.split(step), "--quiet"]) in (0, 1), step
        capsys.readouterr()


def test_a_fault_names_the_folder_too(elsewhere, tmp_path, capsys):
    broken = tmp_path / "broken"
    shutil.copytree(elsewhere, broken)
    with (broken / "levels.csv").open("a", encoding="utf-8") as table:
        table.write("T99,NOWHERE,CHAPEL STEP,1.0\n")
    said = printed(capsys, "adjust", f"--job={broken}")
    assert "fault" in said
    assert all(line.startswith(f"--job {broken} ") for line in commands(said))


def test_without_the_option_nothing_is_added(elsewhere, capsys, monkeypatch):
    monkeypatch.chdir(elsewhere)
    assert not any("--job" in line for line in commands(printed(capsys)))


def test_a_command_line_is_not_broken():
    said = (
        "compare with the sheet and the photograph of the day; then  brasscap decide "
        "value set-up 'S3-ICE' 'height_m=1.617' --reason 'as on the sheet', or accept"
    )
    lines = filled(said, "  ", "  ")
    assert any(
        "brasscap decide value set-up 'S3-ICE' 'height_m=1.617' --reason 'as on the "
        "sheet'" in line
        for line in lines
    )


@pytest.mark.parametrize("reason", ["…", "...", "TEXT", " - "])
def test_a_reason_left_standing_as_printed_is_none(elsewhere, capsys, reason):
    before = sorted(elsewhere.iterdir())
    command = ["decide", "leave-out", "levelled run", "T6", "--who", "AB"]
    code = main([*command, f"--reason={reason}", "--job", str(elsewhere)])
    assert code == 2
    assert "is no reason" in capsys.readouterr().err
    assert sorted(elsewhere.iterdir()) == before
