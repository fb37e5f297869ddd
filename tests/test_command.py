"""The command line: what each command says, the exit codes, the faults of a line."""

import csv
import json
import os
import pty
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from brasscap import __version__
from brasscap.__main__ import main
from brasscap.catalogue import COMMANDS, MOMENTS
from brasscap.networks.specifications import PRESETS

TESTS = Path(__file__).parent


class Said(NamedTuple):
    code: int
    out: str
    err: str


@pytest.fixture
def say(capsys: pytest.CaptureFixture[str]) -> Callable[..., Said]:
    def run(*words: str) -> Said:
        capsys.readouterr()
        code = main([str(word) for word in words])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return Said(code, out, err)

    return run


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the example job; the present folder is in it."""
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    monkeypatch.chdir(folder)
    return folder


# Help, version, the line itself


def test_help_has_the_five_moments_and_a_line_a_command(say):
    said = say("--help")
    assert said.code == 0
    assert said.err == ""
    rows = said.out.splitlines()
    starts = [
        next(i for i, row in enumerate(rows) if row.startswith(f"{moment}:"))
        for moment in MOMENTS
    ]
    assert starts == sorted(starts)
    for name, (_, line) in COMMANDS.items():
        assert sum(row.split() == [name, *line.split()] for row in rows) == 1
    assert say("-h").out == said.out


@pytest.mark.parametrize("name", [*COMMANDS, "help"])
def test_each_command_explains_itself(say, name):
    said = say(name, "--help")
    assert said.code == 0
    assert said.out.startswith(f"brasscap {name}")
    assert "--job DIR" in said.out
    assert max(map(len, said.out.splitlines())) <= 88
    assert say("--help", name).out == said.out


def test_version(say):
    assert say("--version").out == f"brasscap {__version__}\n"
    assert say("adjust", "--version").out == f"brasscap {__version__}\n"


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ("ajust", "did you mean adjust?"),
        ("adjust --ovr x", "did you mean --over?"),
        ("--jbo x adjust", "did you mean --job?"),
        ("--nothing", "there is no option --nothing"),
        ("adjust minmal", "did you mean minimal?"),
        ("adjust minimal constrained", "too many words"),
        ("adjust --job", "--job needs a value"),
        ("adjust --job= ", "says no DIR"),
        ("adjust --units ft", "one of m, ift, sft"),
        ("adjust --strict=yes", "takes no value"),
        ("adjust --progress", "needs a value"),
        ("adjust minimal --over all", "--over is for adjust free"),
        ("show mark", "something is missing"),
        ("show pair A", "show pair takes NAME NAME"),
        ("show nothing A", "none of mark, pair"),
        ("new", "something is missing"),
        ("new x", "--example"),
        ("new x --example harbor", "did you mean harbour?"),
        ("new x --kind gns", "did you mean gnss?"),
        ("import a.snx", "--as stations, control"),
        ("import a.txt --as positions", "neither .csv nor SINEX"),
        ("import a.csv --as baseline", "did you mean baselines?"),
        ("import a.snx --as baselines", "--as positions"),
        ("import .csv --as baselines --name a/b", "cannot name a file"),
        ("export", "--csv, --geojson"),
        ("decide leave-out baseline", "something is missing"),
        ("decide levae-out baseline B2", "did you mean leave-out?"),
        ("decide leave-out baseline B2", "needs a reason"),
        ("decide leave-out bassline B2 --reason x", "did you mean baseline?"),
        ("decide accept query K7F3 --reason x", "there is no query 'K7F3'"),
        ("decide leave-out baseline B222 --reason x", "the 21 names of baselines.csv"),
        ("decide rename mark SLIPWAY --reason x", "name a mark of stations.csv"),
        (
            "decide accept query K7F3 --reason x --evidence no.pdf",
            "there is no such file",
        ),
        ("adjust --dated yesterday", "2026-05-04T14:30:00Z"),
        ("report --plot=x.gif", ".png, .svg or .pdf"),
        ("show mark ICEHOUSE", "ICE HOUSE"),
        ("show pair SLIPWAY SLIPWAY", "name two marks"),
        ("show set-up S3-ICF", "S3-ICE"),
        ("adjust free --over NOWHERE", "NOWHERE"),
        ("help unchekced", "did you mean unchecked?"),
    ],
)
def test_a_wrong_line_is_told_in_our_words(say, job, line, part):
    before = sorted(path.name for path in job.iterdir())
    said = say(*line.split(" "))
    assert said.code == 2
    assert said.out == ""
    assert part in re.sub(r"\s+", " ", said.err)
    made = {path.name for path in job.iterdir()} - {"results", "evidence"}
    assert sorted(made) == before


def test_global_options_stand_before_or_after(say, job, monkeypatch):
    monkeypatch.chdir(job.parent)
    before = say("--job", "job", "--quiet", "check")
    assert before.code == 0
    assert say("check", "--quiet", "--job=job") == before


def test_negative_values_and_double_dash_are_words():
    from brasscap.arguments import Command, parse

    request = parse("x", Command("A B C", 3, 3), ["-3.2", "--", "--odd", "-x"])
    assert request.words == ("-3.2", "--odd", "-x")


def test_a_folder_that_is_no_job(say, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for words in (
        (),
        ("check",),
        ("run",),
        ("adjust",),
        ("decide", "hold", "mark", "A"),
    ):
        said = say(*words)
        assert said.code == 3
        assert "no job.toml in it" in said.err
        assert "brasscap new DIR" in said.err
    assert "no folder of this name" in say("check", "--job", "nowhere").err


# The commands


def test_new_is_complete_and_never_overwrites(say, tmp_path):
    target = tmp_path / "site job"
    said = say("new", target, "--kind", "gnss")
    assert said.code == 0
    assert f"--job '{target}'" in re.sub(r"\s+", " ", said.out).replace("- ", "-")
    before = (target / "job.toml").read_bytes()
    assert say("new", target, "--kind", "site").code == 7
    assert (target / "job.toml").read_bytes() == before
    # Frame and epoch have no default: the empty job says so.
    said = say("check", "--job", target)
    assert said.code == 3
    assert "geographic_epsg" in said.out


def test_run_names_the_planted_set_up_first(say, job):
    said = say("run")
    assert said.code == 1
    rows = said.out.splitlines()
    assert rows[0].endswith("fails")
    found = re.sub(r"\s+", " ", said.out).split("largest finding: ")[1]
    assert found.startswith("set-up ")
    assert "height booked" in found[:90]
    page = Path("reports/report.html")
    assert rows[-1] == f"open: {page}"
    assert "</html>" in page.read_text()
    made = {p.name for p in job.iterdir() if p.is_dir()}
    # The example brings folders of its own: more tables, shots, what came later.
    assert made - {"set_ups", "topo", "total_station", "later"} == {
        "evidence",
        "reports",
        "results",
    }


def test_run_stops_where_it_is_told(say, job):
    said = say("run", "--until", "check")
    assert said.code == 0
    assert not (job / "results").exists()
    assert say("run", "--until", "minimal").code == 1
    kept = sorted(p.name for p in (job / "results").iterdir())
    assert kept == ["minimal.npz", "queries.json"]
    assert not (job / "reports").exists()


def test_the_bare_command_says_where_the_job_stands(say, job):
    assert "next: brasscap run" in say().out
    say("run")
    said = say()
    assert said.code == 1
    assert said.out.count("variance factor") == 2
    assert "next: brasscap show set-up S3-ICE" in said.out


def test_every_answer_ends_with_the_next_step(say, job):
    for words in (("check",), ("adjust", "minimal"), ("export", "--csv")):
        assert say(*words).out.rstrip().splitlines()[-1].startswith("next: "), words
    assert say().out.rstrip().splitlines()[-2].startswith("next: ")


def test_a_fault_goes_to_stderr_and_stops(say, job):
    with (job / "baselines.csv").open("a") as table:
        table.write("too,few\n")
    for words in (("adjust",), ("run",), ("report",), ("show", "mark", "SLIPWAY")):
        said = say(*words)
        assert said.code == 3
        assert said.out == ""
        assert "ragged-row" in said.err
        assert "baselines.csv row" in said.err
        assert "brasscap help ragged-row" in said.err
    assert not (job / "results").exists()
    said = say("check")
    assert said.code == 3
    assert "ragged-row" in said.out


def test_what_floats_is_named(say, job):
    table = job / "control.csv"
    table.write_text(table.read_text().replace("held", "check-only"))
    said = say("adjust")
    assert said.code == 4
    assert "no solution: " in said.err
    for word in ("marks ", "free to ", "mend ", "SLIPWAY"):
        assert word in said.err
    # The minimal solution can be made, so run goes on and says what is missing.
    said = say("run")
    assert said.code == 1
    assert "no constrained solution" in said.out


def test_strict_counts_an_open_query(say, job):
    say("adjust")
    settings = job / "job.toml"
    settings.write_text(settings.read_text().replace("power = 0.80", "power = 0.90"))
    assert say("check").code == 0
    assert say("check", "--strict").code == 1


def test_units_are_printed_with_the_numbers(say, job):
    assert "north (m)" in say("adjust").out
    said = say("adjust", "--units", "ift").out
    assert "(ift)" in said
    assert "(mm)" not in said


def test_quiet_leaves_results_alone(say, job):
    loud, quiet = say("adjust"), say("adjust", "--quiet")
    assert quiet.out == loud.out
    assert quiet.err == ""


def test_export_can_be_loaded(say, job):
    said = say("export", "--csv", "--geojson", "--units", "sft")
    assert said.code == 1
    lines = Path("reports/control.csv").read_text().splitlines()
    heading = [line for line in lines if line.startswith("#")]
    assert any("GDA2020" in line and "epoch 2020" in line for line in heading)
    assert any("US survey feet" in line for line in heading)
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    table = (job / "stations.csv").read_text().splitlines()
    booked = csv.DictReader(line for line in table if not line.startswith("#"))
    assert [row["station"] for row in rows] == [row["station"] for row in booked]
    assert {"station", "north_sft", "east_sft", "sd_height_mm"} <= set(rows[0])
    assert Path("reports/control.geojson").is_file()


def test_export_without_a_grid_gives_latitude_and_longitude(say, tmp_path):
    """Read back as the control of another job, it is where it was, to 0.1 mm."""
    source = TESTS / "jobs" / "gnss_textbook_two_control_13_vectors"
    folder = tmp_path / "job"
    shutil.copytree(source, folder)
    assert say("export", "--csv", "--job", folder).code == 0
    adjusted = json.loads(say("adjust", "--json", "--job", folder).out)["marks"]
    exported = (folder / "reports" / "control.csv").read_text().splitlines()
    body = [line for line in exported if not line.startswith("#")]
    for name, row in zip(adjusted, csv.DictReader(body), strict=True):
        for key in ("latitude_deg", "longitude_deg"):
            assert float(row[key]) == pytest.approx(name[key], abs=1e-9)
    # A held mark has an sd of 0.0 here; as control it states none.
    uses = [f"held,held,{line.replace(',0.0,0.0,0.0,', ',,,,')}" for line in body[1:]]
    header = f"use_plan,use_height,{body[0]}"
    (folder / "control.csv").write_text("\n".join([header, *uses]) + "\n")
    again = json.loads(say("adjust", "minimal", "--json", "--job", folder).out)
    known = again["known_minus_survey"]
    assert [mark["station"] for mark in known] == ["B", "C", "E", "D", "F"]


def test_export_of_heights_alone_says_no_plan(say, tmp_path):
    folder = tmp_path / "job"
    shutil.copytree(TESTS / "jobs" / "level_two_benchmarks_sigma50mm", folder)
    assert say("export", "--csv", "--job", folder).code == 0
    exported = (folder / "reports" / "control.csv").read_text().splitlines()
    body = [line for line in exported if not line.startswith("#")]
    assert body[0].startswith("station,height_m,")
    assert len(body) == 6
    assert say("export", "--geojson", "--job", folder).code == 2


def test_report_writes_page_and_plot(say, job):
    assert say("report", "--html=a.html", "--plot=b.svg").code == 1
    assert "<svg" in Path("a.html").read_text()
    assert "<svg" in Path("b.svg").read_text()
    assert "Cautions" in say("report").out


def test_a_page_that_cannot_be_written(say, job):
    said = say("report", "--html=/proc/none/a.html")
    assert said.code == 7
    assert "cannot be written" in said.err
    said = say("run", "--html=/proc/none/a.html")
    assert said.code == 7


def test_help_pages(say):
    assert "unchecked" in say("help").out
    assert "K7F3" in say("help", "query").out
    assert "reference" in say("help", "vector-between-not-stated").out.replace(
        "\n", " "
    )
    assert say("help", "exit", "codes").code == 0
    assert "brasscap import FILE" in say("help", "import").out


# Hyphenated words of the code that name no finding.
NO_FINDINGS = {
    "bring-back",
    "e-3",
    "e-6",
    "leave-out",
    "sd-corr",
    "utf-8",
    "utf-8-sig",
    "utf-32-le",
}


def _tails(name):
    """Return what a standard's name ends in: "second-1" of "fgcc-1984-second-1"."""
    parts = name.split("-")
    return ["-".join(parts[k:]) for k in range(1, len(parts))]


