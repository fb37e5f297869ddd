"""How the network of a job stands now, by the specification that counts."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.design import State
    from brasscap.io.tables.load import Loaded
    from brasscap.networks.covariances import Floats, Ints
    from brasscap.networks.specifications import Specification


def state_now(
    loaded: "Loaded",
    adjustment: "Adjustment",
    ends: "Ints | None" = None,
    marks: "Ints | None" = None,
) -> "tuple[Specification | None, State]":
    """Return the first specification between marks, and how the network stands.

    Without one the pairs that are observed count, by the size of their ellipses; or
    those that are given.

    Parameters
    ----------
    loaded : Loaded
    adjustment : Adjustment
    ends : ndarray of int, shape (P, 2), optional
    marks : ndarray of int, optional
        All that candidates touch; every mark if not given.
    """
    import numpy as np

    from brasscap.adjust.design import state_of
    from brasscap.adjust.judge import hypotheses

    causes = [*hypotheses.observations(adjustment), *hypotheses.set_ups(adjustment)]
    one = specification_that_counts(loaded)
    if ends is None:
        ends = pairs_that_count(loaded, adjustment, one)
    limit = np.full((len(ends), 2), np.nan)
    scale = np.ones((len(ends), 2))
    if one is None:
        limit[:, 0] = 1.0
    else:
        limit, scale = _limits(adjustment, one, ends)
    if not adjustment.estimated[:, :2].any():
        limit = np.stack([np.full(len(ends), np.nan), np.ones(len(ends))], axis=1)
    return one, state_of(adjustment, ends, limit, scale, causes, marks)


def specification_that_counts(loaded: "Loaded") -> "Specification | None":
    """Return the first specification between marks; None where none is stated."""
    from brasscap.networks.specifications import RELATIVE
    from brasscap.specifying import specifications

    if not loaded.job.specifications:
        return None
    of_pairs = [one for one in specifications(loaded) if one.kind in RELATIVE]
    return of_pairs[0] if of_pairs else None


def pairs_that_count(
    loaded: "Loaded", adjustment: "Adjustment", one: "Specification | None"
) -> "Ints":
    """Return the pairs that a specification asks for; without one the observed ones."""
    from brasscap.networks.neighbours import observed_pairs
    from brasscap.specifying import pairs_of

    if one is None:
        return observed_pairs(adjustment.network)
    return pairs_of(loaded, adjustment, one)


def _limits(
    adjustment: "Adjustment", one: "Specification", ends: "Ints"
) -> "tuple[Floats, Floats]":
    import numpy as np

    from brasscap.adjust.precision.compliance import scale_of
    from brasscap.adjust.precision.relative import relative

    distance = relative(adjustment, ends).distance
    scale = scale_of(adjustment, one.confidence)
    none = np.full(len(ends), np.nan)
    limit = np.stack(
        [
            part.over(distance) if part is not None else none
            for part in (one.plan, one.height)
        ],
        axis=1,
    )
    both = np.broadcast_to([scale.ellipse, scale.height], limit.shape)
    return limit, np.asarray(both)
