"""What a person reads, against files that a person has read, and against itself.

The survey is made up: four marks on a site grid, every misfit written out below in
whole millimetres. It is no check of the arithmetic; that is done elsewhere.
"""

import json
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.precision import pair
from brasscap.io.tables.load import load
from brasscap.networks import (
    Finding,
    KnownMarks,
    LocalFrame,
    Marks,
    Network,
    Positions,
    SetUps,
    Sights,
    Vectors,
    name_queries,
)
from brasscap.networks.covariances import single
from brasscap.reports.content import adjust_document
from brasscap.reports.content_check import check_document, status_document
from brasscap.reports.content_report import report_document
from brasscap.reports.content_show import (
    show_mark,
    show_pair,
    show_set_up,
)
from brasscap.reports.content_show_observation import show_baseline
from brasscap.reports.document import (
    Column,
    Document,
    Facts,
    Paragraph,
    Row,
    Section,
    Table,
    VerdictLine,
    Vial,
    anchor,
)
from brasscap.reports.heading import DecisionLine, Heading
from brasscap.reports.html import html
from brasscap.reports.judged import brought_back, judge
from brasscap.reports.objects import adjust_object, check_object, dump, pair_object
from brasscap.reports.rounding import Units, number, sexagesimal
from brasscap.reports.text import text
from brasscap.reports.text_lines import width
from brasscap.reports.vial import SAID, bubble_at, vial_text
from brasscap.reports.words import shift_words

MARKS = ("PILLAR 1", "PILLAR 2", "T1", "T2", "T<3>")
PLACES = np.array(
    [
        [1000.0, 5000.0, 50.0],
        [1800.0, 5200.0, 53.0],
        [1300.0, 5600.0, 51.0],
        [1500.0, 4700.0, 48.0],
        [2100.0, 5700.0, 55.0],
    ]
)
# Mark and session of each set-up.
SET_UPS = [
    (0, 0),
    (1, 0),
    (2, 0),
    (3, 0),
    (0, 1),
    (1, 1),
    (2, 1),
    (3, 1),
    (4, 1),
    (4, 0),
]
# From, to (set-ups), misfit east, north, up in mm.
BASELINES = [
    (0, 1, (4, -2, 6)),
    (1, 2, (-2, 4, -8)),
    (2, 0, (2, 2, 4)),
    (3, 0, (-4, 0, 10)),
    (3, 1, (0, -6, -4)),
    (4, 6, (2, 4, -6)),
    (6, 5, (-4, -2, 8)),
    (7, 4, (6, 0, -2)),
    (5, 7, (-2, 2, 4)),
    (5, 8, (0, 0, 0)),
]
# A second set-up over the last mark checks the first.
CHECKED = [*BASELINES, (2, 9, (2, 0, 4))]
HEADING = Heading(
    title="Mill Lane",
    surveyor="A. N. Example",
    licence="none",
    input_hash="0123456789abcdef0123",
    versions=(("brasscap", "0.0"),),
)


def known_marks():
    """The first mark held, the second weighted and booked 3 mm too far east."""
    xyz = PLACES[:2].copy()
    xyz[1, 0] += 0.003
    covariance = np.stack([np.full((3, 3), np.nan), np.diag([4e-6, 4e-6, 9e-6])])
    return KnownMarks(
        mark=np.array([0, 1]),
        xyz=xyz,
        components=np.ones((2, 3), dtype=bool),
        use_plan=("held", "weighted"),
        use_height=("held", "weighted"),
        covariances=single(covariance),
        source=("", ""),
        used=np.ones(2, dtype=bool),
        row=np.array([2, 3]),
    )