def test_every_finding_has_a_page():
    """The slugs are read from the code, so that a new one without a page fails."""
    from brasscap.commands.help import topics

    pages = {word.strip() for key in topics() for word in key.split(",")}
    root, found = TESTS.parent, set()
    rooms = ("networks/*.py", "io/[ft]*s/**/*.py", "io/mapping/*.py")
    for path in (path for room in rooms for path in root.glob(room)):
        text = re.sub(r'""".*?"""', "", path.read_text("utf-8"), flags=re.S)
        found |= set(re.findall(r'"([a-z0-9]+(?:-[a-z0-9]+)+)"', text))
    assert len(found) > 100
    orders = {part for name in PRESETS for part in (name, *_tails(name))}
    assert found - pages - NO_FINDINGS - orders == set()


# Decisions


def decisions(job: Path) -> list[dict[str, str]]:
    return list(csv.DictReader((job / "decisions.csv").read_text().splitlines()))


def test_decide_adds_a_row_and_touches_nothing_else(say, job):
    tables = {p.name: p.read_bytes() for p in job.glob("*.csv")}
    line = ["decide", "leave-out", "baseline", "B2", "--reason", "tree, fell"]
    assert say(*line, "--dated", "2026-05-04T16:30:00+02:00").code == 0
    first = (job / "decisions.csv").read_bytes()
    (row,) = decisions(job)
    assert re.fullmatch(r"[2-9A-HJKMNP-Z]{4}", row["decision"])
    assert row["who"] == "mp"  # from job.toml
    assert row["reason"] == "tree, fell"
    assert row["when_utc"] == "2026-05-04T14:30:00Z"
    assert (
        say(
            "decide", "bring-back", "baseline", "B2", "--reason", "x", "--who", "z"
        ).code
        == 0
    )
    assert (job / "decisions.csv").read_bytes().startswith(first)
    assert [d["action"] for d in decisions(job)] == ["leave-out", "bring-back"]
    assert {n: (job / n).read_bytes() for n in tables} == tables


