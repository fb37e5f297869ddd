"""The map: every shape asked for what it says."""

import re
import xml.etree.ElementTree as ET
from math import cos, hypot, radians, sin

import numpy as np
import pytest

from brasscap.reports.drawing import NAMED_AT_MOST, network_map
from brasscap.reports.drawing_labels import place_labels
from brasscap.reports.drawing_view import (
    WIDTH,
    DrawnLine,
    DrawnMark,
    exaggeration,
    round_down,
    steps,
    view,
    weight,
)

HELD = DrawnMark("HELD", 0.0, 0.0, "held", True, 0.0, 0.0, 0.0, "a", "mark-HELD")
# 30° from north, twice as long as wide.
NEW = DrawnMark(
    "NEW", 800.0, 300.0, "new", True, 0.010, 0.005, radians(30), "b", "mark-NEW"
)
SOFT = DrawnMark(
    "SOFT", 100.0, 600.0, "weighted", True, 0.004, 0.004, 0.0, "c", "mark-SOFT"
)
SEEN = DrawnMark(
    "SEEN", 700.0, 700.0, "check-only", True, 0.004, 0.004, 0.0, "d", "mark-SEEN"
)
LOOSE = DrawnMark(
    "<LOOSE>", 400.0, 0.0, "new", False, 0.008, 0.008, 0.0, "<e>", "mark-LOOSE"
)
MARKS = [HELD, NEW, SOFT, SEEN, LOOSE]


def line(name, start, end, smallest, used=True):
    return DrawnLine(
        "baseline", name, start, end, smallest, used, name, f"observation-{name}"
    )


LINES = [
    line("B1", 0, 1, 0.012),
    line("B2", 1, 3, 0.022),
    line("B3", 2, 3, 0.048),
    line("B4", 0, 4, float("nan")),
    line("B5", 2, 0, float("nan"), used=False),
]


@pytest.fixture(scope="module")
def drawn():
    svg, caption = network_map(MARKS, LINES)
    return ET.fromstring(svg), caption


def link(drawn, name):
    (found,) = [a for a in drawn[0].iter("a") if a.get("id") == f"map-{name}"]
    return found


def classes(element):
    return [part.get("class") for part in element.iter() if part.get("class")]


def test_known_marks_are_triangles_and_new_ones_circles(drawn):
    shapes = {
        name: [
            (p.tag, p.get("class"))
            for p in link(drawn, f"mark_20_{name}").iter("g")
            for p in list(p)
        ]
        for name in ("HELD", "SOFT", "SEEN", "NEW", "_3c_LOOSE_3e_")
    }
    assert shapes == {
        "HELD": [("path", "full")],
        "SOFT": [("path", "open"), ("path", "full")],
        "SEEN": [("path", "open")],
        "NEW": [("circle", "full")],
        "_3c_LOOSE_3e_": [("circle", "open")],
    }


def test_a_half_triangle_covers_the_left_half(drawn):
    whole, half = link(drawn, "mark_20_SOFT").find("g")
    top, corner = (re.match(r"M([\d.]+) ([\d.]+)", p.get("d")) for p in (whole, half))
    assert top.groups() == corner.groups()
    assert half.get("d").endswith("v16h-9.5z")


def test_lines_are_heavier_the_more_they_would_let_pass(drawn):
    kinds = [classes(link(drawn, f"baseline_20_B{k}"))[1:] for k in (1, 2, 3)]
    assert kinds == [["line light"], ["line middle"], ["line heavy"]]
    assert classes(link(drawn, "baseline_20_B4"))[1:] == ["line hollow", "core"]
    assert classes(link(drawn, "baseline_20_B5"))[1:] == ["line left-out", "cross"]


def test_caption_explains_all_that_is_drawn(drawn):
    _, caption = drawn
    lower, upper = steps(LINES)
    assert f"light up to {1000 * lower:g} mm, middle up to {1000 * upper:g}" in caption
    assert "Hollow line: nothing checks it." in caption
    assert "left out by decision" in caption
    assert "Ellipses 95 %" in caption
    plain, said = network_map(MARKS, LINES[:3])
    assert "Hollow" not in said
    assert "left out" not in said
    assert 'class="core"' not in plain


def test_steps_are_round_and_part_the_lines_in_three():
    lower, upper = steps(LINES)
    assert 0.012 <= lower < 0.022 <= upper < 0.048
    assert (1000 * lower) % 5 == 0
    assert (1000 * upper) % 5 == 0
    assert weight(line("x", 0, 1, lower), (lower, upper)) == "light"