def set_ups(height_blunder):
    count = len(SET_UPS)
    mark, session = np.array(SET_UPS).T
    height = np.full(count, 1.5)
    height[7] += height_blunder
    blank = ("",) * count
    return SetUps(
        name=tuple(f"O{i + 1}" for i in range(count)),
        mark=mark,
        support=("tripod",) * count,
        session=session,
        height=height,
        eccentricity=np.zeros((count, 2)),
        sd_centring=np.full(count, 0.001),
        sd_height=np.full(count, 0.0015),
        reduction=("√(1.5086² − 0.1700²) − 0.0000 = 1.5000 m", *blank[1:]),
        antenna=blank,
        tripod=blank,
        row=np.arange(count) + 2,
    )


def survey(height_blunder=0.0, left_out=(), baselines=BASELINES):
    """The network; a blunder is booked into the height of set-up O8 over T2."""
    start, end, misfit = zip(*baselines, strict=True)
    over = set_ups(height_blunder)
    ends = np.array([start, end])
    places = PLACES[over.mark[ends]]
    names = tuple(f"B{i + 1}" for i in range(len(baselines)))
    count, marks = len(baselines), len(MARKS)
    return Network(
        frame=LocalFrame("site datum"),
        marks=Marks(
            MARKS,
            PLACES,
            ("found",) * marks,
            ("brass cap in concrete", *("",) * (marks - 1)),
            np.arange(marks) + 2,
        ),
        set_ups=over,
        vectors=Vectors(
            name=names,
            start=ends[0] + marks,
            end=ends[1] + marks,
            delta=places[1] - places[0] + np.array(misfit) / 1000,
            start_offset=over.height[ends[0]],
            end_offset=over.height[ends[1]],
            covariances=single(np.tile(np.diag([9e-6, 9e-6, 36e-6]), (count, 1, 1))),
            session=over.session[ends[0]],
            group=np.full(count, -1),
            used=np.array([name not in left_out for name in names]),
            row=np.arange(count) + 2,
        ),
        positions=Positions(
            name=(),
            node=np.zeros(0, dtype=np.int64),
            xyz=np.zeros((0, 3)),
            offset=np.zeros(0),
            components=np.zeros((0, 3), dtype=bool),
            covariances=(),
            group=np.zeros(0, dtype=np.int64),
            used=np.zeros(0, dtype=bool),
            row=np.zeros(0, dtype=np.int64),
        ),
        known=known_marks(),
        sessions=("S1", "S2"),
    )


STATES = {
    "meets": survey(baselines=CHECKED),
    "fails": survey(height_blunder=0.060),
    "unchecked": survey(baselines=BASELINES[:2]),
}


@pytest.fixture(scope="module")
def states():
    return {
        name: judge(estimate(network, "constrained"))
        for name, network in STATES.items()
    }


@pytest.mark.parametrize("state", list(STATES))
def test_text_is_the_one_that_was_read(states, state, golden):
    golden(f"adjust_{state}.txt", text(adjust_document(states[state], HEADING)))


@pytest.mark.parametrize("state", list(STATES))
def test_page_is_the_one_that_was_read(states, state, golden):
    golden(f"report_{state}.html", html(report_document(states[state], HEADING)))


def test_check_is_the_one_that_was_read(golden):
    findings = name_queries(
        [
            Finding(
                "covariance-not-positive",
                "fault",
                "B17 GROVE 3 – T104, session S4",
                file="baselines.csv",
                row=42,
                booked="cov_xx 61.2   cov_xy 94.1   cov_yy 88.0   (mm2)",
                against="|cov_xy| below 73.4; smallest eigenvalue here −20.4",
                likely="columns in another order, or the lower triangle",
                mend="compare one row with its source",
            ),
            Finding("hangs-loose", "query", "mark T9", file="stations.csv", row=9),
        ],
        {},
    )
    document = check_document(findings, [("baselines", 51)], HEADING)
    golden("check.txt", text(document))
    line = status_document(findings, (), HEADING, "brasscap check")
    assert "not adjusted yet" in text(line)
    made = check_object(findings, [("baselines", 51)])
    assert (made["verdict"], made["faults_count"]) == ("fails", 1)


def shown(judged):
    """Every document about one thing of a network."""
    return [
        show_mark(judged, "T2", HEADING),
        show_baseline(judged, "B8", HEADING),
        show_set_up(judged, "O8", HEADING),
        show_pair(judged, pair(judged.adjustment, "T1", "T2"), HEADING),
    ]