def test_decide_keeps_the_files_own_shape(say, job):
    """Another separator, other line ends, another order: the bytes before stay."""
    before = (
        b"\xef\xbb\xbf# ours\r\nwho;reason;decision;action;about_kind;about;when_utc"
    )
    (job / "decisions.csv").write_bytes(before)
    assert say("decide", "leave-out", "baseline", "B2", "--reason", "a;b").code == 0
    after = (job / "decisions.csv").read_bytes()
    assert after.startswith(before + b'\r\nmp;"a;b";')
    assert after.endswith(b"\r\n")


def test_decide_refuses_what_the_table_cannot_hold(say, job):
    (job / "decisions.csv").write_text("decision,action\n")
    said = say("decide", "leave-out", "baseline", "B2", "--reason", "x")
    assert said.code == 3
    assert "nothing was written" in re.sub(r"\s+", " ", said.err)
    assert (job / "decisions.csv").read_text() == "decision,action\n"


def test_leaving_the_found_blunder_out_mends_the_job(say, job):
    """What run names first is what is wrong: without it the network meets."""
    found = re.sub(r"\s+", " ", say("run").out).split("largest finding: set-up ")[1]
    name = found.split(" (")[0]
    line = ["decide", "leave-out", "set-up", name, "--reason", "misread"]
    assert say(*line).code == 0
    said = say("adjust", "minimal")
    assert said.code == 0, said.out


