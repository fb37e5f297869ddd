"""A revision from end to end: issue, revise a mark, issue again, move what hangs on it.

The harbour is invented and checks no arithmetic; held here are identities: a shot
moves by what the two records say of its mark, everything else stays, and a record
alone, in another process with another environment, comes to the same again.
"""

import csv
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from brasscap.__main__ import main
from brasscap.json_schemas import schema_of

AT = ("--dated", "2026-05-04T14:30:00Z", "--quiet")
OTHER_BASE = (
    "TOPO-{0},{0},tripod,2026-03-16T22:10:00Z,2026-03-17T04:20:00Z,"
    "J. Tallow,R2,A2,T2,1.512,vertical,reference point,{0},in the circle\n"
)


def ask(job: Path, *words: str):
    """Return exit code and object of a command, held to its schema."""
    import contextlib
    import io

    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        code = main([*words, "--job", str(job), "--json", *AT])
    found = json.loads(out.getvalue())
    Draft202012Validator(schema_of(found["schema"].split("/")[1])).validate(found)
    return code, found


def issue(job: Path):
    """Issue as a surveyor does: accept, with a reason, what stands open, and again."""
    code, found = ask(job, "record", "issue", "--who", "AB")
    for query in (one["query"] for one in found["open"]):
        words = ("decide", "accept", "query", query, "--who", "AB", "--reason", "seen")
        assert query, found["open"]
        assert ask(job, *words)[0] == 0
    if code:
        code, found = ask(job, "record", "issue", "--who", "AB")
    assert (code, found["open"]) == (0, [])
    return found


def revise(job: Path) -> None:
    """PILOT POINT lies 40 mm further east, says its register."""
    path = job / "control.csv"
    text = path.read_text("utf-8")
    assert text.count("595110.8834") == 1
    path.write_text(text.replace("595110.8834", "595110.9234"), "utf-8")


def rebased(job: Path) -> None:
    """Let three shots hang on a base at a mark that is held and not revised, one on a
    base whose height above the geoid nobody knows, and one be in no record."""
    with (job / "set_ups" / "topo.csv").open("a", encoding="utf-8") as file:
        file.write(OTHER_BASE.format("SIGNAL HILL") + OTHER_BASE.format("GRAIN SHED"))
    with (job / "geoid.csv").open("a", encoding="utf-8") as file:
        file.write("SIGNAL HILL,-3.4100,1.0,invented model,invented\n")
    path = job / "topo" / "sluice.csv"
    rows = path.read_text("utf-8").splitlines(keepends=True)
    for k, row in enumerate(rows):
        name = row.split(",")[0]
        if name in ("110", "111", "112"):
            rows[k] = row.replace("TOPO-ICE", "TOPO-SIGNAL HILL").replace("I1", "I9")
        if name == "114":
            rows[k] = row.replace("TOPO-ICE", "TOPO-GRAIN SHED").replace("I1", "I8")
        if name == "113":
            rows[k] = row.replace(",1,I1", ",,I1")
    path.write_text("".join(rows), "utf-8")


@pytest.fixture(scope="module")
def revised(tmp_path_factory):
    """Return the job after issue 1, revision, issue 2, and both moves."""
    job = tmp_path_factory.mktemp("revised") / "job"
    assert main(["new", str(job), "--example", "harbour", "--quiet"]) == 0
    rebased(job)
    value = ("decide", "value", "set-up", "S3-ICE", "height_m=1.617")
    assert ask(job, *value, "--reason", "digits", "--who", "AB")[0] == 0
    assert issue(job)["issue"] == 1
    revise(job)
    assert issue(job)["issue"] == 2
    booked = (job / "topo" / "sluice.csv").read_bytes()
    code, moved = ask(job, "topo", "move", "--from", "1", "--to", "2")
    assert code == 0
    assert (job / "topo" / "sluice.csv").read_bytes() == booked
    return job, moved


def marks(job: Path, number: int) -> dict[str, dict[str, float]]:
    result = json.loads((job / f"records/{number}/result.json").read_text("utf-8"))
    return {mark["station"]: mark for mark in result["solutions"][-1]["marks"]}


