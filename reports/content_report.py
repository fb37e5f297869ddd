"""The report: every section of the document that is handed over."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from .content import basis, largest_table, title
from .content_heights import heights_table
from .content_loops import loops_parts
from .content_map import map_figure
from .content_marks import counts, geodetic_table, known_table, marks_table
from .content_observations import (
    brought_back_table,
    decisions_table,
    observations_table,
    set_ups_table,
    vectors_table,
)
from .content_parameters import parameters_table
from .content_queries import queries_table
from .content_readings import readings_tables
from .content_spec import Held, spec_parts
from .content_tests import (
    blind_table,
    could_hide,
    tests_table,
    variance_factor_line,
)
from .content_topo_report import topo_sections
from .content_verdicts import verdict_lines
from .content_weights import weights_parts
from .document import (
    Document,
    Facts,
    Found,
    Paragraph,
    Part,
    Section,
)
from .glossary import CAUTIONS, GLOSSARY
from .heading import Heading
from .judged import BroughtBack, Judged
from .rounding import Units, number, percent
from .words import (
    frame_words,
    multiplier_words,
    set_up_words,
    test_basis,
)

if TYPE_CHECKING:
    from ..adjust.follow.topo import Topo
    from ..adjust.judge.closures import Closures
    from ..networks.queries import Query
    from .words_weights import Weighed

_TOO_SMALL = 1e-4
"""m; a neglected correction below it is not printed."""
_WORST = 12
"""Set-ups listed among what could hide; the others are in the table of every test."""


def report_document(
    judged: Judged,
    heading: Heading,
    *,
    minimal: Judged | None = None,
    back: Sequence[BroughtBack] = (),
    closed: "Closures | None" = None,
    queries: "Sequence[Query]" = (),
    specified: "Held | str | None" = None,
    topo: "Topo | str | None" = None,
    weighed: "Weighed | str | None" = None,
) -> Document:
    """Return the whole report.

    Parameters
    ----------
    judged : Judged
        The solution that is handed over.
    heading : Heading
    minimal : Judged, optional
        The minimal solution, which tests the observations without the known marks.
    back : sequence of BroughtBack
        What the left-out observations would say.
    closed : Closures, optional
        Repeats, loops and sessions, looked at before adjusting.
    queries : sequence of Query
        All of the job, with their states.
    specified : Held or str, optional
        The specifications held against the solutions, or why they cannot be.
    topo : Topo or str, optional
        The shots that hang on the solution, judged, or why they cannot be.
    weighed : Weighed or str, optional
        Standard deviations by group as judged, or why they are not.
    """
    units = heading.units
    sections = (
        Section("", (_head(judged, heading),), "head"),
        Section(
            "Verdict",
            verdict_lines(judged, minimal, heading, units, queries, specified),
            "verdict",
        ),
        Section("Map", (map_figure(judged, units),), "map"),
        Section("Variance factor", _factor(judged, minimal), "variance-factor"),
        *_weights(judged, weighed),
        Section("What could hide", _hidden(judged, units), "hidden"),
        Section("Queries", (queries_table(queries, heading),), "queries"),
        Section("Decisions", _decisions(judged, heading, back, units), "decisions"),
        Section("Control", _control(judged, minimal, units), "control"),
        *_specification(specified, units),
        Section("Marks", _marks(judged, units), "marks"),
        Section("Observations", _observations(judged, units), "observations"),
        *_loops(closed, units),
        *_set_ups_section(judged, units),
        *topo_sections(topo, units),
        Section("Method and assumptions", _method(judged, units), "method"),
        Section("Glossary", (Facts(GLOSSARY),), "glossary"),
        Section("Criteria", (Facts(criteria(judged, heading)),), "criteria"),
        Section("Input and versions", (Facts(_origin(heading)),), "origin"),
        Section("Cautions", tuple(Paragraph(c) for c in CAUTIONS), "cautions"),
    )
    foot = f"input {heading.input_hash[:16]}" if heading.input_hash else ""
    return Document(heading.title or "Adjustment", sections, foot)


def _head(judged: Judged, heading: Heading) -> Facts:
    pairs = [
        ("solution", title(judged)),
        ("surveyor in charge", heading.in_charge),
        ("frame", frame_words(judged, heading.unit)),
        ("set-ups, sd", _set_ups(judged, heading)),
        ("input", f"hash {heading.input_hash[:16] or 'not computed'}"),
    ]
    if heading.dated:
        pairs.append(("dated", heading.dated))
    return Facts(tuple(pairs))


def _set_ups(judged: Judged, heading: Heading) -> str:
    said = set_up_words(judged, heading.units)
    return said.removeprefix("set-ups, sd: ") or "none booked"


def _set_ups_section(judged: Judged, units: Units) -> tuple[Section, ...]:
    if judged.dimension == "height" and not len(judged.network.set_ups):
        return ()
    parts = (set_ups_table(judged, units),)
    return (Section("Sessions and set-ups", parts, "set-ups"),)


def _specification(specified: "Held | str | None", units: Units) -> tuple[Section, ...]:
    if specified is None:
        return ()
    if isinstance(specified, str):
        parts: tuple[Part, ...] = (Paragraph(f"It cannot be judged: {specified}."),)
    else:
        parts = spec_parts(specified, units)
    return (Section("Specification", parts, "specification"),)


def _factor(judged: Judged, minimal: Judged | None) -> tuple[Part, ...]:
    parts: list[Part] = []
    for one in (minimal, judged):
        if one is None:
            continue
        vtpv = number(one.variance_factor.vtpv, "limit")
        parts += [
            Paragraph(f"{title(one)}."),
            variance_factor_line(one),
            Paragraph(f"{counts(one)}; vᵀPv {vtpv}."),
        ]
    parts.append(
        Paragraph(
            "The variance factor compares the misfit of all observations together "
            "with what their stated covariances lead one to expect. It is a ratio of "
            "variances. Above its limits something is wrong or was stated too good; "
            "below, something was stated too poor or counted twice.",
            "soft",
        )
    )
    return tuple(parts)


def _weights(judged: Judged, weighed: "Weighed | str | None") -> tuple[Section, ...]:
    if weighed is None:
        return ()
    parts = weights_parts(weighed, judged.network.options.confidence)
    return (Section("Standard deviations by group", parts, "weights"),)


def _hidden(judged: Judged, units: Units) -> tuple[Part, ...]:
    tests = judged.tests
    blind = "unchecked" in tests.verdict
    parts: list[Part] = [could_hide(judged, units)]
    if blind:
        parts.append(blind_table(judged))
    else:
        parts.append(Paragraph("Everything that was tested is checked by the rest."))
    heights = [
        i
        for i, kind in enumerate(tests.kind)
        if kind == "set-up height" and tests.verdict[i] != "unchecked"
    ]
    if heights:
        # To 1 µm, so that equal ones stay in the order of the table everywhere.
        heights.sort(key=lambda i: -round(float(tests.tests.smallest_detectable[i]), 6))
        caption = "heights of set-ups, those that hide most first"
        parts.append(tests_table(judged, heights[:_WORST], caption, units))
    return tuple(parts)


def _decisions(
    judged: Judged, heading: Heading, back: Sequence[BroughtBack], units: Units
) -> tuple[Part, ...]:
    parts: list[Part] = [decisions_table(heading)]
    if back:
        parts.append(brought_back_table(back, left_out(judged), units))
    parts += [Found(f) for f in heading.findings if f.verdict != "note"]
    return tuple(parts)


def left_out(judged: Judged) -> int:
    """Return how many observations decisions have left out."""
    network = judged.network
    used = [network.vectors.used, network.positions.used, network.known.used]
    used += [some.used for some in network.sights]
    if network.levels is not None:
        used.append(network.levels.used)
    return sum(int((~some).sum()) for some in used)


def _control(judged: Judged, minimal: Judged | None, units: Units) -> tuple[Part, ...]:
    tests = judged.tests
    rows = [i for i, kind in enumerate(tests.kind) if kind.startswith("known")]
    parts: list[Part] = []
    for one in (minimal, judged):
        known = known_table(one, units) if one else None
        if one and known:
            parts += [Paragraph(f"{title(one)}."), known]
    if rows:
        parts.append(Paragraph(f"{title(judged)}."))
        parts.append(tests_table(judged, rows, "known marks tested", units))
    return tuple(parts) or (Paragraph("No known mark is compared with the survey."),)


def _marks(judged: Judged, units: Units) -> tuple[Part, ...]:
    parts: list[Part] = [marks_table(judged, units)]
    geodetic = geodetic_table(judged, units)
    if geodetic:
        parts.append(geodetic)
    heights = heights_table(judged, units)
    return (*parts, heights) if heights else tuple(parts)


def _observations(judged: Judged, units: Units) -> tuple[Part, ...]:
    parts = [largest_table(judged, units)]
    others = observations_table(judged, units)
    if others.rows:
        parts.append(others)
    if len(judged.network.vectors):
        parts.append(vectors_table(judged, units))
    parts += readings_tables(judged, units)
    parameters = parameters_table(judged, units)
    return (*parts, parameters) if parameters else tuple(parts)


def _loops(closed: "Closures | None", units: Units) -> tuple[Section, ...]:
    if closed is None:
        return ()
    of_readings = (closed.traverses, closed.spreads, closed.reciprocals)
    if not (closed.sessions or closed.loops or closed.too_many or any(of_readings)):
        return ()
    return (Section("Repeats and loops", loops_parts(closed, units), "loops"),)


_SET_UP = (
    "A set-up is an observation: antenna, instrument or target stood over its mark "
    "within its centring, at its height within its reading, and that is tested like a "
    "baseline."
)
_COMPUTED = {
    "space": "Marks are computed in space; the map grid and the foot appear in input "
    f"and output only. {_SET_UP}",
    "plan": "Marks are computed in plan alone: heights are not adjusted. " + _SET_UP,
    "height": "Heights alone are computed, from levelled differences; plan is not "
    "adjusted.",
}
"""What is computed and how, by dimension."""


def _method(judged: Judged, units: Units) -> tuple[Part, ...]:
    options = judged.network.options
    neglected = _neglected(judged, units)
    return (
        Paragraph(
            f"Least squares with the stated covariances. {_COMPUTED[judged.dimension]} "
            "Held coordinates are exact."
        ),
        Paragraph(
            f"Blunders: {test_basis(options, None)}; a test over 1 is a query, and "
            "fails if one as large is less likely than 5 % anywhere in the job. "
            f"{basis(judged).capitalize()}."
        ),
        Paragraph(
            f"Precision is at {percent(options.confidence)}: "
            f"{multiplier_words(judged.marks.multipliers, judged.dimension)}. "
            "Precision says nothing of blunders; reliability is judged apart."
        ),
        Paragraph(counts(judged) + "."),
        *([Paragraph(neglected)] if neglected else []),
    )


def _neglected(judged: Judged, units: Units) -> str:
    """Return how large the orthometric correction is; empty below a tenth of a mm."""
    from ..adjust.judge.orthometric import neglected_corrections

    found = neglected_corrections(judged.adjustment)
    if found is None or found.between < _TOO_SMALL:
        return ""
    most = float(np.abs(found.correction).max())
    return (
        "Levelled rises are used as booked. The orthometric correction −0.0053 · H · "
        "sin 2φ · Δφ, unless it is in them already, would be up to "
        f"{units.small(most)} {units.small_unit} for a run and "
        f"{units.small(found.between)} {units.small_unit} between two marks."
    )


def criteria(judged: Judged, heading: Heading) -> tuple[tuple[str, str], ...]:
    """Return the criteria of the job and when they were set."""
    options = judged.network.options
    return (
        ("confidence", percent(options.confidence)),
        ("significance α of a blunder test", percent(options.outlier_alpha)),
        ("power of a blunder test", percent(options.power)),
        ("ellipses from", options.ellipses_from),
        ("tests from", options.tests_from),
        ("set", heading.criteria_set or "not yet kept with a date"),
    )


def _origin(heading: Heading) -> tuple[tuple[str, str], ...]:
    return (
        ("input hash", heading.input_hash or "not computed"),
        *heading.file_hashes,
        *((file, digest) for file, _, digest in heading.full_tables),
        *heading.versions,
    )
