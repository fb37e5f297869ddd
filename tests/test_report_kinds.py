"""Reports, maps, plots and JSON of every kind of observation, from the shipped jobs.

The figures of the jobs are invented; what is checked here is that each is printed in
its own unit, and that page, text and JSON say the same.
"""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge.closures import closures
from brasscap.commands.show import KINDS
from brasscap.io.tables.load import load
from brasscap.networks import CommandError, Positions, example_jobs
from brasscap.networks.covariances import single
from brasscap.reports.content import adjust_document, look_at
from brasscap.reports.content_lines import drawn_lines, drawn_positions
from brasscap.reports.content_map import map_figure
from brasscap.reports.content_parameters import parameter_value, parameters_table
from brasscap.reports.content_readings import READINGS, readings_tables
from brasscap.reports.content_report import report_document
from brasscap.reports.content_show import show_set_up
from brasscap.reports.content_show_observation import (
    show_observation,
    show_position,
    show_readings,
)
from brasscap.reports.content_verdicts import checked_line
from brasscap.reports.document import (
    Column,
    Facts,
    Paragraph,
    Row,
    Table,
    anchor,
)
from brasscap.reports.heading import Heading
from brasscap.reports.html import css_text, html
from brasscap.reports.judged import brought_back, judge
from brasscap.reports.objects import adjust_object
from brasscap.reports.objects_show import show_object
from brasscap.reports.plots import heights_figure, network_figure, network_plot
from brasscap.reports.rounding import Units
from brasscap.reports.text import text
from brasscap.reports.text_lines import width
from brasscap.reports.text_tables import table_lines

JOBS = Path(__file__).parent / "jobs"
EXAMPLES = Path(example_jobs.__file__).parent / "examples"
HEADING = Heading(title="A job", input_hash="0123456789abcdef0123")
SITE, LEVELS, MIXED = "mill", "tramway", "harbour"


def network_of(name):
    shipped = EXAMPLES / name
    return load(shipped if shipped.is_dir() else JOBS / name).network


@pytest.fixture(scope="module")
def solved():
    """Each job once: what was loaded, adjusted and judged."""
    made = {}

    def solve(name):
        if name not in made:
            made[name] = judge(estimate(network_of(name), "constrained"))
        return made[name]

    return solve


def tables_of(document):
    parts = [part for section in document.sections for part in section.parts]
    return [part for part in parts if isinstance(part, Table)]


def heads_of(table):
    return [column.head for column in table.columns]


@pytest.mark.parametrize("name", [SITE, LEVELS, MIXED, "traverse_one_station_mixed"])
def test_every_reading_has_a_row_with_unit_residual_redundancy_and_test(solved, name):
    judged = solved(name)
    network = judged.network
    tables = readings_tables(judged, Units())
    count = sum(len(some) for some in network.sights)
    count += len(network.levels) if network.levels else 0
    assert sum(len(table.rows) for table in tables) == count > 0
    for table in tables:
        heads = heads_of(table)
        kind = heads[0]
        angle = kind in ("direction", "angle", "azimuth", "zenith angle")
        large, small = ("° ′ ″", "″") if angle else ("m", "mm")
        booked = "rise" if kind == "level difference" else "booked"
        assert heads[1:] == [
            f"{booked} ({large})",
            f"residual ({small})",
            "redundancy",
            f"against the rest ({small})",
            "test",
            "",
            "verdict",
            f"smallest seen ({small})",
        ]


def test_a_reading_is_printed_as_it_was_booked(solved):
    """A level difference of the job: in the table, its rise to 0.1 mm, its test."""
    judged = solved(LEVELS)
    (table,) = readings_tables(judged, Units())
    levels, tests = judged.network.levels, judged.tests
    at = levels.name.index("T6")
    test = next(i for i, name in enumerate(tests.name) if name == "T6")
    row = table.rows[at].cells
    assert row[0] == "T6 CHAPEL STEP – SCHOOL WALL"
    assert row[1] == f"{levels.rise[at]:.4f}"
    residual = float(judged.adjustment.residuals["level difference"][at, 0])
    shown = float(row[2].replace("−", "-"))
    assert shown == pytest.approx(1000 * residual, abs=0.051)
    # Alone, a reading's shift is − residual / redundancy.
    size, _, way = row[4].partition(" too ")
    redundancy, shift = float(row[3]), float(size) * {"large": 1, "small": -1}[way]
    assert shift == pytest.approx(-1000 * residual / redundancy, rel=0.02)
    assert row[5] == f"{tests.basis.test[test]:.2f}"
    assert row[7] == tests.verdict[test]