def test_what_hangs_on_a_revised_mark_moves_by_its_vector_and_nothing_else(revised):
    """The vector is that of ICE HOUSE between the two records, heights above the
    geoid, as those of the shots. Over the kilometre to
    the shots the grid turns by 1e-4 and a shift of some 10 mm by 1 µm; the records
    round to 1 µm, the shots' places too: 3 µm together."""
    job, moved = revised
    one, two = (marks(job, number)["ICE HOUSE"] for number in (1, 2))
    keys = ("east_m", "north_m", "height_above_geoid_m")
    vector = [two[key] - one[key] for key in keys]
    assert vector[0] > 0.005
    untouched = {row["shot"]: row["why"] for row in moved["untouched"]}
    assert untouched == {
        "110": "its control did not move",
        "111": "its control did not move",
        "112": "its control did not move",
        "113": "it is not yet in a record",
        "114": "the height above the geoid of its mark is not known: geoid.csv",
    }
    shots = [row for row in moved["moved"] if row["by"] == "translation of ICE HOUSE"]
    with (job / "topo" / "sluice.csv").open(encoding="utf-8") as file:
        file.readline()
        booked = {row["shot"] for row in csv.DictReader(file)}
    assert {row["shot"] for row in shots} == booked - untouched.keys()
    for row in shots:
        before = row["before_east_north_height_m"]
        after = row["after_east_north_height_m"]
        for was, now, by in zip(before, after, vector, strict=True):
            assert now - was == pytest.approx(by, abs=3e-6), row


def test_made_points_and_polar_shots_go_with_what_they_hang_on(revised):
    """Points made from shots of one base move as the base; polar shots stand where
    issue 2 has them. The live job is issue 2, so what a point is worth after the move
    is what `topo check` says of it: the same sds, to their last printed digit."""
    job, moved = revised
    one, two = (marks(job, number)["ICE HOUSE"]["east_m"] for number in (1, 2))
    rows = {row["shot"]: row for row in moved["moved"]}
    for name, row in rows.items():
        if row["by"].startswith("made again"):
            was, now = (row[f"{k}_east_north_height_m"] for k in ("before", "after"))
            assert now[0] - was[0] == pytest.approx(two - one, abs=4e-6), name
    kept = json.loads((job / "records/2/result.json").read_text("utf-8"))["topo"]
    polar = [p for p in kept["points"] if p["kind"] == "polar shot"]
    assert len(polar) == 4
    for point in polar:
        place = rows[point["name"]]["after_east_north_height_m"]
        assert place[:2] == [point["east_m"], point["north_m"]]
    assert ask(job, "topo", "check")[0] == 0
    text = (job / "results/topo/points.csv").read_text("utf-8")
    worth = {row["point"]: row for row in csv.DictReader(text.splitlines())}
    text = (job / moved["file"]).read_text("utf-8")
    for row in csv.DictReader(text.splitlines()):
        if row["record"] == "2":
            for key in ("sd_north_mm", "sd_east_mm", "sd_height_mm"):
                assert row[key] == worth[row["shot"]][key], row


def test_old_values_stay_beside_the_new_and_nothing_moves_twice(revised):
    job, moved = revised
    path = job / moved["file"]
    first = path.read_bytes()
    with (job / "topo" / "sluice.csv").open(encoding="utf-8") as file:
        file.readline()
        booked = {row["shot"]: row for row in csv.DictReader(file)}
    rows = list(csv.DictReader(first.decode().splitlines()))
    for row in rows:
        if row["shot"] in booked:
            old = float(booked[row["shot"]]["east_m"])
            assert float(row["east_issue_1_m"]) == pytest.approx(old, abs=5e-5)
    code, again = ask(job, "topo", "move", "--from", "1", "--to", "2")
    assert (code, again["already_there"]) == (0, True)
    assert path.read_bytes() == first
    assert again["moved"] == moved["moved"]


def test_a_record_holds_shots_polar_shots_and_made_points(revised):
    job, _ = revised
    topo = json.loads((job / "records/1/result.json").read_text("utf-8"))["topo"]
    kinds = {point["kind"] for point in topo["points"]}
    assert {"shot", "polar shot", "two ties", "dip", "offset"} <= kinds
    points = {point["name"]: point for point in topo["points"]}
    assert points["101"]["hangs_on"] == "base TOPO-ICE, mark ICE HOUSE"
    assert points["110"]["hangs_on"] == "base TOPO-SIGNAL HILL, mark SIGNAL HILL"
    assert points["H1"]["hangs_on"] == "points 252, 253"
    assert points["101"]["sd_east_m"] > 0
    judged = {(row["kind"], row["name"]): row["verdict"] for row in topo["judged"]}
    assert judged["initialisation", "I2"] == "query"


def test_compare_says_what_of_the_detail_changed(revised):
    """Booked shots stay as booked; polar shots are computed from the control, and
    go with it."""
    job, _ = revised
    code, found = ask(job, "record", "compare", "1", "2")
    assert code == 0
    topo = found["topo"]
    moved = {p["name"]: p for p in topo["points"] if p["east_mm"]}
    assert {p["kind"] for p in moved.values()} == {"polar shot"}
    assert topo["points_added"] == topo["points_removed"] == []
    assert ask(job, "record", "compare", "2", "2")[1]["topo"] == {
        "points": [],
        "points_added": [],
        "points_removed": [],
        "verdicts": [],
    }


