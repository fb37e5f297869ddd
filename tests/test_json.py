"""Every command's object fits its shipped JSON Schema, answered or not."""

import json
import re
import shutil
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from brasscap.__main__ import main
from brasscap.catalogue import COMMANDS
from brasscap.commands.show import KINDS
from brasscap.io.tables.load import load
from brasscap.json_schemas import empty_object, schema_of
from brasscap.networks import example_jobs

TESTS = Path(__file__).parent
JOBS = TESTS / "jobs"
EXAMPLES = Path(example_jobs.__file__).parent / "examples"
FOLDERS = sorted(
    job.parent for home in (JOBS, EXAMPLES) for job in home.glob("*/job.toml")
)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    return folder


@pytest.fixture
def asked(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, Any]]:
    """Return exit code and object of a command line, held against its schema."""

    def ask(*words: str) -> tuple[int, Any]:
        capsys.readouterr()
        code = main([*words, "--json", "--quiet"])
        text = capsys.readouterr().out
        found = json.loads(text)
        assert text == json.dumps(found, sort_keys=True, indent=2) + "\n"
        validate(found)
        return code, found

    return ask


def validate(found: Any) -> None:
    name, number = re.fullmatch(r"brasscap/([a-z-]+)/(\d+)", found["schema"]).groups()
    assert number == "1"
    jsonschema.Draft202012Validator(schema_of(name)).validate(found)


def numbers(found: Any) -> Iterator[float]:
    if isinstance(found, dict):
        for value in found.values():
            yield from numbers(value)
    elif isinstance(found, list):
        for value in found:
            yield from numbers(value)
    elif isinstance(found, float):
        yield found


def test_every_schema_is_a_schema():
    folder = files("brasscap.commands") / "schemas"
    names = [f.name.removesuffix(".json") for f in folder.iterdir()]
    assert {"stands", "help", "show-pair", *COMMANDS} <= set(names)
    for name in names:
        jsonschema.Draft202012Validator.check_schema(schema_of(name))


@pytest.mark.parametrize(
    "words",
    [
        ("adjust", "minimal"),
        ("adjust",),
        ("adjust", "free", "--over", "all"),
        ("run",),
        ("run", "--until", "check"),
        ("check",),
        ("loops", "--same-session"),
        ("control", "--subsets"),
        ("control", "--datum", "minimal"),
        ("suspects",),
        ("suspects", "--about", "set-up", "S3-ICE", "--datum", "minimal"),
        ("reliability",),
        ("reliability", "--by", "mark", "--datum", "minimal"),
        ("reliability", "--plant", "set-up S3-ICE height 30 mm"),
        ("spec",),
        ("reobserve", "--hours", "4", "--receivers", "2"),
        ("trial",),
        ("preanalysis", "--receivers", "2"),
        ("reobserve", "--purpose", "audit", "--datum", "minimal"),
        ("spec", "--spec", "linz-order-5", "--per-mark", "--statement"),
        ("show", "mark", "ICE HOUSE"),
        ("show", "mark", "SIGNAL HILL"),
        ("show", "baseline", "B2"),
        ("show", "set-up", "S3-ICE"),
        ("show", "pair", "ICE HOUSE", "SLIPWAY"),
        ("show", "shot", "H1"),
        ("topo", "check"),
        ("topo", "attach"),
        ("topo", "sheet"),
        ("export", "--shots", "--csv"),
        ("report", "--html"),
        ("export", "--csv", "--geojson"),
        (),
        ("help",),
        ("help", "unchecked"),
    ],
    ids=" ".join,
)
def test_an_answer_fits_its_schema(asked, job, words):
    code, found = asked(*words, "--job", str(job))
    assert code in (0, 1)
    assert "error" not in found
    for number in numbers(found):
        assert len(repr(number).replace("-", "").split("e")[0].lstrip("0.")) <= 16
        assert repr(number) != "-0.0"


def test_decisions_and_new_jobs_fit_too(asked, job, tmp_path):
    words = ("decide", "leave-out", "baseline", "B2", "--reason", "try", "--who", "ab")
    assert asked(*words, "--job", str(job))[0] == 0
    assert asked("new", str(tmp_path / "g"), "--kind", "gnss")[0] == 0


def test_an_import_fits_too(asked, job):
    snx = str(TESTS / "realdata" / "STR1.SNX")
    args = ("import", snx, "--as", "positions", "--job", str(job))
    code, found = asked(*args, "--read-only")
    assert code == 0
    assert found["imports"][0]["frame_epsg"] is None
    code, found = asked(*args, "--frame-epsg", "job")
    assert code == 0
    assert found["files"]


