"""Observations that could still be made, each from set-ups of its own.

A vector, a levelled run, a round of a total station, or a second set-up: all that is
seen from one mark once more, with the tripod set up anew.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment

SET_UP = (0.001, 0.0015)
"""m; centring and height of a fresh tripod at each end (common practice)."""
_ZERO = 1.0
"""rad; what is known of the circle zero of a fresh round: nothing that counts."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """An observation that could be made."""

    name: str
    """Of the proposal; empty where nobody proposed it."""
    kind: str
    """``baseline``, ``levelled run``, ``total-station round`` or ``second set-up``."""
    start: int
    """Number of the mark."""
    end: int
    sd_plan: float
    """m, per axis, without its set-ups; of a distance."""
    sd_height: float
    minutes: float = float("nan")
    others: tuple[int, ...] = ()
    """More marks that are observed from the start at once."""
    sd_angles: tuple[float, float] = (float("nan"), float("nan"))
    """rad; of a direction and of a zenith angle, where it is observed by sights."""

    @property
    def marks(self) -> tuple[int, ...]:
        """All marks, the start first."""
        return (self.start, self.end, *self.others)


def whitened_rows(adjustment: Adjustment, candidate: Candidate) -> Floats:
    """Return (r, k, 3) whitened partials of a candidate by its k marks.

    Parameters
    ----------
    adjustment : Adjustment
    candidate : Candidate
    """
    if candidate.kind == "levelled run":
        up = np.array([[[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]]])
        return up / candidate.sd_height
    sights = bool(np.isfinite(candidate.sd_angles).all())
    made = _sights if sights else _vectors
    partials, variances = made(adjustment, candidate)
    fresh = np.array([SET_UP[0], SET_UP[0], SET_UP[1]]) ** 2
    covariance = np.einsum("rki,i,ski->rs", partials, fresh, partials)
    covariance += np.diag(variances)
    if sights:
        turned = np.tile([0.0, _ZERO, 0.0], len(candidate.marks) - 1)
        covariance += np.outer(turned, turned)
    lower = np.linalg.cholesky(covariance)
    flat = np.linalg.solve(lower, partials.reshape(len(variances), -1))
    return np.asarray(flat.reshape(partials.shape))


def _vectors(adjustment: Adjustment, candidate: Candidate) -> tuple[Floats, Floats]:
    """Return partials of vectors from the start, east, north, up, and variances, m²."""
    axes, ends = adjustment.nodes.axes, candidate.marks[1:]
    partials = np.zeros((3 * len(ends), len(ends) + 1, 3))
    for k, end in enumerate(ends):
        rows = slice(3 * k, 3 * k + 3)
        partials[rows, 0] = -np.eye(3)
        partials[rows, k + 1] = axes[candidate.start] @ axes[end].T
    own = [candidate.sd_plan, candidate.sd_plan, candidate.sd_height]
    return partials, np.tile(np.square(own), len(ends))


def _sights(adjustment: Adjustment, candidate: Candidate) -> tuple[Floats, Floats]:
    """Return partials of distance, direction, zenith angle to each end, and variances.

    From mark to mark: the heights above them change nothing that matters here.
    """
    axes, places = adjustment.nodes.axes, adjustment.nodes.xyz
    start, ends = candidate.start, candidate.marks[1:]
    partials = np.zeros((3 * len(ends), len(ends) + 1, 3))
    for k, end in enumerate(ends):
        line = axes[start] @ (places[end] - places[start])
        far, level = float(np.linalg.norm(line)), float(np.hypot(line[0], line[1]))
        east, north, up = line
        by_line = np.array(
            [
                line / far,
                np.array([north, -east, 0.0]) / level**2,
                np.array([east * up, north * up, -(level**2)]) / (far**2 * level),
            ]
        )
        rows = slice(3 * k, 3 * k + 3)
        partials[rows, 0] = -by_line
        partials[rows, k + 1] = by_line @ axes[start] @ axes[end].T
    own = [candidate.sd_plan, *candidate.sd_angles]
    return partials, np.tile(np.square(own), len(ends))


def usual_sds(adjustment: Adjustment) -> tuple[float, float]:
    """Return the middle sd in plan and height of what the network has, m; NaN.

    Of its vectors; else of its levelled runs.
    """
    kinds = {some.kind: some for some in adjustment.equations}
    if "baseline" in kinds:
        variances = [
            np.einsum("cqq->cq", batch.matrix).reshape(-1, 3)
            for batch in kinds["baseline"].covariances
        ]
        middle = np.median(np.concatenate(variances), axis=0)
        sd = float(np.sqrt(np.mean(middle)))
        return sd, sd
    if "level difference" in kinds and adjustment.network.levels is not None:
        used = kinds["level difference"].used
        middle = np.median(adjustment.network.levels.sd[used])
        return float("nan"), float(middle)
    return float("nan"), float("nan")


def usual_sights(adjustment: Adjustment) -> tuple[float, float, float]:
    """Return the middle sd of a distance, m, a direction and a zenith angle, rad."""
    found = {some.kind: float(np.median(some.sd)) for some in adjustment.network.sights}
    nothing = float("nan")
    distance = found.get("slope distance", found.get("horizontal distance", nothing))
    direction = found.get(
        "direction", found.get("azimuth", found.get("angle", nothing))
    )
    return distance, direction, found.get("zenith angle", nothing)


def seen_from(adjustment: Adjustment, mark: int) -> tuple[list[int], list[int]]:
    """Return the marks joined to a mark by vectors, and those that it sights.

    Parameters
    ----------
    adjustment : Adjustment
    mark : int
    """
    network, vectors = adjustment.network, adjustment.network.vectors
    joined = _others(network.mark_of(vectors.start), network.mark_of(vectors.end), mark)
    sighted: list[int] = []
    for some in network.sights:
        sighted += _others(network.mark_of(some.at), network.mark_of(some.to), mark)
    return list(dict.fromkeys(joined)), list(dict.fromkeys(sighted))


def _others(start: Ints, end: Ints, mark: int) -> list[int]:
    both = np.concatenate([end[start == mark], start[end == mark]])
    return [int(k) for k in both if k != mark]


def again_from(
    adjustment: Adjustment, mark: int, kind: str = "second set-up", name: str = ""
) -> list[Candidate]:
    """Return a mark occupied once more: by vectors where it had some, and by sights.

    To the nearest marks that it was joined to; lines that were seen can be seen again.

    Parameters
    ----------
    adjustment : Adjustment
    mark : int
    kind : str
        ``second set-up`` or ``total-station round``, which has no vectors.
    name : str
    """
    joined, sighted = (_near(adjustment, mark, m) for m in seen_from(adjustment, mark))
    plan, height = usual_sds(adjustment)
    distance, direction, zenith = usual_sights(adjustment)
    nothing, made = float("nan"), []
    if kind == "second set-up" and joined and plan > 0:
        first, *rest = joined[:_AT_ONCE]
        made.append(
            Candidate(name, kind, mark, first, plan, height, nothing, tuple(rest))
        )
    if len(sighted) > 1 and distance > 0 and direction > 0 and zenith > 0:
        first, *rest = sighted[:_ROUND]
        angles = direction, zenith
        made.append(
            Candidate(
                name, kind, mark, first, distance, nothing, nothing, tuple(rest), angles
            )
        )
    return made


_AT_ONCE, _ROUND = 3, 4
"""Vectors of a second set-up (four receivers), targets of a round."""


def _near(adjustment: Adjustment, mark: int, others: Sequence[int]) -> list[int]:
    places = adjustment.nodes.xyz
    far = [float(np.linalg.norm(places[k] - places[mark])) for k in others]
    return [others[k] for k in np.argsort(far, kind="stable").tolist()]


def candidates_near(
    adjustment: Adjustment, marks: Sequence[int], most: int = 12
) -> list[Candidate]:
    """Return what could be observed afresh about some marks.

    Vectors, or levelled runs, to their nearest neighbours, as good as the middle one of
    those in the network; a second set-up on each and on what it sights, and a round.

    Parameters
    ----------
    adjustment : Adjustment
    marks : sequence of int
    most : int
        Neighbours of each mark.
    """
    kinds = {some.kind for some in adjustment.equations}
    single = [("baseline", "baseline"), ("level difference", "levelled run")]
    plan, height = usual_sds(adjustment)
    kind = next((word for of, word in single if of in kinds), "")
    everyone = range(len(adjustment.network.marks))
    made = []
    for mark in dict.fromkeys(marks):
        if kind:
            near = _near(adjustment, mark, everyone)[1 : most + 1]
            made += [Candidate("", kind, mark, k, plan, height) for k in near]
        _, sighted = seen_from(adjustment, mark)
        for station in (mark, *_near(adjustment, mark, sighted)[:_ROUND]):
            made += again_from(adjustment, station, "total-station round")
        made += again_from(adjustment, mark)
    return made