# Import


def test_import_adds_two_files_and_never_overwrites(say, job):
    snx = TESTS / "realdata" / "STR1.SNX"
    said = say("import", snx, "--as", "positions", "--read-only")
    assert said.code == 0
    assert "nothing written" in said.out
    assert not (job / "positions").exists()
    said = say("import", snx, "--as", "positions", "--frame-epsg", "9988")
    assert said.code == 0
    assert said.err == ""
    rows = list(
        csv.DictReader((job / "positions" / "STR1.csv").read_text().splitlines())
    )
    assert {row["frame_epsg"] for row in rows} == {"9988"}
    before = (job / "positions" / "STR1.csv").read_bytes()
    again = ("import", snx, "--as", "positions", "--frame-epsg", "9988")
    said = say(*again)
    assert said.code == 7
    assert "--name" in said.err
    assert (job / "positions" / "STR1.csv").read_bytes() == before
    assert say(*again, "--name", "again").code == 0


def test_import_takes_no_frame_for_granted(say, job):
    snx = TESTS / "realdata" / "STR1.SNX"
    said = say("import", snx, "--as", "positions")
    assert said.code == 3
    words = re.sub(r"\s+", " ", said.out + said.err)
    assert "frame-not-stated" in words
    assert "--frame-epsg job if it is in the job's own, EPSG:7843" in words
    assert not (job / "positions").exists()
    said = say("import", snx, "--as", "positions", "--frame-epsg", "job")
    assert said.code == 0
    rows = list(
        csv.DictReader((job / "positions" / "STR1.csv").read_text().splitlines())
    )
    assert {row["frame_epsg"] for row in rows} == {"7843"}
    said = say("import", snx, "--as", "positions", "--frame-epsg", "IGS20")
    assert said.code == 2
    assert "nor job" in said.err