@pytest.mark.parametrize(
    ("angle", "pattern", "head", "small"),
    [
        ("dms", r"\d+° \d\d′ \d\d\.\d″", "booked (° ′ ″)", "residual (″)"),
        ("deg", r"\d+\.\d{5}", "booked (°)", "residual (″)"),
        ("gon", r"\d+\.\d{5}", "booked (gon)", "residual (mgon)"),
    ],
)
def test_the_angle_unit_of_the_job_is_honoured(solved, angle, pattern, head, small):
    judged = solved(SITE)
    tables = {heads_of(t)[0]: t for t in readings_tables(judged, Units("m", angle))}
    table = tables["direction"]
    assert heads_of(table)[1:3] == [head, small]
    (directions,) = [s for s in judged.network.sights if s.kind == "direction"]
    for row, value in zip(table.rows, directions.value, strict=True):
        assert re.fullmatch(pattern, row.cells[1])
        if angle != "dms":
            full = {"deg": 360, "gon": 400}[angle]
            turned = Fraction(row.cells[1]) / full
            assert abs(float(turned) - value / (2 * np.pi)) < 1e-7


def test_no_printed_angle_is_left_in_degrees_when_gon_is_asked(solved):
    """The whole report of a site in gon: no degree sign in it."""
    judged = solved(SITE)
    heading = replace(HEADING, angle="gon")
    closed = closures(judged.network)
    said = text(report_document(judged, heading, closed=closed))
    assert "°" not in said
    assert "″" not in said
    assert "mgon" in said


def test_the_angle_unit_comes_from_the_job(tmp_path, capsys):
    job = tmp_path / "job"
    assert main(["new", str(job), "--example", SITE, "--quiet"]) == 0
    toml = job / "job.toml"
    toml.write_text(toml.read_text().replace('angle = "dms"', 'angle = "gon"'))
    capsys.readouterr()
    main(["--job", str(job), "--quiet", "run"])
    assert "azimuth" in (said := capsys.readouterr().out)
    assert "mgon" in said
    assert "″" not in said


def test_one_gon_in_every_unit():
    """π/200 rad is 1 gon by definition, 0.9°, 54 minutes."""
    assert Units("m", "gon").reading(np.pi / 200) == "1.00000"
    assert Units("m", "deg").reading(np.pi / 200) == "0.90000"
    assert Units("m", "dms").reading(np.pi / 200) == "0° 54′ 00.0″"
    assert Units("m", "gon").place(-90.0, "NS") == "100.000000000 S"


def test_parameters_are_listed_with_value_sd_and_whether_needed(solved):
    judged = solved(SITE)
    table = parameters_table(judged, Units())
    found = judged.parameters
    assert [row.cells[0] for row in table.rows] == list(found.name)
    at = found.kind.index("refraction")
    assert table.rows[at].cells[1] == f"{found.value[at]:.3f}"
    assert table.rows[at].cells[3:] == ("0.130", "0.100", "tested")
    turn = found.kind.index("orientation")
    assert re.fullmatch(r"\d+° \d\d′ \d\d\.\d″", table.rows[turn].cells[1])
    assert table.rows[turn].cells[3:] == ("–", "–", "always")
    made = adjust_object(judged)["parameters"]
    assert [one["name"] for one in made] == list(found.name)
    assert made[at]["value_ratio"] == pytest.approx(found.value[at], rel=1e-8)
    assert made[at]["prior_ratio"] == 0.13
    assert made[turn]["value_deg"] == pytest.approx(
        np.degrees(found.value[turn]) % 360, rel=1e-8
    )
    assert made[turn]["prior_deg"] is None
    assert made[turn]["needed"] is None


def test_a_free_parameter_says_whether_the_data_ask_for_it(solved):
    """The same estimates, said of a scale without a prior."""
    judged = solved(SITE)
    found = judged.parameters
    nan = np.array([np.nan])
    scale = type(found)(
        ("scale of EDM 1",), ("distance scale",), np.array([12e-6]), np.array([4e-6]),
        np.zeros(1), nan, np.array([3.0]), np.array([0.0027]), ("yes",),
    )  # fmt: skip
    one = replace(judged, parameters=scale)
    (row,) = parameters_table(one, Units()).rows
    assert row.cells == ("scale of EDM 1", "12.0 ppm", "4.0 ppm", "–", "–", "yes")
    (made,) = adjust_object(one)["parameters"]
    assert (made["value_ppm"], made["sd_ppm"], made["needed"]) == (12.0, 4.0, True)