def test_show_is_the_one_that_was_read(states, golden):
    golden("show.txt", "\n".join(text(d) for d in shown(states["fails"])))


def test_no_line_is_wider_than_a_terminal(states):
    documents = [adjust_document(judged, HEADING) for judged in states.values()]
    documents += shown(states["fails"])
    documents += [report_document(judged, HEADING) for judged in states.values()]
    for document in documents:
        lines = text(document).splitlines()
        assert [line for line in lines if width(line) > 80] == []


def test_colour_only_where_it_is_asked_for(states):
    document = adjust_document(states["fails"], HEADING)
    plain = text(document)
    assert "\x1b" not in plain
    coloured = text(document, colour=True)
    assert "\x1b[31mfails\x1b[0m" in coloured
    assert re.sub(r"\x1b\[\d+m", "", coloured) == plain


def test_names_cannot_steer_the_terminal():
    document = Document("", (Section("", (Paragraph("T1\x1b[2J\u202eT2"),)),))
    assert text(document) == "  T1?[2J?T2\n"


class Page(HTMLParser):
    """What a test asks of a page: its cells, ids, links and tags."""

    def __init__(self, page):
        super().__init__()
        self.cells, self.captions, self.ids, self.links = [], [], [], []
        self.tags, self.attributes, self._inside = [], [], ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        named = dict(attrs)
        self.tags.append(tag)
        self.attributes += attrs
        self.ids += [named["id"]] if "id" in named else []
        self.links += [named["href"]] if "href" in named else []
        if tag in ("td", "th"):
            self.cells.append("")
            self._inside = "cell"
        elif tag == "caption":
            self.captions.append("")
            self._inside = "caption"

    def handle_endtag(self, tag):
        if tag in ("td", "th", "caption"):
            self._inside = ""

    def handle_data(self, data):
        if self._inside == "cell":
            self.cells[-1] += data
        elif self._inside == "caption":
            self.captions[-1] += data


@pytest.fixture(scope="module")
def report(states):
    """A report with everything in it: a decision, a left-out baseline, a minimal."""
    network = survey(height_blunder=0.060, left_out=("B8",))
    adjustment = estimate(network, "constrained")
    decision = DecisionLine("D1", "leave-out", "baseline B8", "<i>trodden on</i>")
    return report_document(
        judge(adjustment),
        replace(HEADING, decisions=(decision,)),
        minimal=judge(estimate(network, "minimal")),
        back=brought_back(adjustment),
    )


def tables_of(document):
    parts = [part for section in document.sections for part in section.parts]
    return [part for part in parts if isinstance(part, Table) and part.rows]


def test_page_shows_every_cell_of_the_content_and_no_other(report):
    expected = []
    for table in tables_of(report):
        expected += [column.head or "level vial" for column in table.columns]
        for row in table.rows:
            expected += ["" if isinstance(cell, Vial) else cell for cell in row.cells]
    page = Page(html(report))
    assert page.cells == expected
    captions = [caption.replace("\N{NO-BREAK SPACE}", " ") for caption in page.captions]
    assert captions == [table.caption for table in tables_of(report)]


def test_page_asks_for_nothing_from_anywhere(report):
    page = html(report)
    assert "default-src 'none'; style-src 'unsafe-inline'" in page
    parsed = Page(page)
    assert not {"script", "img", "link", "iframe", "object"} & set(parsed.tags)
    assert all(link.startswith("#") for link in parsed.links)
    assert not {name for name, _ in parsed.attributes} & {"src", "srcset", "onclick"}
    assert "url(" not in page
    assert "@import" not in page