def test_a_frame_named_otherwise_than_stated_is_a_query(say, job, tmp_path):
    """IGb20 is aligned with ITRF2020, so that EPSG:9988 agrees and 7912 does not."""
    text = (TESTS / "realdata" / "STR1.SNX").read_text("utf-8")
    head, _, rest = text.partition("\n")
    comment = "+FILE/COMMENT\n frame of the orbits: IGb20\n-FILE/COMMENT\n"
    snx = tmp_path / "named.snx"
    snx.write_text(f"{head}\n{comment}{rest}", "utf-8")
    (job / "baselines.csv").unlink()
    toml = (job / "job.toml").read_text("utf-8")
    for code, told in (("9988", 0), ("7912", 1)):
        own = toml.replace("geographic_epsg = 7843", f"geographic_epsg = {code}")
        (job / "job.toml").write_text(own, "utf-8")
        name = f"n{code}"
        line = ("import", snx, "--as", "positions", "--name", name)
        assert say(*line, "--frame-epsg", code).code == 0
        found = json.loads(say("check", "--only", "frames", "--json").out)["findings"]
        named = [f for f in found if f["file"] == f"positions/{name}.csv"]
        differ = [f for f in named if f["slug"] == "frame-differs"]
        assert [f["verdict"] for f in differ] == ["query"] * told
        (job / "positions" / f"{name}.csv").unlink()
        (job / "covariances" / f"{name}.csv").unlink()