@pytest.mark.parametrize(
    ("name", "said", "dimension"),
    [
        (SITE, "in space: ", "space"),
        (LEVELS, "in heights alone: ", "height"),
        ("traverse_one_station_mixed", "in plan alone: ", "plan"),
    ],
)
def test_the_dimension_is_said(solved, name, said, dimension):
    judged = solved(name)
    assert said in text(adjust_document(judged, HEADING))
    assert adjust_object(judged)["dimension"] == dimension


def test_a_job_in_plan_is_not_asked_for_heights_of_set_ups(solved):
    """It has set-ups, whose heights it does not use."""
    said = text(adjust_document(solved("traverse_one_station_mixed"), HEADING))
    assert "no set-up was booked" not in said
    assert "the smallest blunder of a single observation that shows" in said


@pytest.mark.parametrize(
    ("kind", "value", "said"),
    [
        ("position shift", 0.0123, "12.3 mm"),
        ("undulation", -3.41, "−3.4100 m"),
        ("undulation shift", 45.6789, "45.6789 m"),
        ("undulation tilt", 2.5e-6, "2.5 ppm"),
        ("vector scale", -1e-6, "−1.0 ppm"),
        ("vector turn", -np.pi / 180 / 3600, "−1.0″"),
        ("distance constant", 0.0021, "2.1 mm"),
        ("refraction", 0.13, "0.130"),
    ],
)
def test_a_parameter_is_said_in_its_unit(kind, value, said):
    assert parameter_value(kind, value, Units()) == said


def test_heights_alone_print_no_plan(solved):
    judged = solved(LEVELS)
    document = report_document(judged, HEADING, closed=closures(judged.network))
    (marks,) = [t for t in tables_of(document) if t.caption.startswith("marks")]
    assert heads_of(marks) == ["station", "checked", "height (m)", "height ± (mm)"]
    assert {row.cells[1] for row in marks.rows} == {"yes"}
    page = html(document)
    for word in ("ellipse by", "north (mm)", "east (mm)", "<figure>"):
        assert word not in page
    assert "heights alone" in page


def test_plan_alone_prints_no_height(solved):
    judged = solved("traverse_one_station_mixed")
    (marks,) = [
        t
        for t in tables_of(adjust_document(judged, HEADING))
        if t.caption.startswith("marks")
    ]
    assert not [head for head in heads_of(marks) if "height" in head]
    assert "sd of the height" not in marks.caption


def test_json_of_what_is_held_and_of_what_is_not_estimated(solved):
    """A held component has variance 0; one that is not estimated has none."""
    made = adjust_object(solved(LEVELS))["marks"]
    held, new = made[0], made[-1]
    assert held["covariance_enu_m2"] == [[None] * 3, [None] * 3, [None, None, 0.0]]
    assert held["height_limit_mm"] == 0.0
    assert new["covariance_enu_m2"][0] == [None] * 3
    assert new["covariance_enu_m2"][2][2] > 0
    assert new["north_m"] is None
    assert new["ellipse"]["semi_major_mm"] is None


def test_json_of_a_parameter_has_a_unit_in_its_keys(solved):
    (one,) = [o for o in adjust_object(solved(SITE))["observations"]
              if o["kind"] == "parameter"]  # fmt: skip
    assert {"shift_value_ratio", "residual_ratio"} <= set(one)
    assert not [key for key in one if key.endswith("_own")]


def test_unchecked_marks_are_not_counted_as_checked_ones(solved):
    judged = solved(SITE)
    line = checked_line(judged)
    assert line.value == ""
    assert line.vial.verdict == "unchecked"
    assert "7 of 8 checked in full; an error could hide at YARD 3" in line.evidence