def test_every_link_of_the_page_leads_somewhere(report):
    page = Page(html(report))
    assert len(page.ids) == len(set(page.ids))
    assert {link[1:] for link in page.links} <= set(page.ids)
    # From the map to the row and back.
    assert "#observation-B1" not in page.links
    for there, back in [
        ("mark-T2", "map-mark_20_T2"),
        ("observation-baseline_20_B1", "map-baseline_20_B1"),
        ("baseline-B8", "map-baseline_20_B8"),
    ]:
        assert f"#{there}" in page.links
        assert f"#{back}" in page.links


def test_words_of_the_tables_cannot_become_markup(report):
    page = html(report)
    assert "<i>trodden" not in page
    assert "&lt;i&gt;trodden on" in page
    assert "T<3>" not in page


def test_drawings_are_well_formed(report):
    for drawing in re.findall(r"<svg.*?</svg>", html(report), re.DOTALL):
        ET.fromstring(drawing)


def test_every_number_has_a_unit_in_its_head(report):
    bare = {"test", "redundancy", "variance factor with it"}
    for table in tables_of(report):
        for column in table.columns:
            if column.number and column.head not in bare:
                assert re.search(r"\((m|mm|°|° ′ ″)\)$", column.head), column.head


def test_report_has_its_sections_in_order(report):
    assert [section.title for section in report.sections if section.title] == [
        "Verdict",
        "Map",
        "Variance factor",
        "What could hide",
        "Queries",
        "Decisions",
        "Control",
        "Marks",
        "Observations",
        "Sessions and set-ups",
        "Method and assumptions",
        "Glossary",
        "Criteria",
        "Input and versions",
        "Cautions",
    ]
    said = html(report)
    for caution in ("certifies nothing", "traffic", "overhead lines", "lightning"):
        assert caution in said


def test_a_left_out_baseline_is_crossed_on_the_map(report):
    page = html(report)
    (line,) = re.findall(r'<a id="map-baseline_20_B8".*?</a>', page, re.DOTALL)
    assert 'class="line left-out"' in line
    assert "left out by decision" in line
    assert page.count('class="cross"') == 1


def test_a_left_out_baseline_brought_back_says_what_it_would_do(report):
    (back,) = [t for t in tables_of(report) if "brought back" in t.caption]
    (row,) = back.rows
    assert row.cells[0] == "baseline B8"
    # The 60 mm of set-up O8 are in it, less the part that B9 takes.
    assert "too high" in row.cells[1]


def test_what_nothing_checks_is_never_a_number(states):
    tests = states["unchecked"].tests
    at = tests.verdict.index("unchecked")
    made = adjust_object(states["unchecked"])["observations"][at]
    assert made["verdict"] == "unchecked"
    assert made["test"] is None
    assert made["smallest_detectable_mm"] is None
    document = adjust_document(states["unchecked"], HEADING)
    (row,) = [
        row
        for table in tables_of(document)
        for row in table.rows
        if str(row.cells[0]).startswith("baseline B2")
    ]
    assert [c for c in row.cells if isinstance(c, str)][1:] == [
        "",
        "unchecked",
        "",
        "nothing checks it",
    ]


def test_object_is_the_same_bytes_every_time_and_has_the_promised_keys(states):
    made = adjust_object(states["fails"], HEADING)
    said = dump(made)
    assert said == dump(adjust_object(judge(states["fails"].adjustment), HEADING))
    assert json.loads(said) == made
    assert list(json.loads(said)) == sorted(made)
    assert made["schema"] == "brasscap/adjust/1"
    promised = "schema datum held verdict units variance_factor marks observations"
    assert set(promised.split()) <= set(made)
    assert {"station", "covariance_enu_m2", "ellipse", "checked"} <= set(
        made["marks"][0]
    )
    assert made["marks"][0]["covariance_enu_m2"] == [[0.0] * 3] * 3
    # Redundancies of all observations sum to the degrees of freedom.
    parts = [o["redundancy"] for o in made["observations"] if o["redundancy"]]
    freedom = made["variance_factor"]["degrees_of_freedom"]
    assert sum(parts) == pytest.approx(freedom, abs=1e-4)


