"""Vectors that are sums of others: three lawful ways to use a session, side by side.

R receivers give R(R − 1)/2 vectors, of which R − 1 are independent. Booked as if all
were, they make the variance factor too good and the ellipses too small. Lawful are
the session's full covariance; R − 1 vectors with the correlation of their common
receivers; and all vectors, each covariance times R/2, with the surplus taken off the
degrees of freedom (Craymer and Beck 1992, as reported by Rizos 1999).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...networks import Network, NoSolution
from ...networks.covariances import Batch, Covariances, Floats, blocks, keep
from ...networks.sessions import Session
from ..adjustment import Adjustment
from ..estimate import estimate
from ..precision.ellipses import ellipse
from .limits import chi_square_quantile
from .variance_factor import VarianceFactor, variance_factor_of


@dataclass(frozen=True, slots=True)
class Treatment:
    """One way to use the vectors of sessions that have trivial ones."""

    name: str
    """``full covariance``, ``R − 1 independent``, ``all × R/2`` or ``as booked``."""
    lawful: bool
    vectors: int
    """In use."""
    taken_off: int
    """Degrees of freedom taken off for vectors that are sums of others."""
    variance_factor: VarianceFactor | None
    """None where it cannot be used."""
    semi_major: float
    """Largest of all marks, m, at the stated confidence, stated covariances; NaN."""
    reason: str = ""
    """Why it cannot be used."""


def trivial_treatments(
    network: Network, sessions: Sequence[Session], mode: str = "constrained"
) -> tuple[Treatment, ...]:
    """Return what each treatment of trivial vectors does to the result.

    Parameters
    ----------
    network : Network
    sessions : sequence of Session
        From ``find_sessions``.
    mode : str, optional
        Of the estimates.

    Returns
    -------
    tuple of Treatment
        As booked first; empty where no session has a trivial vector.
    """
    over = [session for session in sessions if session.surplus]
    if not over:
        return ()
    ways: tuple[tuple[str, Callable[[Network, Session], Network]], ...] = (
        ("as booked", lambda network, session: network),
        ("full covariance", full_covariance),
        ("R − 1 independent", independent),
        ("all × R/2", half_weighted),
    )
    return tuple(_treated(network, over, mode, name, way) for name, way in ways)


def full_covariance(network: Network, session: Session) -> Network:
    """Return the network with R − 1 vectors of a session as they are correlated.

    Parameters
    ----------
    network : Network
    session : Session

    Raises
    ------
    ValueError
        Its cross-covariances are not booked.
    """
    if not session.correlated:
        raise ValueError(f"no covariances between the vectors of {session.name}")
    return _without_trivial(network, session)


def independent(network: Network, session: Session) -> Network:
    """Return the network with R − 1 vectors of a session, correlated by receivers.

    Two vectors from one receiver have half their variance in common, for receivers
    that are equally good; where the covariance is booked, that is kept.

    Parameters
    ----------
    network : Network
    session : Session
    """
    if session.correlated:
        return _without_trivial(network, session)
    members = np.array(session.independent, dtype=np.int64)
    vectors = network.vectors
    own = blocks(vectors.covariances, len(vectors), 3)[members]
    incidence = np.zeros((len(members), len(network.marks) + len(network.set_ups)))
    incidence[np.arange(len(members)), vectors.start[members]] = -1
    incidence[np.arange(len(members)), vectors.end[members]] = 1
    shared = incidence @ incidence.T / 2
    # Symmetric roots, so that the result does not hang on the axes.
    values, axes = np.linalg.eigh(own)
    roots = (axes * np.sqrt(np.maximum(values, 0))[:, None, :]) @ np.swapaxes(
        axes, 1, 2
    )
    tiles = np.einsum("st,sik,tkj->sitj", shared, roots, roots)
    size = 3 * len(members)
    made = Batch(members[None], tiles.reshape(1, size, size))
    return _without_trivial(_with_covariance(network, session, (made,)), session)


def half_weighted(network: Network, session: Session) -> Network:
    """Return the network with every covariance of a session times R/2.

    The set-ups keep theirs: their errors are common to the vectors already.

    Parameters
    ----------
    network : Network
    session : Session

    Raises
    ------
    ValueError
        Not every pair of receivers has one vector, or they are booked as correlated.
    """
    if session.correlated:
        raise ValueError(f"{session.name} has its own covariance booked")
    if not session.complete:
        pairs = session.receivers * (session.receivers - 1) // 2
        raise ValueError(
            f"{session.name} has {len(session.vectors)} vectors; the factor R/2 holds "
            f"for all {pairs} of its {session.receivers} receivers"
        )
    members = np.array(session.vectors, dtype=np.int64)
    vectors = network.vectors
    own = blocks(vectors.covariances, len(vectors), 3)[members]
    made = Batch(members[:, None], own * session.receivers / 2)
    return _with_covariance(network, session, (made,))


def _with_covariance(network: Network, session: Session, made: Covariances) -> Network:
    vectors = network.vectors
    others = np.ones(len(vectors), dtype=bool)
    others[list(session.vectors)] = False
    covariances = (*keep(vectors.covariances, others, 3), *made)
    return replace(network, vectors=replace(vectors, covariances=covariances))


def _without_trivial(network: Network, session: Session) -> Network:
    used = network.vectors.used.copy()
    used[list(session.trivial)] = False
    return replace(network, vectors=replace(network.vectors, used=used))


def _treated(
    network: Network,
    over: Sequence[Session],
    mode: str,
    name: str,
    way: Callable[[Network, Session], Network],
) -> Treatment:
    lawful = name != "as booked"
    before = int(network.vectors.used.sum())
    made, taken_off = network, 0
    try:
        for session in over:
            made = way(made, session)
            taken_off += 3 * session.surplus if name == "all × R/2" else 0
        adjustment = estimate(made, mode)
    except (ValueError, NoSolution) as reason:
        nothing = float("nan")
        return Treatment(name, lawful, before, 0, None, nothing, str(reason))
    return Treatment(
        name,
        lawful,
        int(made.vectors.used.sum()),
        taken_off,
        variance_factor_of(
            adjustment.vtpv,
            adjustment.degrees_of_freedom - taken_off,
            network.options.confidence,
        ),
        _largest(adjustment),
    )


def _largest(adjustment: Adjustment) -> float:
    marks = np.arange(len(adjustment.network.marks))
    covariance: Floats = adjustment.covariance(marks, marks)
    plan = adjustment.estimated[:, :2].all(axis=1)
    if not plan.any():
        return float("nan")
    major = ellipse(covariance[plan][:, :2, :2])[0]
    confidence = adjustment.network.options.confidence
    return float(np.max(major) * np.sqrt(chi_square_quantile(confidence, 2)))
