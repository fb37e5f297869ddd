"""The control sheet of each mark: its figures against `show mark`, its words.

The jobs are invented; what is checked is that the sheets say what other commands say,
and identities that hold for every network.
"""

import json
import re
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest

import brasscap.mark_sheets
from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge import hypotheses
from brasscap.adjust.judge.effects import Worst
from brasscap.adjust.judge.external import reliability
from brasscap.io.tables.load import load
from brasscap.networks import example_jobs
from brasscap.reports import content_show
from brasscap.reports.content_mark_places import place_facts, places_of, places_table
from brasscap.reports.content_mark_role import decision_facts, role_facts
from brasscap.reports.content_mark_sheets import COMPUTED, sheeted, sheets_documents
from brasscap.reports.content_reliability import Hidden
from brasscap.reports.document import Facts, Paragraph, Table, VerdictLine, anchor
from brasscap.reports.heading import DecisionLine, Heading
from brasscap.reports.html import html
from brasscap.reports.judged import judge
from brasscap.reports.mark_notes import MarkNotes, cautions_of
from brasscap.reports.mark_things import at_marks
from brasscap.reports.objects import marks_objects
from brasscap.reports.objects_reliability import reliability_object
from brasscap.reports.rounding import Units

EXAMPLES = Path(example_jobs.__file__).parent / "examples"
JOBS = Path(__file__).parent / "jobs"
ALL = ("harbour", "mill", "tramway", "traverse_one_station_mixed")


@pytest.fixture(scope="module")
def solved():
    """Each job once: judged, with what could hide in it."""
    made = {}

    def solve(name):
        if name not in made:
            folder = EXAMPLES / name
            network = load(folder if folder.is_dir() else JOBS / name).network
            adjustment = estimate(network, "constrained")
            found = {
                "set-up": reliability(adjustment, hypotheses.set_ups(adjustment)),
                "observation": reliability(
                    adjustment, hypotheses.observations(adjustment)
                ),
            }
            made[name] = judge(adjustment), Hidden(adjustment, found)
        return made[name]

    return solve


def sheets_of(solved, name, notes=None, heading=None):
    judged, hidden = solved(name)
    heading = heading or Heading(title="A job", surveyor="A. Body")
    (document,) = sheets_documents(judged, hidden, heading, notes or {})
    return document


def figure(said):
    """Return a printed number; of minutes, seconds and a letter the degrees."""
    if "°" in said:
        parts = [float(x) for x in re.findall(r"[\d.]+", said)]
        size = sum(part / 60**k for k, part in enumerate(parts))
        return -size if said[-1] in "SW" or said.startswith("−") else size
    return float(said.replace("−", "-"))


def facts_of(section):
    return {
        term: said
        for part in section.parts
        if isinstance(part, Facts)
        for term, said in part.pairs
    }


@pytest.mark.parametrize("name", ALL)
def test_every_mark_has_one_sheet_that_defers_to_the_licensed_person(solved, name):
    judged, _ = solved(name)
    front, *sheets = sheets_of(solved, name).sections
    expected = [n for n in judged.network.marks.name if not n.startswith("free ")]
    assert [s.title for s in sheets] == [f"Mark {n}" for n in expected]
    assert [s.anchor for s in sheets] == [anchor("sheet", n) for n in expected]
    (listed,) = [part for part in front.parts if isinstance(part, Table)]
    assert [row.cells[0] for row in listed.rows] == expected
    for sheet in sheets:
        assert sheet.parts[-1].text.startswith(COMPUTED)
        assert "A. Body" in sheet.parts[-1].text


@pytest.mark.parametrize("name", ALL)
def test_coordinates_are_those_of_show_mark_each_with_its_limit(solved, name):
    """± is the multiplier times the sd in the covariance of the JSON."""
    judged, _ = solved(name)
    places, factor = places_of(judged), judged.marks.multipliers.height
    keys = {
        ("latitude", "geodetic"): ("latitude_deg", 1),
        ("longitude", "geodetic"): ("longitude_deg", 0),
        ("height", "ellipsoidal"): ("ellipsoidal_height_m", 2),
        **{(axis.upper(), "geocentric"): (f"{axis}_m", None) for axis in "xyz"},
        **{(a, "map grid"): (f"{a}_m", None) for a in ("north", "east")},
        ("north", "site grid"): ("north_m", 1),
        ("east", "site grid"): ("east_m", 0),
    }
    compared = 0
    for mark, said in enumerate(marks_objects(judged)):
        for row in places_table(judged, places, mark, Units()).rows:
            head, where, value, limit = row.cells
            what = head.split(" (")[0]
            if (what, where) not in keys:
                assert what in ("height", "orthometric height", "geoid undulation")
                key = {"height": "height_m", "geoid undulation": "undulation_m"}
                key = key.get(what, "orthometric_height_m")
                axis = 2 if what == "height" else None
            else:
                key, axis = keys[what, where]
            if value == "not known":
                assert said[key] is None
                continue
            # 5e-9° is half of the fifth decimal of a second, and then some.
            digits = 2e-9 if key.endswith("deg") else 5.1e-5
            assert figure(value) == pytest.approx(said[key], abs=digits)
            if axis is not None:
                variance = said["covariance_enu_m2"][axis][axis]
                if limit == "held":
                    assert variance == 0
                else:
                    expected = 1000 * factor * np.sqrt(variance)
                    assert figure(limit) == pytest.approx(expected, abs=0.051)
            compared += 1
    assert compared >= len(judged.network.marks)