def test_residual_of_an_object_is_adjusted_minus_observed(states):
    judged = states["fails"]
    made = adjust_object(judged)["observations"][0]
    assert (made["kind"], made["name"], made["row"]) == ("baseline", "B1", 2)
    places, vectors = judged.adjustment.nodes.xyz, judged.network.vectors
    adjusted = places[vectors.end[0]] - places[vectors.start[0]]
    lift = vectors.end_offset[0] - vectors.start_offset[0]
    expected = adjusted - vectors.delta[0] + np.array([0, 0, lift])
    assert made["residual_m"] == pytest.approx(expected, abs=2e-7)


def test_pair_says_its_sentence_for_a_judge(states):
    two = pair(states["meets"].adjustment, "T1", "T2")
    said = text(show_pair(states["meets"], two, HEADING))
    joined = " ".join(said.split())
    radius = np.ceil(two.circle * 1000)
    assert (
        "19 times in 20 the true spot of T2, as seen from T1, lies within "
        f"{radius:.0f} mm of where we say; blunders not counted." in joined
    )
    assert "accura" not in said
    assert pair_object(states["meets"], two, joined)["slope_distance_m"] == (
        pytest.approx(np.sqrt(200**2 + 900**2 + 3**2), abs=0.01)
    )


def test_lengths_are_printed_in_the_foot_of_the_job(states):
    """By exact fractions: 0.3048 m and 1200/3937 m (NIST SP 811)."""
    assert Units("ift").coordinate(0.3048) == "1.0000"
    assert Units("sft").coordinate(1200.0) == "3937.0000"
    assert Units("m").coordinate(-0.00004) == "0.0000"
    international, survey_foot = (
        text(adjust_document(states["meets"], replace(HEADING, unit=unit)))
        for unit in ("ift", "sft")
    )
    for said, unit in ((international, "ift"), (survey_foot, "sft")):
        assert f"({unit})" in said
        assert "mm" not in said
    north = states["meets"].network.frame.grid(states["meets"].marks.xyz)[2, 0]
    exact = Fraction(float(north)) / Fraction(3048, 10000)
    assert f"{float(exact):.4f}" in international


def test_vial_shows_the_verdict_without_colour():
    assert [vial_text(Vial(verdict)) for verdict in SAID] == [
        "[ o ]",
        "[   o",
        "[   ] o",
        "[   ]",
    ]
    inside = [bubble_at(Vial("meets", place)) for place in (0.0, 0.5, 1.0)]
    assert inside == sorted(inside)
    assert inside[-1] < bubble_at(Vial("query")) < bubble_at(Vial("fails"))
    assert bubble_at(Vial("fails", low=True)) < bubble_at(Vial("query", low=True))
    assert bubble_at(Vial("unchecked")) is None


def test_angles_carry_into_minutes_and_degrees():
    assert sexagesimal(59.999999999) == "60° 00′ 00.0″"
    assert sexagesimal(-0.5, letters="NS") == "0° 30′ 00.0″ S"
    assert number(-0.04, "small mm") == "0.0"


def test_a_wide_table_is_folded_with_its_first_column_again():
    columns = (
        Column("station", number=False),
        *(Column(f"n{k} (m)") for k in range(9)),
    )
    row = Row(("T1", *["123456789.0123"] * 9))
    said = text(Document("", (Section("", (Table("wide", columns, (row,)),)),)))
    assert max(map(len, said.splitlines())) <= 80
    assert said.count("T1") == 3
    assert said.count("123456789.0123") == 9


def test_parts_stand_in_columns():
    facts = Facts((("short", "one"), ("rather longer", "two")))
    line = VerdictLine("input", Vial("meets"), "1", "none")
    said = text(Document("", (Section("", (facts, line)),))).splitlines()
    assert said[0].index("one") == said[1].index("two")
    assert "[   o   ]" in said[2]


@pytest.mark.parametrize("form", ["png", "svg"])
def test_plot_is_the_same_bytes_every_time(states, form):
    from brasscap.reports.plots import network_plot

    made = network_plot(states["meets"].adjustment, form)
    assert made == network_plot(states["meets"].adjustment, form)
    assert b"PNG" in made[:8] if form == "png" else b"<svg" in made


