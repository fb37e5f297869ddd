"""Sessions with their trivial vectors, and what each lawful treatment gives."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from .document import Column, Part, Row, Table
from .rounding import Units, number
from .worst_rows import LONG, SHOWN

if TYPE_CHECKING:
    from ..adjust.judge.trivial import Treatment
    from ..networks import Network
    from ..networks.sessions import Session


def sessions_table(network: "Network", sessions: "Sequence[Session]") -> Table:
    """Return the sessions with their independent and trivial vectors.

    Parameters
    ----------
    network : Network
    sessions : sequence of Session
    """
    columns = (
        Column("session", number=False),
        Column("found from", number=False),
        Column("receivers R"),
        Column("vectors"),
        Column("independent"),
        Column("trivial"),
        Column("covariance", number=False),
        Column("trivial vectors", number=False, below=True),
    )
    shown, note = list(sessions), ""
    if len(shown) > LONG:
        shown = sorted(shown, key=lambda session: -session.surplus)[:SHOWN]
        note = f"{SHOWN} of {len(sessions)}, those with the most trivial vectors"
    rows = tuple(
        Row(
            (
                session.name,
                session.found_from,
                str(session.receivers),
                str(len(session.vectors)),
                str(len(session.independent)),
                str(session.surplus),
                _covariance_words(session),
                _trivial_words(network, session),
            )
        )
        for session in shown
    )
    return Table("sessions", columns, rows, note)


def _covariance_words(session: "Session") -> str:
    if len(session.vectors) == 1:
        return "one vector"
    return "of the session" if session.correlated else "vector by vector"


def _trivial_words(network: "Network", session: "Session") -> str:
    names = ", ".join(network.vectors.name[v] for v in session.trivial)
    return f"over R − 1: {names}" if names else ""


def trivial_parts(treatments: "Sequence[Treatment]", units: Units) -> tuple[Part, ...]:
    """Return the treatments of trivial vectors side by side; nothing without any.

    Parameters
    ----------
    treatments : sequence of Treatment
    units : Units
    """
    if not treatments:
        return ()
    columns = (
        Column("treatment", number=False),
        Column("vectors"),
        Column("taken off"),
        Column("degrees of freedom"),
        Column("variance factor"),
        Column("limits"),
        Column(f"largest semi-major ({units.small_unit})"),
        Column("verdict", number=False),
        Column("why not", number=False, below=True),
    )
    rows = tuple(_treatment_row(treatment, units) for treatment in treatments)
    note = (
        "Vectors of one session over R − 1 are sums of the others. As booked they "
        "count as observations that they are not: not lawful. Lawful are the "
        "session's full covariance, R − 1 vectors, or all with their covariances "
        "times R/2 and 3(R − 1)(R − 2)/2 taken off the degrees of freedom. The choice "
        "is yours: leave vectors out by decisions, or import the session's covariance."
    )
    return (Table("trivial vectors: what each treatment gives", columns, rows, note),)


def _treatment_row(treatment: "Treatment", units: Units) -> Row:
    name = treatment.name if treatment.lawful else f"{treatment.name} (not lawful)"
    factor = treatment.variance_factor
    if factor is None:
        cells = (name, "–", "–", "–", "–", "–", "–", "cannot", treatment.reason)
        return Row(cells)
    limits = [number(x, "limit") for x in (factor.lower, factor.upper)]
    return Row(
        (
            name,
            str(treatment.vectors),
            str(treatment.taken_off),
            str(factor.degrees_of_freedom),
            number(factor.value, "limit") or "–",
            " … ".join(limits) if all(limits) else "–",
            units.small(treatment.semi_major) or "–",
            factor.verdict,
            "",
        )
    )
