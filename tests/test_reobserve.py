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
        logged = 45 if one["kind"] == "baseline" else 30
        assert minutes(one["end"]) - minutes(one["start"]) == logged
        for visit in one["visits"]:
            assert visit["leave"] <= visit["arrive"] <= visit["ready"] <= one["start"]
    starts = [one["start"] for one in found["jobs"]]
    assert starts == sorted(starts)


def test_a_large_network_is_planned_from_the_marks_that_candidates_touch(
    job, capsys, monkeypatch
):
    """The same plan as from the whole covariance, while there is room for all."""
    words = ("--hours", "3", "--receivers", "3", "--json")
    _, whole = asked(capsys, job, *words)
    monkeypatch.setattr("brasscap.reobserving.WHOLE", 0)
    _, part = asked(capsys, job, *words)
    one, other = json.loads(whole.out), json.loads(part.out)
    assert one["jobs"]
    assert [j["stations"] for j in one["jobs"]] == [
        j["stations"] for j in other["jobs"]
    ]
    assert one["after"] == other["after"]


def test_a_network_with_no_room_for_all_says_how_many_were_looked_at(
    job, capsys, monkeypatch
):
    """Proposals come first, then what gains most and what sees what nothing checks."""
    monkeypatch.setattr("brasscap.reobserving.WHOLE", 0)
    monkeypatch.setattr("brasscap.adjust.design.shortlist._VALUES", 0)
    monkeypatch.setattr("brasscap.adjust.design.shortlist._LEAST", 8)
    code, said = asked(capsys, job, "--hours", "4")
    assert code == 0
    assert "got a full look" in " ".join(said.out.split())
    _, said = asked(capsys, job, "--hours", "4", "--json")
    found = json.loads(said.out)
    assert found["before"]["unchecked_count"] > found["after"]["unchecked_count"]
    stations = {name for one in found["jobs"] for name in one["stations"]}
    assert 0 < len(stations) <= 8


def test_fewer_hours_do_the_same_first(job, capsys):
    """Stop anywhere: what matters most comes first, however long the day is."""
    plans = []
    for hours in ("2", "4"):
        _, said = asked(capsys, job, "--hours", hours, "--receivers", "2", "--json")
        plans.append([one["stations"] for one in json.loads(said.out)["jobs"]])
    assert plans[1][0] == plans[0][0]
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
        ("--start", "2pm"),
        ("--start", "24:30"),
        ("--receivers", "0"),
        ("--from", "SIGNAL HIL"),
        ("--purpose", "fun"),
        ("--order", "unchecked removed, beauty"),
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
    assert code == 3
    assert "crew-times" in said.err + said.out
    assert main(["check", "--job", str(job)]) == 0
    assert "crew-times" in capsys.readouterr().out


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
    assert len(rows) == text.count("set-up, book it as") > 0
    code = main(["import", str(twin), "--as", "set_ups", "--job", str(job), "--json"])
    found = json.loads(capsys.readouterr().out)
    assert (code, found["imports"][0]["rows"]) == (0, len(rows))
    # Empty cells are no readings: the job still computes as before.
    assert main(["check", "--job", str(job)]) == 0
    assert header.startswith("set_up,station,support")


def test_who_works_alone_is_told_where_the_plan_is_and_on_the_sheet(
    job, capsys, tmp_path
):
    """Two people with two vehicles are at two marks; with one they ride together."""
    page, words = tmp_path / "sheet.html", ("--hours", "4", "--receivers", "2")
    _, said = asked(capsys, job, *words, "--sheet", str(page))
    text = page.read_text("utf-8")
    assert "2 teams of one person each, who works alone" in " ".join(said.out.split())
    assert "2 teams of one person each, who works alone" in text
    assert "Somebody works alone" in text
    assert "Who is where" in text
    path = job / "job.toml"
    path.write_text(
        path.read_text("utf-8").replace("people = 2", "people = 2\nvehicles = 1"),
        "utf-8",
    )
    _, said = asked(capsys, job, *words, "--sheet", str(page))
    assert "1 team of 2 people" in " ".join(said.out.split())
    assert "works alone" not in said.out + page.read_text("utf-8")


def test_a_day_that_starts_at_two_in_the_afternoon(job, capsys):
    words = ("--start", "14:00", "--hours", "4", "--receivers", "2", "--json")
    _, said = asked(capsys, job, *words)
    found = json.loads(said.out)
    assert found["jobs"]
    assert minutes(found["back"]) <= minutes("18:00")
    for visit in found["jobs"][0]["visits"]:
        assert minutes(visit["leave"]) >= minutes("14:00")