def test_all_pointings_between_two_marks_are_one_line(solved):
    judged = solved(SITE)
    lines = drawn_lines(judged, Units())
    assert {line.kind for line in lines} == {"sights", "levels"}
    pairs = [(line.kind, *sorted((line.start, line.end))) for line in lines]
    assert len(pairs) == len(set(pairs))
    ends = set()
    for some in judged.network.sights:
        at, to = judged.network.mark_of(some.at), judged.network.mark_of(some.to)
        ends |= {tuple(sorted(pair)) for pair in zip(at, to, strict=True)}
    assert len(ends) == sum(line.kind == "sights" for line in lines)
    (one,) = [x for x in lines if x.kind == "sights" and x.name == "GATE PIER – YARD 1"]
    # Two rounds, each as a mean of two faces.
    assert "2 slope distances, 2 directions, 2 zenith angles" in one.title


def test_a_line_is_as_heavy_as_its_worst_reading(solved):
    judged = solved(LEVELS)
    tests, levels = judged.tests, judged.network.levels
    (one,) = [
        x
        for x in drawn_lines(judged, Units())
        if {x.start, x.end} == {int(levels.start[0]), int(levels.end[0])}
    ]
    runs = [
        float(tests.tests.smallest_detectable[i])
        for i, name in enumerate(tests.name)
        if tests.kind[i] == "level difference" and name.startswith("T1 ")
    ]
    assert len(runs) == 2
    assert one.smallest == max(runs)


@pytest.mark.parametrize("name", [SITE, MIXED])
def test_the_map_tells_its_lines_apart_in_words(solved, name):
    figure = map_figure(solved(name), Units())
    assert "long dashes the sights of a total station" in figure.caption
    assert "dots levelled runs" in figure.caption
    assert ("unbroken a baseline" in figure.caption) == (name == MIXED)
    svg = ET.fromstring(figure.svg)
    classes = " ".join(e.get("class", "") for e in svg.iter())
    assert re.search(r"line \w+ sights", classes)
    assert re.search(r"line \w+ levels", classes)


def test_a_job_of_heights_has_a_map_only_where_marks_have_places(solved):
    judged = solved(LEVELS)
    assert isinstance(map_figure(judged, Units()), Paragraph)
    network = judged.network
    booked = np.column_stack(
        [np.arange(len(network.marks)) * 100.0, np.zeros(len(network.marks)),
         np.zeros(len(network.marks))]
    )  # fmt: skip
    placed = replace(network, marks=replace(network.marks, approximate=booked))
    figure = map_figure(judge(estimate(placed, "constrained")), Units())
    assert "Ellipses" not in figure.caption
    assert "mm of an ellipse" not in figure.svg
    assert figure.svg.count('class="line') == len(drawn_lines(judged, Units()))


def positioned(name=SITE):
    """The site with two positions of YARD 3, one of them left out."""
    network = network_of(name)
    mark = network.marks.name.index("YARD 3")
    solution = estimate(network, "constrained")
    xyz = solution.nodes.xyz[[mark, mark]] + [[0.004, -0.003, 0.006], [0.5, 0, 0]]
    return replace(
        network,
        groups=("RTK",),
        positions=Positions(
            ("P1", "P2"), np.full(2, mark), xyz, np.zeros(2), np.ones((2, 3), bool),
            single(np.stack([np.diag([1e-4, 1e-4, 2e-4])] * 2)), np.zeros(2, int),
            np.array([True, False]), np.array([2, 3]),
        ),
    )  # fmt: skip


def test_positions_are_squares_that_lead_to_their_row_and_back():
    judged = judge(estimate(positioned(), "constrained"))
    (square,) = drawn_positions(judged, Units())
    assert square.name == "YARD 3"
    assert square.title.startswith("positions of YARD 3: P1 test ")
    assert square.title.endswith("P2 left out by decision")
    figure = map_figure(judged, Units())
    assert "Open square: positions were taken there." in figure.caption
    page = html(report_document(judged, HEADING))
    row = anchor("observation", "position P1")
    here = anchor("map", "positions YARD 3")
    assert f'<a id="{here}" href="#{row}"' in page
    assert re.search(rf'<tr id="{row}">.*?href="#{here}"', page)
    found = show_position(judged, "P1", HEADING)
    assert "positions.csv row 2" in text(found)
    (one,) = show_object(judged, "position", "P1")["observations"]
    assert one["kind"] == "position"


