"""What a person reads, against files that a person has read, and against itself.

The survey is made up: four marks on a site grid, every misfit written out below in
whole millimetres. It is no check of the arithmetic; that is done elsewhere.
"""

import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.precision import pair
from brasscap.networks import (
    Finding,
    KnownMarks,
    LocalFrame,
    Marks,
    Network,
    Positions,
    SetUps,
    Vectors,
    name_queries,
)
from brasscap.networks.covariances import single
from brasscap.reports.content import adjust_document
from brasscap.reports.content_check import check_document, status_document
from brasscap.reports.content_report import report_document
from brasscap.reports.content_show import (
    show_baseline,
    show_mark,
    show_pair,
    show_set_up,
)
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
)
from brasscap.reports.heading import DecisionLine, Heading
from brasscap.reports.html import html
from brasscap.reports.judged import brought_back, judge
from brasscap.reports.objects import adjust_object, check_object, dump, pair_object
from brasscap.reports.rounding import Lengths, number, sexagesimal
from brasscap.reports.text import text, width
from brasscap.reports.vial import SAID, bubble_at, vial_text

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
# Two set-ups over each of the first four marks, sessions S1 and S2; one over the last.
SET_UPS = [(0, 0), (1, 0), (2, 0), (3, 0), (0, 1), (1, 1), (2, 1), (3, 1), (4, 1)]
# From, to (set-ups), misfit east, north, up in mm.
BASELINES = [
    (0, 1, (2, -1, 3)),
    (1, 2, (-1, 2, -4)),
    (2, 0, (1, 1, 2)),
    (3, 0, (-2, 0, 5)),
    (3, 1, (0, -3, -2)),
    (4, 6, (1, 2, -3)),
    (6, 5, (-2, -1, 4)),
    (7, 4, (3, 0, -1)),
    (5, 7, (-1, 1, 2)),
    (5, 8, (0, 0, 0)),
]
HEADING = Heading(
    title="Mill Lane",
    surveyor="A. N. Example",
    licence="none",
    input_hash="0123456789abcdef0123",
    versions=(("brasscap", "0.0"),),
)


def known_marks():
    """The first mark held, the second weighted and booked 3 mm too far east."""
    xyz = PLACES[:2] + [[0.0, 0.0, 0.0], [0.003, 0.0, 0.0]]
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
    "meets": survey(baselines=BASELINES[:-1] + [(5, 8, (0, 0, 0)), (6, 8, (1, 0, 2))]),
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