def test_ellipse_is_as_large_and_turned_as_it_says(drawn):
    scale = view(MARKS).scale
    factor = exaggeration(MARKS, scale)
    assert round_down(factor) == factor
    shape = [
        e for e in drawn[0].iter("ellipse") if "rotate(30.00" in e.get("transform")
    ]
    (shape,) = shape
    assert float(shape.get("ry")) == pytest.approx(0.010 * factor * scale, abs=0.01)
    assert float(shape.get("rx")) == pytest.approx(0.005 * factor * scale, abs=0.01)
    # The end of the semi-major axis: SVG turns clockwise, its y is down.
    turned = radians(30)
    end = (sin(turned) * float(shape.get("ry")), -cos(turned) * float(shape.get("ry")))
    assert end[0] > 0 > end[1]
    assert f"drawn {factor:,.0f}".replace(",", "\N{NO-BREAK SPACE}") in drawn[1]


def test_a_held_mark_has_no_ellipse(drawn):
    assert len(list(drawn[0].iter("ellipse"))) == len(MARKS) - 1


def test_two_scale_bars_are_as_long_as_they_say(drawn):
    scale = view(MARKS).scale
    factor = exaggeration(MARKS, scale)
    bars = [p for p in drawn[0].iter("path") if p.get("class") == "bar"]
    long = [
        float(m[1]) for m in (re.search(r"h([\d.]+)m", p.get("d")) for p in bars) if m
    ]
    said = [t.text for t in drawn[0].iter("text") if t.get("class") == "small"]
    ground = next(s for s in said if "on the ground" in s)
    ellipse = next(s for s in said if "of an ellipse" in s)
    metres, millimetres = float(ground.split()[0]), float(ellipse.split()[0])
    assert long[0] == pytest.approx(metres * scale, abs=0.1)
    assert long[1] == pytest.approx(millimetres / 1000 * scale * factor, abs=0.1)


def test_north_is_up_and_the_scale_is_one(drawn):
    seen = view(MARKS)
    at = np.array([seen.at(m.east, m.north) for m in MARKS])
    ground = np.array([[m.east, m.north] for m in MARKS])
    assert hypot(*(at[1] - at[0])) == pytest.approx(
        seen.scale * hypot(*(ground[1] - ground[0]))
    )
    assert at[2][1] < at[0][1]
    assert at[1][0] > at[0][0]
    assert (at >= 0).all()
    assert (at <= [WIDTH, seen.height]).all()


def test_every_mark_and_line_has_a_title_and_leads_to_its_row(drawn):
    links = list(drawn[0].iter("a"))
    assert len(links) == len(MARKS) + len(LINES)
    for one in links:
        assert one.find("title").text == one.get("aria-label")
        assert one.get("href").startswith("#")
        assert "touch" in classes(one)
    assert link(drawn, "mark_20__3c_LOOSE_3e_").find("title").text == "<e>"


def test_repeated_lines_lie_beside_each_other():
    svg, _ = network_map(MARKS, [line("B1", 0, 1, 0.01), line("B2", 1, 0, 0.01)])
    paths = [
        p.get("d") for p in ET.fromstring(svg).iter("path") if p.get("class") == "touch"
    ]
    bends = [re.search(r"Q([\d.]+) ([\d.]+)", path).groups() for path in paths]
    apart = np.array(bends, dtype=float)
    assert hypot(*(apart[0] - apart[1])) == pytest.approx(32, abs=0.5)


def test_a_mark_that_nothing_reaches_is_left_off():
    nan = float("nan")
    lost = DrawnMark("LOST", nan, nan, "new", False, nan, nan, nan, "x", "mark-LOST")
    svg, _ = network_map([*MARKS, lost], [*LINES, line("B6", 0, 5, nan, used=False)])
    assert "LOST" not in svg
    assert "B6" not in svg
    assert "nan" not in svg


def test_one_mark_alone_can_be_drawn():
    svg, _ = network_map([HELD], [])
    assert len(list(ET.fromstring(svg).iter("a"))) == 1


def test_labels_keep_off_each_other():
    places = [(100.0, 100.0), (130.0, 104.0), (400.0, 300.0)]
    boxes = [x.box for x in place_labels(["LONG NAME", "B", "C"], places, [], WIDTH)]
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def test_of_very_many_marks_only_the_known_are_named():
    rng = np.random.default_rng(1)
    many = [
        DrawnMark(f"T{k}", x, y, "new", True, 0.01, 0.01, 0.0, f"T{k}", f"mark-T{k}")
        for k, (x, y) in enumerate(rng.uniform(0, 1000, (NAMED_AT_MOST + 1, 2)))
    ]
    svg, caption = network_map([HELD, *many], [])
    named = [t.text for t in ET.fromstring(svg).iter("text") if not t.get("class")]
    assert named == ["HELD"]
    assert "Not every mark is named" in caption


@pytest.mark.parametrize(
    ("value", "expected"), [(1.0, 1.0), (4.99, 2.0), (720.0, 500.0), (0.037, 0.02)]
)
def test_round_down(value, expected):
    assert round_down(value) == expected


def test_a_name_that_would_cover_others_is_left_out():
    places = [(100.0 + k % 3, 100.0 + k // 3) for k in range(12)]
    names = [f"CROWDED {k}" for k in range(12)]
    labels = place_labels(names, places, [], WIDTH)
    assert 1 <= len(labels) < len(names)
