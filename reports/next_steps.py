"""What to do next: the few command lines that help most, each with its reason."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..networks.queries import Query
from .document import Paragraph
from .judged import Judged

MOST = 3
"""Steps that are told; a longer list is not read."""
_NAMED = 3


@dataclass(frozen=True, slots=True)
class NextStep:
    """One step."""

    command: str
    """As it is typed, without the job's folder: ``brasscap check``."""
    why: str


def next_steps(
    solutions: Mapping[str, Judged],
    queries: Sequence[Query],
    *,
    missing: str = "",
    specified: bool = True,
    page: str = "",
) -> tuple[NextStep, ...]:
    """Return the most useful steps, in order; at least one, at most three.

    What fails with a named cause comes first, then what fails without one, then open
    questions, what nothing checks, and what the job does not state.

    Parameters
    ----------
    solutions : mapping of str to Judged
        ``minimal``, ``constrained``: those that could be made.
    queries : sequence of Query
        All of the job.
    missing : str, optional
        Why a solution could not be made.
    specified : bool, optional
        Whether the job states a specification to meet.
    page : str, optional
        The page that was written.
    """
    ways = open_ones(queries)
    steps = [_missing(missing), _weights(ways, "fails")]
    steps += [*_causes(ways, "fails"), *_misfit(solutions, ways)]
    steps += [_control(ways), *_causes(ways, "query"), _weights(ways, "query")]
    steps += [_input(ways), _loops(ways)]
    steps += [
        _unchecked(solutions, queries),
        _specification(solutions, specified=specified),
    ]
    if not page and solutions:
        steps.append(
            NextStep("brasscap report --html", "one page with all of it, to print")
        )
    steps.append(
        NextStep("brasscap export --csv", "the adjusted control, to hand over")
        if solutions
        else NextStep("brasscap adjust minimal", "the first look at the observations")
    )
    told: dict[str, NextStep] = {}
    for step in steps:
        if step is not None:
            told.setdefault(step.command, step)
    return tuple(told.values())[:MOST]


def open_ones(queries: Sequence[Query]) -> list[Query]:
    """Return the queries that no decision answers."""
    return [query for query in queries if query.state == "open"]


def steps_parts(steps: Sequence[NextStep]) -> list[Paragraph]:
    """Return the steps as lines that can be typed, each with its reason below.

    Examples
    --------
    >>> steps = [NextStep("brasscap check", "2 queries are open")]
    >>> [part.text for part in steps_parts(steps)]
    ['next: brasscap check', '2 queries are open']
    """
    parts = []
    for n, step in enumerate(steps):
        parts.append(Paragraph(f"{'then' if n else 'next'}: {step.command}", "step"))
        parts.append(Paragraph(step.why, "why"))
    return parts


def _missing(said: str) -> NextStep | None:
    return NextStep("brasscap adjust constrained", said) if said else None


def _causes(ways: Sequence[Query], verdict: str) -> list[NextStep]:
    """Return where to look for each cause that the misfit names."""
    named = [q for q in ways if q.slug == "cause-suspected" and q.verdict == verdict]
    return [
        NextStep(q.look, f"{q.about}: {q.said} (query {q.name})" if q.said else q.about)
        for q in named
    ]


def _misfit(solutions: Mapping[str, Judged], ways: Sequence[Query]) -> list[NextStep]:
    """Return the way to a misfit that no cause is named for."""
    if any(q.slug == "cause-suspected" for q in ways):
        return []
    for mode, judged in solutions.items():
        if judged.verdict == "fails" and mode != "constrained":
            command = f"brasscap suspects --datum {mode}"
            return [NextStep(command, "the observations are at odds: why?")]
    factors = [j.variance_factor.verdict for j in solutions.values()]
    if any(factor in ("fails", "query") for factor in factors):
        why = "the misfit is not what was stated, and no single cause explains it"
        return [NextStep("brasscap suspects", why)]
    return []


def _control(ways: Sequence[Query]) -> NextStep | None:
    marks = [q for q in ways if q.slug == "known-mark-differs"]
    if not marks:
        return None
    return NextStep(
        "brasscap control",
        f"{_some(marks)}: {'differs' if len(marks) == 1 else 'differ'} from the survey "
        "by more than the limit",
    )


def _weights(ways: Sequence[Query], verdict: str) -> NextStep | None:
    """Return where standard deviations of groups are shown that were stated wrongly."""
    slug = "standard-deviations-differ"
    groups = [q for q in ways if q.slug == slug and q.verdict == verdict]
    if not groups:
        return None
    first = groups[0]
    why = f"{first.about} (query {first.name})"
    if verdict == "fails":
        why += "; multiply first, then look for blunders in what is left"
    return NextStep(first.look, why)


def _input(ways: Sequence[Query]) -> NextStep | None:
    asked = [q for q in ways if q.source == "check"]
    if not asked:
        return None
    names = ", ".join(q.name for q in asked[:_NAMED])
    more = f" and {len(asked) - _NAMED} more" if len(asked) > _NAMED else ""
    kinds = ", ".join(dict.fromkeys(q.slug for q in asked))
    count = "1 query about the input is"
    if len(asked) > 1:
        count = f"{len(asked)} queries about the input are"
    return NextStep("brasscap check", f"{count} open: {names}{more} ({kinds})")


def _loops(ways: Sequence[Query]) -> NextStep | None:
    loops = [q for q in ways if q.source == "loops"]
    # A cause that is named explains its loops too.
    if not loops or any(q.slug == "cause-suspected" for q in ways):
        return None
    return NextStep("brasscap loops", f"over the limit: {_some(loops)}")


def _unchecked(
    solutions: Mapping[str, Judged], queries: Sequence[Query]
) -> NextStep | None:
    """Return the way to marks that nothing checks and nobody has accepted."""
    if not solutions:
        return None
    judged = solutions.get("constrained", next(iter(solutions.values())))
    accepted = {q.about for q in queries if q.state == "answered"}
    blind = judged.estimated.any(axis=1) & ~judged.all_checked
    blind &= ~judged.held.all(axis=1)
    names = [judged.network.marks.name[i] for i in np.flatnonzero(blind)]
    names = [name for name in names if f"mark {name}" not in accepted]
    if not names:
        return None
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return NextStep(
        "brasscap reliability --only unchecked",
        f"nothing checks {', '.join(names[:_NAMED])}{more} in full: an error of any "
        "size could go unseen there",
    )


def _specification(
    solutions: Mapping[str, Judged], *, specified: bool
) -> NextStep | None:
    if specified or not solutions:
        return None
    return NextStep(
        "brasscap help specification",
        "the job states no specification, so nothing says whether it is good enough",
    )


def _some(queries: Sequence[Query]) -> str:
    names = ", ".join(query.about for query in queries[:_NAMED])
    more = len(queries) - _NAMED
    return f"{names} and {more} more" if more > 0 else names