def test_import_of_what_is_no_solution(say, job, tmp_path):
    bad = tmp_path / "bad.snx"
    bad.write_text("hello\n")
    said = say("import", bad, "--as", "positions")
    assert said.code == 3
    assert "bad.snx" in said.err
    assert not (job / "positions").exists()
    assert say("import", tmp_path / "none.snx", "--as", "positions").code == 3


def test_import_of_a_table_keeps_its_bytes(say, job, tmp_path):
    lines = (job / "baselines.csv").read_text().splitlines()
    rows = [line for line in lines if not line.startswith("#")]
    more = tmp_path / "day2.csv"
    more.write_bytes(
        "\r\n".join([rows[0], rows[1].replace("B1,S1,", "B99,S99,", 1)]).encode()
    )
    assert say("import", more, "--as", "baselines").code == 0
    assert (job / "baselines" / "day2.csv").read_bytes() == more.read_bytes()
    assert "22 baselines" in say("check").out
    assert say("import", more, "--as", "baselines").code == 7
    more.write_text(rows[0] + "\ntoo,few\n")
    said = say("import", more, "--as", "baselines", "--name", "day3")
    assert said.code == 3
    assert "ragged-row" in said.err
    assert not (job / "baselines" / "day3.csv").exists()


# Terminal, defects


def test_no_colour_in_a_pipe_and_none_when_refused(job):
    """A pseudo-terminal stands for the user's."""
    plain = through_terminal({"NO_COLOR": "1"})
    assert "\x1b" not in plain
    assert "\x1b" not in through_terminal({}, "--no-colour")
    assert "\x1b" not in through_terminal({"TERM": "dumb"})
    coloured = through_terminal({})
    assert "\x1b[" in coloured
    assert re.sub(r"\x1b\[\d*m", "", coloured) == plain


def through_terminal(extra: dict[str, str], *words: str) -> str:
    leader, follower = pty.openpty()
    keep = {k: v for k, v in os.environ.items() if k != "NO_COLOR"}
    process = subprocess.Popen(
        [sys.executable, "-m", "brasscap", "adjust", "--quiet", *words],
        stdout=follower,
        stderr=subprocess.DEVNULL,
        env=keep | {"TERM": "xterm"} | extra,
    )
    os.close(follower)
    parts = []
    while True:
        try:
            part = os.read(leader, 65536)
        except OSError:
            break
        if not part:
            break
        parts.append(part)
    os.close(leader)
    process.wait()
    return b"".join(parts).decode()


def test_progress_after_half_a_second_on_stderr(job, monkeypatch, capsys):
    import time

    from brasscap.progress import Progress

    with Progress("lines") as progress:
        progress("reading the tables")
        time.sleep(0.7)
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("brasscap: reading the tables, 0.5 s\n")
    with Progress("lines") as progress:
        progress("quick")
    assert capsys.readouterr().err == ""


def test_verbose_says_every_step(say, job):
    said = say("adjust", "--verbose")
    for step in ("reading the tables", "adjusting, constrained", "testing"):
        assert f"brasscap: {step}\n" in said.err


def test_the_exit_code_is_the_worst_of_what_is_shown(say, job):
    assert say("show", "set-up", "S3-ICE").code == 1
    assert say("show", "pair", "ICE HOUSE", "SLIPWAY").code == 0


