"""What ``run`` says of its solutions: the largest finding, and each in short."""

from typing import TYPE_CHECKING

from brasscap.arguments import Request

if TYPE_CHECKING:
    from brasscap.io.tables.load import Loaded
    from brasscap.queries import Queries
    from brasscap.reports.document import Section
    from brasscap.reports.judged import Judged
    from brasscap.reports.rounding import Units

_NEARLY_OVER = 1 - 1e-5


def title_of(loaded: "Loaded", solutions: "dict[str, Judged]") -> str:
    """Return the job's name and the worst verdict of its solutions."""
    from brasscap.reports.judged import worst

    name = loaded.job.title or loaded.folder.resolve().name
    if not solutions:
        return f"{name}: the input can be used"
    return f"{name}: {worst({judged.verdict for judged in solutions.values()})}"


def sections_of(
    request: Request,
    loaded: "Loaded",
    solutions: "dict[str, Judged]",
    queries: "Queries",
) -> "list[Section]":
    """Return what is open, the largest finding, and each solution in short."""
    from brasscap.failures import counted
    from brasscap.reports.document import Paragraph, Section

    asked = [q.name for q in queries.open if q.source == "check"]
    said = "input: no fault, no open query"
    if asked:
        count = counted(len(asked), "open query", "open queries")
        said = f"input: no fault, {count} ({', '.join(asked)})"
    others = len(queries.open) - len(asked)
    if others:
        count = counted(others, "open query", "open queries")
        said += f"; results: {count}; all of them:  brasscap"
    found = headline(request, loaded, solutions, queries)
    lines = [Paragraph(said)]
    if found:
        lines.append(Paragraph(f"largest finding: {found}"))
    sections = [Section("", tuple(lines))]
    for judged in solutions.values():
        sections.append(_solution(request, loaded, judged))
    return sections


def _solution(request: Request, loaded: "Loaded", judged: "Judged") -> "Section":
    """Return one solution: what its tests say; the constrained one with its marks."""
    from brasscap.queries import units_of
    from brasscap.reports.content import largest_table, title
    from brasscap.reports.content_heights import heights_table
    from brasscap.reports.content_marks import (
        counts,
        geodetic_table,
        known_table,
        marks_table,
    )
    from brasscap.reports.content_tests import could_hide, variance_factor_line
    from brasscap.reports.document import Paragraph, Part, Section

    units = units_of(request, loaded)
    parts: list[Part | None] = [
        Paragraph(counts(judged)),
        variance_factor_line(judged),
        could_hide(judged, units),
        largest_table(judged, units),
    ]
    if judged.adjustment.datum.mode == "constrained":
        parts += [known_table(judged, units), marks_table(judged, units)]
        if not judged.network.frame.has_grid:
            parts.append(geodetic_table(judged, units))
        parts.append(heights_table(judged, units))
    return Section(title(judged), tuple(part for part in parts if part is not None))


def largest(solutions: "dict[str, Judged]") -> "tuple[Judged, int] | None":
    """Return the largest finding, a solution and the row of its tests; None if none.

    The minimal solution comes first: there the known marks cannot bend what the
    observations say of each other. What fails comes before what is a query.
    """
    for judged in solutions.values():
        tests = judged.tests
        order = tests.order()
        # Only what is over its limit, to rounding, is one of them.
        order = order[tests.basis.test[order] > _NEARLY_OVER].tolist()
        for verdict in ("fails", "query"):
            for i in order:
                if tests.verdict[i] == verdict:
                    return judged, i
    return None


def headline(
    request: Request,
    loaded: "Loaded",
    solutions: "dict[str, Judged]",
    queries: "Queries",
) -> str:
    """Return the largest finding in words: a cause where one leads, else a test."""
    from brasscap.networks.queries import leading_cause
    from brasscap.queries import units_of

    found = largest(solutions)
    said = found_words(loaded, found, units_of(request, loaded))
    test = 0.0 if found is None else float(found[0].tests.basis.test[found[1]])
    cause = leading_cause(queries.all, test)
    if cause is None:
        return said
    first = f"{cause.about}: {cause.said} (query {cause.name})"
    if not said:
        return first
    return f"{first}; the largest single test, {test:.2f}, is of {said}"


def found_words(
    loaded: "Loaded", found: "tuple[Judged, int] | None", units: "Units"
) -> str:
    """Return the largest finding in words, with an open query about the same thing."""
    from brasscap.reports.words import shift_words

    if found is None:
        return ""
    judged, i = found
    tests, kind = judged.tests, judged.tests.kind[i]
    words = shift_words(kind, tests.tests.shift[i], units, tests.measure[i])
    # "height of set-up …" says it where the sentence does not.
    what = kind.removesuffix(" height") if "height" in words else kind
    said = f"{what} {tests.about[i]}: {words}{_twins(judged, i)}"
    return said + _query_about(loaded, f"{what} {tests.name[i]}")


def _twins(judged: "Judged", i: int) -> str:
    """Return what tests exactly as large: the residuals cannot tell it apart."""
    import numpy as np

    tests = judged.tests
    own = tests.basis.test[i]
    near = np.flatnonzero(np.abs(tests.basis.test - own) < 1e-6 * own).tolist()
    equal = [k for k in near if tests.kind[k] == tests.kind[i] and k != i]
    if not equal:
        return ""
    named = ", ".join(tests.name[k] for k in equal[:3])
    more = f" and {len(equal) - 3} more" if len(equal) > 3 else ""
    return f"; or {named}{more}, which cannot be told from it"


def _query_about(loaded: "Loaded", thing: str) -> str:
    for finding in loaded.findings:
        about = f"{finding.about},"
        if finding.query and finding.is_open and about.startswith(f"{thing},"):
            return f"; query {finding.query} is about it too ({finding.slug})"
    return ""