def test_a_sheet_is_no_table(job, capsys):
    code, said = asked(capsys, job, "--sheet", "sheet.csv")
    assert code == 2
    assert "its twin is the .csv" in said.err


def proposals(job, *rows, header="proposal,kind,from_station,to_station"):
    (job / "proposed.csv").write_text("\n".join([header, *rows]) + "\n", "utf-8")


@pytest.mark.parametrize(
    ("columns", "row", "slug", "code"),
    [
        ("", "Q,baseline,ICE HOUSE,NET LOFFT", "proposal-mark", 0),
        ("", "Q,baseline,ICE HOUSE,ICE HOUSE", "proposal-mark", 0),
        ("", "Q,baseline,ICE HOUSE,", "proposal-incomplete", 0),
        ("", "Q,position,,", "proposal-incomplete", 0),
        (",latest", "Q,baseline,ICE HOUSE,NET LOFT,noon", "clock-not-understood", 3),
        (",latest", "Q,baseline,ICE HOUSE,NET LOFT,25:00", "clock-not-understood", 3),
        (",earliest,latest", "Q,baseline,ICE HOUSE,NET LOFT,12:00,11:30",
         "proposal-window", 0),
        (",minutes", "Q,baseline,ICE HOUSE,NET LOFT,-5", "out-of-range", 3),
    ],
)  # fmt: skip
def test_a_wrong_proposal_is_told(job, capsys, columns, row, slug, code):
    proposals(job, row, header=f"proposal,kind,from_station,to_station{columns}")
    assert main(["check", "--job", str(job), "--json"]) == code
    found = json.loads(capsys.readouterr().out)["findings"]
    (mine,) = [one for one in found if one["slug"] == slug]
    assert (mine["file"], mine["row"]) == ("proposed.csv", 2)
    if code:
        return
    # It stops nothing: the rest is planned, and this one told with its reason.
    code, said = asked(capsys, job, "--hours", "4", "--json")
    made = json.loads(said.out)
    assert code == 0
    assert "Q" not in {one["proposal"] for one in made["jobs"]}


def test_an_unknown_mark_is_the_reason(job, capsys):
    proposals(job, "Q,baseline,ICE HOUSE,NET LOFFT")
    _, said = asked(capsys, job, "--hours", "4", "--json")
    first = json.loads(said.out)["not_worth"][0]
    assert first["proposal"] == "Q"
    assert "NET LOFFT: no mark of this network" in first["why"]


def test_drive_times_and_walks_are_kept(job, capsys):
    """An hour by road to every mark but the first: fewer jobs, later starts."""
    _, said = asked(capsys, job, "--hours", "5", "--receivers", "2", "--json")
    before = json.loads(said.out)
    names = [
        line.split(",")[0]
        for line in (job / "stations.csv").read_text("utf-8").splitlines()[2:]
    ]
    rows = [f"{a},{b},60" for i, a in enumerate(names) for b in names[i + 1 :]]
    (job / "drive_times.csv").write_text(
        "from_station,to_station,drive_min\n" + "\n".join(rows) + "\n", "utf-8"
    )
    _, said = asked(capsys, job, "--hours", "5", "--receivers", "2", "--json")
    after = json.loads(said.out)
    assert len(after["jobs"]) < len(before["jobs"])
    for one in after["jobs"]:
        for visit in one["visits"]:
            way = minutes(visit["arrive"]) - minutes(visit["leave"])
            assert way in (0, 60) or one["order"] == 1
    path = job / "stations.csv"
    lines = path.read_text("utf-8").splitlines()
    at = next(k for k, line in enumerate(lines) if line.startswith("station,"))
    lines[at] += ",access_min"
    lines[at + 1 :] = [f"{line},10" for line in lines[at + 1 :]]
    path.write_text("\n".join(lines) + "\n", "utf-8")
    _, said = asked(capsys, job, "--hours", "5", "--receivers", "2", "--json")
    for one in json.loads(said.out)["jobs"]:
        for visit in one["visits"]:
            way = minutes(visit["arrive"]) - minutes(visit["leave"])
            assert way in (0, 80)


def test_a_drive_to_no_mark_is_told(job, capsys):
    (job / "drive_times.csv").write_text(
        "from_station,to_station,drive_min\nICE HOUSE,NET LOFFT,20\n", "utf-8"
    )
    assert main(["check", "--job", str(job)]) == 0
    assert "drive-mark" in capsys.readouterr().out