def test_turning_the_axes_keeps_the_sum_of_the_variances(solved):
    """Identity: the trace of a covariance is the same in every set of right angles."""
    judged, _ = solved("harbour")
    places = places_of(judged)
    square = (places.sd_enu**2).sum(axis=1)
    np.testing.assert_allclose((places.sd_xyz**2).sum(axis=1), square, rtol=1e-9)
    plan = (places.sd_enu[:, :2] ** 2).sum(axis=1)
    np.testing.assert_allclose((places.sd_grid**2).sum(axis=1), plan, rtol=1e-9)


def test_ellipse_and_circle_are_those_of_show_mark(solved):
    judged, _ = solved("harbour")
    places, compared = places_of(judged), 0
    for mark, said in enumerate(marks_objects(judged)):
        facts = dict(place_facts(judged, places, mark, Units()))
        words = facts["95 % ellipse (mm)"]
        if said["ellipse"]["semi_major_mm"] == 0:
            assert words == "plan held: no ellipse"
            continue
        major, minor, turn = (float(x) for x in re.findall(r"[\d.]+", words))
        assert major == pytest.approx(said["ellipse"]["semi_major_mm"], abs=0.051)
        assert minor == pytest.approx(said["ellipse"]["semi_minor_mm"], abs=0.051)
        off = (turn - said["ellipse"]["azimuth_deg"] + 90) % 180 - 90
        assert abs(off) <= 0.51
        radius = float(facts["95 % circle (mm)"].removeprefix("radius "))
        assert radius == pytest.approx(said["circle_mm"], abs=0.051)
        compared += 1
    assert compared > 5


@pytest.mark.parametrize("name", ALL)
def test_what_is_tested_at_a_mark_is_what_show_mark_lists(solved, name):
    judged, _ = solved(name)
    for mark, here in enumerate(at_marks(judged)):
        assert list(here.tests) == content_show.tests_at(judged, mark)


@pytest.mark.parametrize("name", ["harbour", "mill", "tramway"])
def test_the_largest_unseen_move_is_the_one_of_reliability(solved, name):
    judged, hidden = solved(name)
    said = {one["station"]: one for one in reliability_object(hidden)["marks"]}
    document, compared = sheets_of(solved, name), 0
    for sheet in document.sections[1:]:
        station, facts = sheet.title.removeprefix("Mark "), facts_of(sheet)
        mark = judged.network.marks.name.index(station)
        for k, part in enumerate(("plan", "height")):
            words = facts.get(f"largest unseen move in {part}")
            if words is None:
                assert not judged.estimated[mark, k]
                continue
            effect = said[station][f"effect_{part}_mm"]
            unlimited = said[station][f"{part}_moved_by_any_amount_by"]
            assert words.startswith("any amount") is bool(unlimited)
            if not unlimited:
                assert words.startswith("none") is (effect is None)
            if effect is not None and not unlimited:
                size = float(words.split(" mm")[0])
                assert size == pytest.approx(effect, abs=0.51)
                assert said[station][f"effect_{part}_by"]["name"] in words
                compared += 1
    assert compared


def test_a_set_up_ties_a_mark_once_whatever_was_observed_from_it(solved):
    """Every observation in use at a mark goes through one of its ties."""
    judged, _ = solved("harbour")
    network = judged.network
    for mark, here in enumerate(at_marks(judged)):
        names = {name for kind, name in here.independent if kind == "set-up"}
        over = {
            name
            for name, at in zip(network.set_ups.name, network.set_ups.mark, strict=True)
            if at == mark
        }
        assert names <= over
        vectors, used = network.vectors, set()
        for nodes in (vectors.start, vectors.end):
            at = (network.mark_of(nodes) == mark) & vectors.used
            used |= {network.node_name(int(node)) for node in nodes[at]}
        assert used <= names
        assert len(set(here.independent)) == len(here.independent)


def test_what_nothing_checks_is_named(solved):
    judged, _ = solved("harbour")
    document = sheets_of(solved, "harbour")
    for mark, sheet in zip(sheeted(judged), document.sections[1:], strict=True):
        said = facts_of(sheet)["nothing checks"]
        blind = any(
            judged.tests.verdict[i] == "unchecked"
            for i in content_show.tests_at(judged, mark)
        )
        assert (said == "everything here is checked") is not blind