def test_plot_draws_the_ellipses_as_large_as_it_says(states):
    from matplotlib.patches import Ellipse

    from brasscap.reports.plots import network_figure

    judged = states["meets"]
    (axes,) = network_figure(judged).axes
    factor = float(axes.get_title().split("×")[1])
    drawn = [patch for patch in axes.patches if isinstance(patch, Ellipse)]
    expected = judged.marks.semi_major[judged.marks.semi_major > 0]
    heights = [patch.get_height() for patch in drawn]
    assert heights == pytest.approx(list(2 * factor * expected))
    assert {note.get_text() for note in axes.texts} == set(MARKS)


def test_reading_the_modules_does_not_import_matplotlib():
    code = (
        "import sys, brasscap.reports.html, brasscap.reports.text, "
        "brasscap.reports.content_report, brasscap.reports.objects, "
        "brasscap.reports.plots; "
        "print([m for m in ('matplotlib', 'scipy', 'jinja2') if m in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert run.stdout == "[]\n", run.stderr


TESTS = Path(__file__).parent


def test_textbook_network_is_printed_as_published():
    """The case file names book and chapter; every published digit must be there."""
    name = "gnss_textbook_two_control_13_vectors"
    expected = json.loads((TESTS / f"cases/{name}.json").read_text("utf-8"))["expected"]
    network = load(TESTS / "jobs" / name).network
    document = adjust_document(judge(estimate(network, "constrained")), HEADING)
    (marks,) = [t for t in tables_of(document) if t.caption.startswith("marks")]
    printed = {row.cells[0]: row.cells[2:5] for row in marks.rows}
    for station, xyz in expected["xyz"].items():
        assert [float(c.replace("−", "-")) for c in printed[station]] == xyz
    said = text(document)
    assert f"{expected['s0_sq']:.4f}" in said
    assert f"{expected['dof']} degrees of freedom" in said
    assert max(map(width, said.splitlines())) <= 80


@pytest.mark.parametrize("mode", ["minimal", "constrained", "free"])
def test_example_job_fits_a_terminal_and_its_page_holds_together(mode):
    loaded = load(Path(str(files("brasscap.networks") / "examples" / "harbour")))
    judged = judge(estimate(loaded.network, mode))
    assert max(map(width, text(adjust_document(judged, HEADING)).splitlines())) <= 80
    page = Page(html(report_document(judged, HEADING)))
    assert {link[1:] for link in page.links} <= set(page.ids)
    assert len(page.ids) == len(set(page.ids))


def test_known_minus_survey_is_3_mm_east_and_nothing_else():
    """Without misfits the survey is exact; PILLAR 2 was booked 3 mm too far east."""
    exact = [(start, end, (0, 0, 0)) for start, end, _ in CHECKED]
    judged = judge(estimate(survey(baselines=exact), "minimal"))
    document = adjust_document(judged, HEADING)
    (known,) = [t for t in tables_of(document) if "known minus survey" in t.caption]
    heads = [column.head for column in known.columns]
    (row,) = known.rows
    said = dict(zip(heads, row.cells, strict=True))
    assert (said["station"], said["use in control"]) == ("PILLAR 2", "weighted")
    assert [said[f"{axis} (mm)"] for axis in ("north", "east", "up")] == [
        "0.0",
        "3.0",
        "0.0",
    ]
    # Much too good to be true: the bubble is on the left line.
    assert re.search(r"variance factor +o {7}\] +0\.0000 +query", text(document))
    made = adjust_object(judged)["known_minus_survey"][0]["difference_enu_mm"]
    assert made == pytest.approx([3.0, 0.0, 0.0], abs=1e-3)


@pytest.mark.parametrize(
    ("kind", "shift", "said"),
    [
        ("set-up height", (np.nan, np.nan, 0.026), "height booked 26 mm too large"),
        ("set-up", (0.001, 0.002, -0.026), "height booked 26 mm too small"),
        ("set-up", (-0.012, 0.002, 0.003), "booked 12 mm too far west"),
        ("baseline", (0.001, 0.030, 0.003), "end booked 30 mm too far north"),
        ("baseline", (0.001, 0.003, -0.040), "end booked 40 mm too low"),
        ("known mark height", (np.nan, np.nan, 0.009), "booked 9 mm too high"),
        ("baseline", (np.nan, np.nan, np.nan), ""),
    ],
)
def test_signs_are_said_in_words(kind, shift, said):
    assert shift_words(kind, np.array(shift), Units("m")) == said


def test_a_blunder_is_said_as_it_was_planted(states):
    """60 mm too large at O8: that way, and about that much, less what O4 takes."""
    tests = states["fails"].tests
    at = next(i for i in tests.order() if tests.name[i] == "O8")
    row = [
        row.cells
        for row in tables_of(adjust_document(states["fails"], HEADING))[0].rows
        if str(row.cells[0]).startswith(f"{tests.kind[at]} O8")
    ]
    size = re.search(r"height booked (\d+) mm too large", str(row[0][-1]))
    assert 50 <= int(size[1]) <= 60


@pytest.mark.parametrize(
    ("kind", "value", "measure", "said"),
    [
        ("slope distance", 0.026, "m", "booked 26 mm too long"),
        ("horizontal distance", -0.026, "m", "booked 26 mm too short"),
        ("level difference", -0.002, "m", "rise booked 2 mm too small"),
        ("direction", np.radians(10 / 3600), "rad", "booked 10.0″ too large"),
        ("parameter", 0.3, "coefficient", "prior stated 0.300 too large"),
        ("parameter", -2.1e-6, "ratio", "prior stated 2.1 ppm too small"),
        ("level difference", 0.0004, "m", "rise booked 0.4 mm too large"),
    ],
)
def test_a_reading_is_said_in_its_own_unit(kind, value, measure, said):
    shift = np.array([value, np.nan, np.nan])
    assert shift_words(kind, shift, Units("m"), measure) == said


def sighted():
    """The survey with two sights from O1 over PILLAR 1, one of them left out."""
    network = survey()
    at, to = np.full(2, len(MARKS)), np.array([2, 3])
    ends = PLACES[[2, 3]] - PLACES[0] + [0, 0, 1.5]
    distances = Sights(
        "slope distance", ("D1", "D2"), at, to, np.full(2, -1), np.full(2, 1.5),
        np.full(2, 3.0), np.zeros(2), np.linalg.norm(ends, axis=1), np.full(2, 0.002),
        np.full((2, 2), -1), np.zeros(2), np.array([True, False]), np.array([2, 3]),
    )  # fmt: skip
    return replace(network, sights=(distances,))


def test_sights_are_listed_drawn_and_linked():
    judged = judge(estimate(sighted(), "constrained"))
    document = report_document(judged, HEADING)
    page = Page(html(document))
    assert {link[1:] for link in page.links} <= set(page.ids)
    assert len(page.ids) == len(set(page.ids))
    lines = ("sights PILLAR 1 – T1", "sights PILLAR 1 – T2")
    assert {anchor("map", line) for line in lines} <= set(page.ids)
    (sights,) = [t for t in tables_of(document) if t.caption.startswith("slope")]
    heads = [column.head for column in sights.columns]
    assert heads[:4] == ["slope distance", "booked (m)", "residual (mm)", "redundancy"]
    # √(300² + 600² + 2.5²) m
    assert sights.rows[0].cells[:2] == ("D1 PILLAR 1 – T1", "670.8251")
    assert sights.rows[1].cells[2] == "left out"
    made = adjust_object(judged)["observations"]
    (one,) = [o for o in made if o["kind"] == "slope distance"]
    assert {"shift_value_mm", "smallest_detectable_mm", "residual_m"} <= set(one)
    assert one["shift_enu_mm"] == [None, None, None]