def test_three_receivers_may_make_sessions(job, capsys):
    """Vectors of a session start at its first mark; nobody stands twice."""
    _, said = asked(capsys, job, "--hours", "3", "--receivers", "3", "--json")
    found = json.loads(said.out)
    offered = [*found["jobs"], *found["not_worth"]]
    wide = [one for one in offered if len(one["stations"]) == 3]
    assert wide
    for one in wide:
        assert len(set(one["stations"])) == 3
    received = [one for one in offered if one["kind"] == "baseline"]
    assert all(len(one["stations"]) <= 3 for one in received)


def test_the_order_of_what_matters_is_the_user_s(job, capsys):
    words = "worst pair, smallest detectable blunder"
    _, said = asked(capsys, job, "--order", words, "--json")
    found = json.loads(said.out)
    assert found["order"] == words.split(", ")
    path = job / "job.toml"
    text = path.read_text("utf-8").replace("[crew]", f'[crew]\norder = "{words}"')
    path.write_text(text, "utf-8")
    _, said = asked(capsys, job, "--json")
    assert json.loads(said.out)["jobs"] == found["jobs"]
    _, said = asked(capsys, job, "--purpose", "audit", "--json")
    made = json.loads(said.out)
    assert made["order"][:2] == ["unchecked removed", "unseen movement"]
    assert made["jobs"][0]["buys"]["unseen_movement_ratio"] is not None


def test_rounds_and_runs_are_thought_of_where_the_job_has_them(job, capsys):
    """Too few receivers for any vector: what is left needs none."""
    _, said = asked(capsys, job, "--receivers", "1", "--hours", "3", "--json")
    found = json.loads(said.out)
    kinds = {one["kind"] for one in [*found["jobs"], *found["not_worth"]]}
    assert {"levelling run", "total-station round"} <= kinds
    assert all(one["kind"] != "baseline" for one in found["jobs"])
    why = {one["why"] for one in found["not_worth"] if one["kind"] == "baseline"}
    assert "needs 2 receivers at once" in why


def test_what_was_done_is_predicted_until_it_is_in(job, capsys, tmp_path):
    """The first job of the plan, by the twin: the prediction is what the plan said."""
    page = tmp_path / "sheet.html"
    _, said = asked(
        capsys, job, "--hours", "2", "--receivers", "2", "--sheet", str(page), "--json"
    )
    plan = json.loads(said.out)
    twin = tmp_path / "sheet.csv"
    code, said = asked(capsys, job, "--done", str(twin))
    assert code == 3
    assert "done-file" in said.err + said.out
    header, *rows = twin.read_text("utf-8").splitlines()
    at = header.split(",").index("height_m")
    filled = []
    for row in rows[:2]:
        cells = row.split(",")
        cells[at] = "1.512"
        filled.append(",".join(cells))
    twin.write_text("\n".join([header, *filled, *rows[2:]]) + "\n", "utf-8")
    code, said = asked(capsys, job, "--done", str(twin), "--json")
    found = json.loads(said.out)
    assert code == 0
    assert found["now"] is None
    assert found["not_in_the_job"] == ["R1"]
    assert found["before"]["unchecked_count"] == plan["before"]["unchecked_count"]
    gone = len(plan["jobs"][0]["buys"]["unchecked_removed"])
    left = found["before"]["unchecked_count"] - gone
    assert found["predicted"]["unchecked_count"] == left


def test_what_is_in_is_held_against_its_prediction(job, capsys, tmp_path):
    """An old session as if it had been done: without it is worse, with it as now."""
    twin = tmp_path / "done.csv"
    rows = [
        line.split(",")
        for line in (job / "set_ups.csv").read_text("utf-8").splitlines()
        if not line.startswith("#")
    ]
    header = rows[0]
    name, station, session = (
        header.index(word) for word in ("set_up", "station", "session")
    )
    some = [row for row in rows[1:] if row[session] == "S4"]
    lines = [f"{row[name]},{row[station]},S4,1.5" for row in some]
    twin.write_text(
        "set_up,station,session,height_m\n" + "\n".join(lines) + "\n", "utf-8"
    )
    code, said = asked(capsys, job, "--done", str(twin), "--json")
    found = json.loads(said.out)
    assert code == 0
    assert found["not_in_the_job"] == []
    _, said = asked(capsys, job, "--hours", "0.2", "--json")
    now = json.loads(said.out)["before"]
    assert found["now"]["unchecked_count"] == now["unchecked_count"]
    assert found["now"]["largest_hidden_mm"] == now["largest_hidden_mm"]
    assert found["before"]["worst_pair_ratio"] >= found["now"]["worst_pair_ratio"]