def test_compare_names_a_shot_that_is_new_or_booked_otherwise(revised, tmp_path):
    job = Path(shutil.copytree(revised[0], tmp_path / "job"))
    path = job / "topo" / "sluice.csv"
    rows = path.read_text("utf-8").splitlines(keepends=True)
    at = next(k for k, row in enumerate(rows) if row.startswith("105,"))
    rows[at] = rows[at].replace("105,ground", "105,rock")
    rows.append(rows[at].replace("105,rock", "905,ground").replace("593556", "593656"))
    path.write_text("".join(row for row in rows if not row.startswith("107,")), "utf-8")
    assert ask(job, "record", "issue", "--who", "AB", "--with-open")[0] == 0
    _, found = ask(job, "record", "compare", "2", "3")
    topo = found["topo"]
    assert topo["points_added"] == ["905"]
    assert topo["points_removed"] == ["107"]
    (row,) = (p for p in topo["points"] if p["name"] == "105")
    assert row["otherwise"] == [{"what": "code", "before": "ground", "after": "rock"}]


def test_a_record_alone_is_verified_in_another_process(revised, tmp_path):
    """No job around it, another folder, language, time zone, and nothing inherited."""
    job, _ = revised
    alone = shutil.copytree(job / "records" / "1", tmp_path / "to the auditor" / "one")
    found = verified(alone, tmp_path)
    assert found["verdict"] == "meets"
    assert found["values_count"] > 4000
    assert found["live"] is None


def verified(record: Path, folder: Path) -> dict:
    """Return what a new process, with an environment of its own, says of a record."""
    kept = ("PYTHONPATH", "SYSTEMROOT", "PATH")
    own = {key: os.environ[key] for key in kept if key in os.environ}
    own |= {"LC_ALL": "C", "TZ": "Pacific/Chatham", "PYTHONHASHSEED": "7"}
    done = subprocess.run(
        [sys.executable, "-m", "brasscap", "record", "verify", str(record), "--json"],
        cwd=folder,
        env=own,
        capture_output=True,
        check=False,
    )
    assert done.returncode in (0, 5), done.stderr
    return json.loads(done.stdout)


def test_line_ends_of_another_machine_are_told_from_a_change(revised, tmp_path):
    """The live tables come over with other line ends; the record does not."""
    job = Path(shutil.copytree(revised[0], tmp_path / "job"))
    for path in [*job.glob("*.csv"), *job.glob("topo/*.csv"), job / "job.toml"]:
        raw = path.read_bytes()
        path.write_bytes(raw.replace(b"\r\n", b"\n").replace(b"\n", b"\r\n"))
    code, found = ask(job, "record", "verify", "2")
    assert (code, found["verdict"]) == (0, "query")
    assert {one["how"] for one in found["live"]} == {"line ends only"}
    assert "topo/sluice.csv" in {one["file"] for one in found["live"]}
    code, moved = ask(job, "topo", "move", "--from", "1", "--to", "2")
    assert (code, moved["moved"]) == (0, revised[1]["moved"])


def test_a_shot_changed_under_a_new_manifest_is_found(revised, tmp_path):
    """The hashes fit, but the tables do not come to that height."""
    from brasscap.io.record.manifest import canonical, manifest_of

    record = Path(shutil.copytree(revised[0] / "records" / "1", tmp_path / "one"))
    result = json.loads((record / "result.json").read_text("utf-8"))
    point = next(p for p in result["topo"]["points"] if p["kind"] == "dip")
    point["height_m"] = round(point["height_m"] + 2e-6, 6)
    (record / "result.json").write_bytes(canonical(result))
    (record / "manifest.json").write_bytes(manifest_of(record))
    code, found = ask(tmp_path, "record", "verify", str(record))
    assert code == 5
    where = f"topo, points, dip {point['name']}, height_m"
    assert [one["where"] for one in found["differences"]] == [where]


def test_a_changed_byte_of_a_shot_is_found(revised, tmp_path):
    record = Path(shutil.copytree(revised[0] / "records" / "1", tmp_path / "one"))
    path = record / "input" / "topo" / "sluice.csv"
    raw = path.read_bytes()
    path.write_bytes(raw[:500] + bytes([raw[500] ^ 1]) + raw[501:])
    found = verified(record, tmp_path)
    assert found["verdict"] == "fails"
    assert found["damages"][0]["file"] == "input/topo/sluice.csv"