def test_a_left_out_reading_is_brought_back_alone():
    """T6 was booked 9 mm too large or so; left out, its test is what it was in use."""
    network = network_of(LEVELS)
    at = network.levels.name.index("T6")
    used = network.levels.used.copy()
    used[at] = False
    without = replace(network, levels=replace(network.levels, used=used))
    (back,) = brought_back(estimate(without, "minimal"))
    judged = judge(estimate(network, "minimal"))
    test = judged.tests.name.index("T6")
    assert (back.kind, back.name, back.measure) == ("level difference", "T6", "m")
    assert back.test == pytest.approx(float(judged.tests.basis.test[test]), rel=1e-9)
    assert back.variance_factor == pytest.approx(judged.variance_factor.value)
    page = text(
        report_document(judge(estimate(without, "minimal")), HEADING, back=[back])
    )
    assert "rise booked 9 mm too large" in page


def test_a_left_out_pointing_is_brought_back_alone():
    network = network_of(SITE)
    some = network.sights[0]
    used = some.used.copy()
    used[0] = False
    sights = (replace(some, used=used), *network.sights[1:])
    (back,) = brought_back(estimate(replace(network, sights=sights), "minimal"))
    assert (back.kind, back.name) == (some.kind, some.name[0])


def test_a_free_station_is_called_one(solved):
    figure = map_figure(solved(SITE), Units())
    titles = [e.text for e in ET.fromstring(figure.svg).iter() if e.tag == "title"]
    assert [t for t in titles if t.startswith("free station F1: 95 % ellipse")]
    assert "new mark free station" not in figure.svg


@pytest.mark.parametrize("name", [SITE, MIXED, LEVELS])
def test_no_link_of_a_page_leads_nowhere_and_no_name_is_given_twice(solved, name):
    judged = solved(name)
    page = html(report_document(judged, HEADING, closed=closures(judged.network)))
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'href="#([^"]+)"', page)) <= set(ids)


def test_a_mark_keeps_what_checks_it_in_its_row():
    """Geocentric coordinates are wide: the table is folded, `checked` stays first."""
    network = network_of("gnss_textbook_two_control_13_vectors")
    document = adjust_document(judge(estimate(network, "constrained")), HEADING)
    (marks,) = [t for t in tables_of(document) if t.caption.startswith("marks")]
    lines = list(table_lines(marks))
    (head,) = [line for line in lines if line.split()[:2] == ["station", "checked"]]
    assert "Z (m)" in head
    assert max(map(width, lines)) <= 80


def test_long_names_stand_above_their_figures():
    columns = (Column("what", number=False), *(Column(f"n{k} (mm)") for k in range(7)))
    name = "set-up height target LOADING DOCK from T2 (LOADING DOCK)"
    rows = tuple(Row((name, *["12345.6"] * 7)) for _ in range(3))
    lines = list(table_lines(Table("wide", columns, rows)))
    assert max(map(width, lines)) <= 80
    assert [line.strip() for line in lines].count(name) == 3
    short = tuple(replace(row, cells=("B1", *row.cells[1:5])) for row in rows)
    few = Table("narrow", columns[:5], short)
    assert sum("B1 " in line and "12345.6" in line for line in table_lines(few)) == 3


@pytest.mark.parametrize("name", [SITE, MIXED, LEVELS, "mixed_nine_marks"])
def test_text_of_every_kind_is_80_wide(solved, name):
    judged = solved(name)
    said = text(report_document(judged, HEADING, closed=closures(judged.network)))
    assert [line for line in said.splitlines() if width(line) > 80] == []


@pytest.mark.parametrize("name", [SITE, MIXED, LEVELS])
def test_what_the_commands_print_is_80_wide_and_plain(name, tmp_path, capsys):
    job = tmp_path / "job"
    assert main(["new", str(job), "--example", name, "--quiet"]) == 0
    for command in ("check", "loops", "adjust", "run", "report"):
        capsys.readouterr()
        assert main(["--job", str(job), "--quiet", command]) in (0, 1)
        said = capsys.readouterr().out.replace(str(job), "job")
        # A command line is copied: it is never broken.
        long = [line for line in said.splitlines() if width(line) > 80]
        assert [line for line in long if "brasscap" not in line] == []
        assert "\x1b" not in said