def test_who_decided_what_a_known_mark_is_used_for(solved):
    judged, _ = solved("harbour")
    mark = judged.network.marks.name.index("SIGNAL HILL")
    facts = dict(role_facts(judged, mark, Heading()))
    assert facts["use"] == "plan held, height held"
    assert facts["by"] == "control.csv row 2; no decision has changed it"
    lines = (
        DecisionLine(
            "D1", "weight", "known mark SIGNAL HILL", "old", superseded_by="D2"
        ),
        DecisionLine("D2", "hold", "known mark SIGNAL HILL", "checked twice", "mp"),
        DecisionLine("D3", "hold", "known mark GRAIN SHED", "not here"),
        DecisionLine("D4", "leave-out", "baseline B1", "wrong mark"),
    )
    heading = Heading(decisions=lines)
    facts = dict(role_facts(judged, mark, heading))
    assert facts["by"] == "decision D2, hold: checked twice (mp)"
    others = dict(decision_facts(judged, mark, at_marks(judged)[mark], heading))
    assert set(others) == {"decision D1", "decision D4"}
    assert others["decision D1"].endswith("; replaced by D2")
    new = judged.network.marks.name.index("SLIPWAY")
    assert dict(role_facts(judged, new, heading))["known or new"].startswith("new")


def test_a_note_that_states_a_hazard_calls_for_its_caution(solved):
    notes = {"SLIPWAY": MarkNotes(access="overhead line above the path")}
    document = sheets_of(solved, "harbour", notes)
    of = {
        sheet.title: [
            part.text
            for part in sheet.parts
            if isinstance(part, Paragraph) and part.text.startswith("Caution.")
        ]
        for sheet in document.sections
    }
    (caution,) = of["Mark SLIPWAY"]
    assert caution.startswith("Caution. Overhead lines:")
    assert cautions_of("") == ()
    assert len(cautions_of("trams, an overhead line, deep water; never alone")) == 4


def test_words_of_the_tables_cannot_become_markup(solved):
    notes = {"SLIPWAY": MarkNotes(kind="<b>bolt</b>", files=(("<i>.jpg", "x"),))}
    page = html(sheets_of(solved, "harbour", notes), page_each=True)
    assert "<b>bolt" not in page
    assert "<i>.jpg" not in page
    assert "&lt;b&gt;bolt" in page


@pytest.mark.parametrize("paper", ["", "A4", "letter"])
def test_the_page_asks_for_nothing_breaks_before_each_sheet_and_links_hold(
    solved, paper
):
    document = sheets_of(solved, "tramway")
    page = html(document, paper=paper, page_each=True)
    assert re.findall(r"^  size: (.*);$", page, re.MULTILINE) == [paper] * bool(paper)
    assert "section + section { break-before: page; }" in page
    assert "default-src 'none'" in page
    assert not re.search(r"<(script|img|link|iframe)|url\(|@import|https?://", page)
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    assert {link[1:] for link in re.findall(r'href="([^"]+)"', page)} <= set(ids)
    assert len(re.findall("<h1", page)) == 1
    assert len(re.findall("<h2", page)) == len(document.sections)
    assert page.count("<table>") == page.count("<caption>")
    front = page.split('id="sheet-')[0]
    assert front.count('<a href="#sheet-') == 2 * len(document.sections) - 2


def test_days_are_those_of_what_is_in_use(tmp_path):
    """BREAKWATER 2 was seen in sessions S2 and S5 alone; TOPO-ICE is of detail."""
    job = tmp_path / "harbour"
    assert main(["new", str(job), "--example", "harbour", "--quiet"]) == 0
    loaded = load(job)
    idle = brasscap.mark_sheets.idle_set_ups(loaded)
    assert "TOPO-ICE" in idle
    days = brasscap.mark_sheets.observed_days(loaded.tables, idle)
    table = loaded.tables["set_ups"]
    stood = {
        name: str(when)[:10]
        for name, when in zip(table.word("set_up"), table.instant("start"), strict=True)
    }
    first, last = stood["S2-BW2"], stood["S5-BW2"]
    assert days["BREAKWATER 2"].split(" to ")[0] == first
    out = ["decide", "leave-out", "set-up", "S2-BW2", "--reason", "tape", "--who", "x"]
    assert main(["--job", str(job), "--quiet", *out]) == 0
    again = load(job)
    idle = brasscap.mark_sheets.idle_set_ups(again)
    assert "S2-BW2" in idle
    after = brasscap.mark_sheets.observed_days(again.tables, idle)["BREAKWATER 2"]
    assert after.split(" to ")[0] == last > first