def test_contract_of_adjust(asked, job):
    """The keys that other programs lean on, as the contract prints them."""
    code, found = asked("adjust", "minimal", "--job", str(job))
    assert code == 1
    assert found["datum"] == "minimal"
    assert found["held"] == ["SIGNAL HILL"]
    factor = found["variance_factor"]
    assert factor["value"] == pytest.approx(
        factor["vtpv"] / factor["degrees_of_freedom"], rel=1e-6
    )
    listed = [o["redundancy"] for o in found["observations"] if o["redundancy"]]
    assert sum(listed) == pytest.approx(factor["degrees_of_freedom"], abs=1e-4)
    for observation in found["observations"]:
        if observation["verdict"] == "unchecked":
            assert observation["test"] is None
            assert observation["smallest_detectable_mm"] is None
    for mark in found["marks"]:
        assert len(mark["covariance_enu_m2"]) == 3


@pytest.mark.parametrize("command", ["adjust", "run", "show", "report", "export"])
def test_a_fault_prints_the_whole_object(asked, job, command):
    with (job / "stations.csv").open("a") as table:
        table.write("too,few\n")
    extra = {"show": ("mark", "ICE HOUSE"), "export": ("--csv",)}.get(command, ())
    code, found = asked(command, *extra, "--job", str(job))
    assert code == found["exit_code"] == 3
    assert found["verdict"] == "fault"
    assert "ragged-row" in [f["slug"] for f in found["findings"]]
    assert set(empty_object(command)) <= set(found)


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_every_job_fits_whatever_its_observations(asked, tmp_path, folder):
    copy = tmp_path / folder.name
    shutil.copytree(folder, copy)
    job = ("--job", str(copy))
    for words in (
        ("check",),
        ("loops",),
        ("adjust", "minimal"),
        ("adjust", "free"),
        ("run",),
        ("report", "--html", "--plot"),
        ("export", "--csv"),
        ("show", "mark", load(copy).network.marks.name[0]),
        (),
    ):
        assert asked(*words, *job)[0] in (0, 1, 4)
    found = asked("adjust", *job)[1]
    shown = {one["kind"]: one["name"] for one in found["observations"]}
    for kind, name in shown.items():
        if kind in KINDS:
            code, one = asked("show", kind, name, *job)
            assert code in (0, 1)
            assert [o["kind"] for o in one["observations"]].count(kind) == 1


def test_readings_carry_their_own_value_in_its_unit(asked, tmp_path):
    """The keys that the contract gives a reading; its east, north, up are null."""
    folder = tmp_path / "mill"
    main(["new", str(folder), "--example", "mill", "--quiet"])
    found = asked("adjust", "--job", str(folder))[1]
    units = {
        "direction": "arcsec",
        "zenith angle": "arcsec",
        "slope distance": "mm",
        "level difference": "mm",
        "parameter": "ratio",
    }
    for kind, unit in units.items():
        ones = [o for o in found["observations"] if o["kind"] == kind]
        assert ones
        for one in ones:
            keys = {f"shift_value_{unit}", f"sd_shift_value_{unit}"}
            assert keys | {f"smallest_detectable_{unit}"} <= set(one)
            assert one["shift_enu_mm"] == [None, None, None]
            if unit == "arcsec":
                assert one["residual_m"] is None
                assert isinstance(one["residual_arcsec"], float)
            if unit == "mm":
                assert len(one["residual_m"]) == 1


def test_check_with_a_fault(asked, job):
    (job / "baselines.csv").write_text("nonsense\n1\n")
    code, found = asked("check", "--job", str(job))
    assert code == 3
    assert found["faults_count"] >= 1
    assert all(f["file"] for f in found["findings"])


def test_what_floats_is_in_the_object(asked, job):
    table = job / "control.csv"
    table.write_text(table.read_text().replace("held", "check-only"))
    code, found = asked("adjust", "--job", str(job))
    assert code == found["exit_code"] == 4
    assert found["floating_marks"]
    assert found["freedoms"]
    assert found["mend"]


@pytest.mark.parametrize("words", [("ajust",), ("adjust", "--nonsense"), ("show",)])
def test_a_wrong_command_line_fits_too(asked, words):
    code, found = asked(*words)
    assert code == found["exit_code"] == 2
    assert found["error"]


def test_to_a_file_the_text_stays_on_stdout(job, capsys, tmp_path):
    target = tmp_path / "answer.json"
    code = main(["check", "--job", str(job), f"--json={target}"])
    assert code == 0
    validate(json.loads(target.read_text()))
    assert "next:" in capsys.readouterr().out


def test_to_a_file_also_when_it_fails(job, tmp_path):
    target = tmp_path / "answer.json"
    (job / "job.toml").write_text("schema = 1\n[jub]\n")
    assert main(["adjust", "--job", str(job), f"--json={target}"]) == 3
    validate(json.loads(target.read_text()))


def test_same_input_same_bytes(job, capsys):
    texts = []
    for _ in range(2):
        capsys.readouterr()
        main(["adjust", "minimal", "--job", str(job), "--json"])
        texts.append(capsys.readouterr().out)
    assert texts[0] == texts[1]
