"""The verdict lines at the head of a report."""

from collections.abc import Sequence

import numpy as np

from ..networks.queries import Query, leading_cause
from .content_check import input_line
from .content_spec import Held
from .content_spec import verdict_lines as specification_lines
from .content_tests import could_hide, finding_words, thing_of, variance_factor_line
from .document import Part, VerdictLine, Vial
from .heading import Heading
from .judged import Judged, worst
from .rounding import Units, number
from .words import MODES, test_basis

_AS_WELL = 0.999
"""Share of the largest test above which another cause explains it just as well."""


def verdict_lines(
    judged: Judged,
    minimal: Judged | None,
    heading: Heading,
    units: Units,
    queries: Sequence[Query] = (),
    specified: Held | str | None = None,
) -> tuple[Part, ...]:
    """Return every verdict of a report, a line each; the evidence stands beside it.

    Parameters
    ----------
    judged : Judged
        The solution that is handed over.
    minimal : Judged or None
    heading : Heading
    units : Units
    queries : sequence of Query
        All of the job.
    specified : Held or str, optional
        The specifications held against the solutions, or why they cannot be.
    """
    parts: list[Part] = [mode_line(one) for one in (minimal, judged) if one is not None]
    parts += cause_lines(judged, queries)
    parts.append(blunder_line(judged, units))
    if minimal is not None and len(minimal.known.station):
        parts.append(control_line(minimal))
    parts += left_out_lines(judged, queries)
    parts += spec_lines(specified, units)
    parts += [checked_line(judged), input_line(heading.findings)]
    parts.append(could_hide(judged, units))
    return tuple(parts)


def mode_line(judged: Judged) -> VerdictLine:
    """Return the test of the variance factor and of which solution it is."""
    line = variance_factor_line(judged)
    mode = MODES[judged.adjustment.datum.mode].lower()
    return VerdictLine(line.what, line.vial, line.value, f"{line.evidence}; {mode}")


def cause_lines(judged: Judged, queries: Sequence[Query]) -> list[VerdictLine]:
    """Return the suspected cause, where its test is clearly above all single ones."""
    tests = judged.tests.basis.test
    cause = leading_cause(queries, float(np.nanmax(tests, initial=0.0)))
    if cause is None:
        return []
    return [
        VerdictLine(
            "suspected cause",
            Vial(cause.verdict, cause.test),
            number(cause.test, "test"),
            f"{cause.about}: {cause.said}; query {cause.name}; a cause explains many "
            "observations at once, and the largest test below is one of them alone",
        )
    ]


def blunder_line(judged: Judged, units: Units) -> VerdictLine:
    """Return the largest blunder test as one verdict line."""
    tests = judged.tests
    basis_words = test_basis(judged.network.options, None)
    at = [int(i) for i in tests.order() if tests.verdict[i] != "unchecked"]
    if not at:
        return VerdictLine(
            "blunder tests", Vial("unchecked"), "", "nothing can be tested"
        )
    verdicts = [tests.verdict[i] for i in at]
    verdict = next((v for v in ("fails", "query") if v in verdicts), "meets")
    largest = float(tests.basis.test[at[0]])
    over = sum(v != "meets" for v in verdicts)
    evidence = f"{over} of {len(at)} tests over the limit 1" if over else "limit 1"
    words = finding_words(judged, at[0], units)
    return VerdictLine(
        "largest test",
        Vial(verdict, largest),
        number(largest, "test"),
        f"{words}{_twins(judged, at)}; {evidence}; {basis_words}",
    )


def _twins(judged: Judged, order: Sequence[int]) -> str:
    """Return what explains the misfit just as well as the largest test does."""
    tests = judged.tests
    first = thing_of(tests.kind[order[0]], tests.name[order[0]])
    least = _AS_WELL * float(tests.basis.test[order[0]])
    things = [
        thing_of(tests.kind[i], tests.name[i])
        for i in order
        if float(tests.basis.test[i]) > least
    ]
    others = [thing for thing in dict.fromkeys(things) if thing != first]
    if not others:
        return ""
    more = f" and {len(others) - 3} more" if len(others) > 3 else ""
    return f"; just as well explained by {', '.join(others[:3])}{more}"


def checked_line(judged: Judged) -> VerdictLine:
    """Return whether every new mark is checked."""
    held = judged.held.any(axis=1)
    new = np.flatnonzero(~held)
    both = judged.all_checked[new]
    loose = [judged.network.marks.name[i] for i in new[~both]]
    if not loose:
        return VerdictLine(
            "marks checked", Vial("meets"), f"{len(new)}", "every mark not held"
        )
    return VerdictLine(
        "marks checked",
        Vial("unchecked"),
        "",
        f"{int(both.sum())} of {len(new)} checked in full; an error could hide at "
        f"{', '.join(loose)}",
    )


def spec_lines(specified: Held | str | None, units: Units) -> list[VerdictLine]:
    """Return precision and reliability of each specification with limits."""
    if specified is None:
        return []
    if isinstance(specified, str):
        said = f"cannot be judged: {specified}"
        return [VerdictLine("specification", Vial("unchecked"), "", said)]
    lines = specification_lines(specified, units)
    return [line for line in lines if isinstance(line, VerdictLine)]


def left_out_lines(judged: Judged, queries: Sequence[Query]) -> list[VerdictLine]:
    """Return whether each known mark agrees with the solution without it; or nothing.

    The queries about known marks speak of this solution, so they stand here: marks
    that agree with one held mark within its limits may still bend what is handed over.
    """
    tests = judged.tests
    at = [i for i, kind in enumerate(tests.kind) if kind.startswith("known mark")]
    asked = [query for query in queries if query.slug == "known-mark-differs"]
    if not at and not asked:
        return []
    verdict = worst({tests.verdict[i] for i in at} | {one.verdict for one in asked})
    mode = judged.adjustment.datum.mode
    said = ["each known mark in use against the solution without it, limit 1"]
    tested = [i for i in at if np.isfinite(tests.basis.test[i])]
    largest = max(tested, key=lambda i: float(tests.basis.test[i]), default=None)
    test = float("nan") if largest is None else float(tests.basis.test[largest])
    if largest is not None:
        said.append(f"largest at {thing_of(tests.kind[largest], tests.name[largest])}")
    if asked:
        said.append(f"query {', '.join(one.name for one in asked)}")
    vial = Vial(verdict) if largest is None else Vial(verdict, test)
    figure = "" if largest is None else number(test, "test")
    return [VerdictLine(f"control, {mode}", vial, figure, "; ".join(said))]


def control_line(minimal: Judged) -> VerdictLine:
    """Return whether the known marks agree with each other through the survey."""
    known = minimal.known
    at = int(np.argmax(known.test))
    verdict = worst(set(known.verdict))
    largest = float(known.test[at])
    return VerdictLine(
        "control, minimal",
        Vial(verdict, largest),
        number(largest, "test"),
        f"known minus survey, limit 1; largest at {known.station[at]}; "
        f"{MODES['minimal'].lower()}, {minimal.adjustment.datum.text}",
    )