@pytest.fixture
def job(tmp_path):
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "tramway", "--quiet"]) == 0
    return folder


def test_report_writes_the_sheets_with_ties_photographs_and_days(
    job, tmp_path, capsys, monkeypatch
):
    (tmp_path / "secret").write_text("not of this job")
    (job / "photos").mkdir()
    (job / "photos" / "pump.jpg").write_bytes(b"a picture")
    table = job / "stations.csv"
    head, *rows = [
        line for line in table.read_text("utf-8").splitlines() if line[0] != "#"
    ]
    photo = {"PUMP": "pump.jpg", "FOUNTAIN": "../secret", "SCHOOL WALL": "lost.jpg"}
    made = [f"{head},ties,photo"]
    for row in rows:
        name = row.split(",")[0]
        ties = "2.41 m to the spout" if name == "PUMP" else ""
        made.append(f"{row},{ties},{photo.get(name, '')}")
    table.write_text("\n".join(made) + "\n", "utf-8")
    capsys.readouterr()
    monkeypatch.setattr(brasscap.mark_sheets, "MOST", 5)
    words = ["--job", str(job), "--quiet", "--json", "report", "--marks", "--html"]
    main([*words, "--paper", "letter"])
    files = json.loads(capsys.readouterr().out)["files"]
    assert set(files) == {"html", "marks", "marks-2"}
    assert files["marks"] == (job / "reports" / "marks.html").as_posix()
    pages = [Path(files[kind]).read_text("utf-8") for kind in sorted(files)]
    assert all("  size: letter;\n" in page for page in pages)
    sheets = "".join(pages[1:])
    for line in rows:
        name = line.split(",")[0]
        assert sheets.count(f">Mark {name}</h2>") == 1
    assert sha256(b"a picture").hexdigest() in sheets
    assert sha256(b"not of this job").hexdigest() not in sheets
    assert sheets.count("named only: no such file in the job&#39;s folder") == 2
    assert "<dt>ties</dt><dd>2.41" in sheets
    starts = re.findall(r"20\d\d-\d\d-\d\d(?=T)", (job / "levels.csv").read_text())
    assert starts
    assert min(starts) in sheets
    assert max(starts) in sheets


def test_a_large_network_says_at_most(solved):
    """Bias to noise times sd bounds every move (Cauchy and Schwarz)."""
    judged, hidden = solved("harbour")
    few = replace(
        hidden,
        found={
            by: replace(
                one,
                few=Worst(
                    *one._worst,
                    np.zeros((0, 3), dtype=int),
                    np.zeros((len(judged.network.marks), 2)),
                    np.full((len(judged.network.marks), 2), -1),
                    0,
                ),
            )
            for by, one in hidden.found.items()
        },
    )
    (document,) = sheets_documents(judged, few, Heading(), {})
    whole = {s.title: facts_of(s) for s in sheets_of(solved, "harbour").sections[1:]}
    bounded = 0
    for sheet in document.sections[1:]:
        for part in ("plan", "height"):
            words = facts_of(sheet)[f"largest unseen move in {part}"]
            exact = whole[sheet.title][f"largest unseen move in {part}"]
            if words.startswith("not worked out"):
                assert sheet.title.removeprefix("Mark ") in judged.adjustment.datum.held
            elif not exact.startswith("any amount"):
                most = float(re.match(r"at most ([\d.]+) mm", words)[1])
                assert most >= float(exact.split(" mm")[0]) - 0.5
                bounded += 1
    assert bounded > 10


def test_a_mark_that_nothing_observed_is_called_neither_checked_nor_surveyed(job):
    with (job / "stations.csv").open("a", encoding="utf-8") as file:
        file.write("SPARE,brass stud,set,beyond the bridge,\n")
    loaded = load(job)
    judged = judge(estimate(loaded.network, "constrained"))
    (document,) = brasscap.mark_sheets.sheets_of(loaded, judged, Heading())
    sheet = document.sections[-1]
    assert sheet.title == "Mark SPARE"
    facts = facts_of(sheet)
    assert facts["known or new"] == "new, and not observed: it has no coordinates"
    assert facts["nothing checks"].startswith("nothing in use was observed here")
    assert "largest unseen move in height" not in facts
    (line,) = [part for part in sheet.parts if isinstance(part, VerdictLine)]
    assert (line.value, line.vial.verdict) == ("not observed", "unchecked")
    (places,) = [part for part in sheet.parts if isinstance(part, Table)]
    assert places.rows == ()


def test_paper_without_a_page_is_refused(job, capsys):
    assert main(["--job", str(job), "report", "--paper", "A4"]) == 2
    assert "--marks" in capsys.readouterr().err


def test_paper_is_one_of_two(job, capsys):
    assert main(["--job", str(job), "report", "--marks", "--paper", "A3"]) == 2
    assert "A4" in capsys.readouterr().err