def test_every_kind_of_reading_can_be_shown(solved):
    assert set(READINGS) < set(KINDS)
    judged = solved(SITE)
    for some in judged.network.sights:
        name = some.name[0]
        document = show_readings(judged, some.kind, name, HEADING)
        facts = dict(document.sections[0].parts[2].pairs)
        assert facts["booked in"] == f"total_station.csv row {some.row[0]}"
        assert facts["in use"] == "yes"
        assert tables_of(document)[0].rows
        made = show_object(judged, some.kind, name)
        assert [o["kind"] for o in made["observations"]] == [some.kind]
        (reading,) = made["readings"]
        unit = "booked_m" if "distance" in some.kind else "booked_deg"
        value = some.value[0] if unit == "booked_m" else np.degrees(some.value[0])
        assert reading[unit] == pytest.approx(value, abs=1e-6)


def test_a_pointing_is_found_by_its_name_alone(solved):
    """A face of a mean of two: distance, direction and zenith angle come together."""
    judged = solved(SITE)
    document = show_observation(judged, "T1-08", HEADING)
    facts = [p for p in document.sections[0].parts if isinstance(p, Facts)]
    assert len(facts) == 3
    made = show_object(judged, "observation", "T1-08")
    kinds = {o["kind"] for o in made["observations"]}
    assert kinds == {"slope distance", "direction", "zenith angle"}
    levels = show_readings(solved(LEVELS), "level difference", "T6", HEADING)
    assert "levels.csv row" in text(levels)
    baseline = solved(MIXED).network.vectors.name[0]
    said = text(show_observation(solved(MIXED), baseline, HEADING))
    assert said.startswith(f"Baseline {baseline}")


def test_a_name_that_is_not_there_is_told_with_the_nearest(solved):
    judged = solved(SITE)
    with pytest.raises(CommandError, match=r"no direction 'T1-01 T1-08'; .*'T1-01 \+"):
        show_readings(judged, "direction", "T1-01 T1-08", HEADING)
    with pytest.raises(CommandError, match=r"no observation 'L1 oot'; .*'L1 out'"):
        show_observation(judged, "L1 oot", HEADING)
    with pytest.raises(CommandError, match="no position 'P1'; this job has no pos"):
        show_position(judged, "P1", HEADING)


def test_a_set_up_says_every_pointing_that_uses_it(solved):
    judged = solved(SITE)
    facts = dict(show_set_up(judged, "P-GATE", HEADING).sections[0].parts[1].pairs)
    assert "T1-01 + T1-08 (slope distance, direction, zenith angle)" in facts["used by"]


@pytest.mark.parametrize("name", [SITE, LEVELS, MIXED])
def test_what_is_proposed_to_be_looked_at_can_be(solved, name):
    """The command that a report ends with names a kind and a name that exist."""
    import shlex

    judged = solved(name)
    for i in judged.tests.order()[:30]:
        words = shlex.split(look_at(judged.tests.kind[i], judged.tests.name[i]))
        if words[1] == "show":
            assert words[2] in KINDS
            assert len(words) == 4


def test_the_foot_of_a_printed_page_cannot_be_broken_out_of():
    heading = replace(HEADING, title='x"; } </style><b>& \\ é')
    judged = judge(estimate(network_of(LEVELS), "constrained"))
    page = html(report_document(judged, heading))
    assert page.count("</style>") == 1
    assert "input\\20 0123456789abcdef" in page
    assert "page " in page
    assert css_text('a"b\\') == '"a\\22 b\\5c "'


def test_the_plot_carries_every_kind(solved):
    axes = network_figure(solved(MIXED)).axes[0]
    labels = axes.get_legend_handles_labels()[1]
    assert {"baseline", "sights", "levels"} <= set(labels)
    assert len(axes.get_legend().get_texts()) == len(set(labels))
    judged = judge(estimate(positioned(), "constrained"))
    assert "position" in network_figure(judged).axes[0].get_legend_handles_labels()[1]


def test_the_plot_of_levels_shows_heights(solved):
    judged = solved(LEVELS)
    axes = heights_figure(judged).axes[0]
    assert axes.get_ylabel() == "height (m)"
    points = [line for line in axes.lines if line.get_marker() in ("o", "^")]
    drawn = [float(line.get_ydata()[0]) for line in points]
    np.testing.assert_allclose(drawn, judged.grid[:, 2], atol=1e-9)
    assert network_plot(judged.adjustment, "svg").startswith(b"<?xml")


def test_sections_without_content_are_left_out(solved):
    judged = solved(LEVELS)
    titles = {s.title for s in report_document(judged, HEADING).sections}
    assert "Sessions and set-ups" not in titles
    assert "Repeats and loops" not in titles