def test_a_full_disk_under_stdout():
    made = subprocess.run(
        f"{sys.executable} -m brasscap help > /dev/full",
        shell=True,
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 7
    assert "the output cannot be written: no space left" in made.stderr
    assert "Exception" not in made.stderr


def test_a_defect_of_ours_makes_a_bundle(say, job, monkeypatch):
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("planted")

    monkeypatch.setattr("brasscap.reports.judged.judge", broken)
    said = say("adjust")
    assert said.code == 70
    assert "a defect of this program, not of your data" in said.err
    assert "nothing was sent" in re.sub(r"\s+", " ", said.err)
    (bundle,) = job.glob("brasscap-defect-*.zip")
    with zipfile.ZipFile(bundle) as content:
        names = content.namelist()
        assert "planted" in content.read("traceback.txt").decode()
        assert content.read("command.txt").decode() == "brasscap adjust\n"
    assert {"job/job.toml", "job/baselines.csv", "versions.txt"} <= set(names)


LIGHT = """
import sys
from brasscap.__main__ import main
code = main({words!r})
loaded = {{name.partition(".")[0] for name in sys.modules}}
print(code, *sorted(loaded & set({heavy!r})))
"""


@pytest.mark.parametrize(
    ("words", "code", "heavy"),
    [
        (["--help"], 0, ["numpy", "scipy", "matplotlib", "json", "inspect"]),
        (["check", "--quiet"], 3, ["scipy", "matplotlib", "jinja2"]),
        (["adjust", "--quiet"], 3, ["scipy", "matplotlib", "jinja2"]),
        (["run", "--quiet"], 3, ["scipy", "matplotlib", "jinja2"]),
    ],
)
def test_nothing_slow_is_imported_for_help_or_a_fault(job, words, code, heavy):
    (job / "baselines.csv").write_text("baseline\n1\n")
    made = subprocess.run(
        [sys.executable, "-c", LIGHT.format(words=words, heavy=heavy)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert made.stdout.splitlines()[-1] == str(code)


def test_run_names_what_cannot_be_told_from_the_largest_finding(say, tmp_path):
    """Set-ups that one vector alone uses: its height may be wrong at either end."""
    job = tmp_path / "twins"
    job.mkdir()
    (job / "job.toml").write_text(
        'schema = 1\n[job]\ntitle = "twins"\n[frame]\nkind = "local"\n'
        'earth = "flat"\nheight_datum = "site"\n',
        "utf-8",
    )
    (job / "control.csv").write_text(
        "station,use_plan,use_height,north_m,east_m,height_m,height_datum\n"
        "A,held,held,0,0,10,site\n",
        "utf-8",
    )
    ends = [("A", "B"), ("B", "C"), ("C", "A"), ("A", "B"), ("C", "A")]
    rises = [0.0, 0.0, 0.0, 0.1, 0.0]
    (job / "set_ups.csv").write_text(
        "set_up,station,support,height_m,reading,measured_to\n"
        + "".join(
            f"S{k}{e},{e},tripod,1.5,vertical,reference point\n"
            for k, pair in enumerate(ends)
            for e in pair
        ),
        "utf-8",
    )
    steps = {("A", "B"): (100, 0), ("B", "C"): (0, 100), ("C", "A"): (-100, -100)}
    (job / "baselines.csv").write_text(
        "baseline,from_set_up,to_set_up,de_m,dn_m,du_m,sd_e_mm,sd_n_mm,sd_u_mm,"
        "vector_between\n"
        + "".join(
            f"V{k},S{k}{a},S{k}{b},{steps[a, b][0]},{steps[a, b][1]},{rises[k]},"
            "5,5,5,reference points\n"
            for k, (a, b) in enumerate(ends)
        ),
        "utf-8",
    )
    said = say("run", "--job", str(job))
    assert said.code == 1
    flat = " ".join(said.out.split())
    assert "or S3B, which cannot be told from it" in flat
