"""What heights above the geoid are worth, with the parameters of the undulations."""

import numpy as np

from ..networks.covariances import Floats, Ints
from .adjustment import Adjustment
from .equations.undulations import by_parameter
from .observed import shift_to_find


def comparable_above_geoid(adjustment: Adjustment) -> bool:
    """Return whether heights above the geoid mean anything in this solution.

    They do not where the geoid's shift was to be found and was not; but if the datum
    itself is a height above the geoid, they are what it hangs on.
    """
    network = adjustment.network
    if not shift_to_find(network):
        return True
    assert network.undulations is not None
    shift = len(adjustment.nodes.xyz) + network.undulations.common[0]
    if adjustment.columns[shift, 0] >= 0:
        return True
    above, held = network.known.orthometric, adjustment.datum.held_rows[:, 2]
    return bool(above is not None and (above & held).any())


def above_geoid_covariance(
    adjustment: Adjustment, marks: Ints, own: Ints | None = None
) -> Floats:
    """Return (k, 3, 3) covariances of east, north and the height above the geoid, m².

    NaN in a free solution whose undulations have parameters: what those vary by on
    the datum of the marks is not worked out.

    Parameters
    ----------
    adjustment : Adjustment
    marks : ndarray of int, shape (k,)
    own : ndarray of int, shape (k,), optional
        Parameter of each mark's own undulation; −1 for none.
    """
    at, turn = _by_columns(adjustment, marks, own)
    if at.shape[1] == 3:
        return adjustment.covariance(marks, marks)
    both = adjustment.factor.blocks(at, at)
    found: Floats = turn @ both @ np.swapaxes(turn, 1, 2)
    return np.full_like(found, np.nan) if adjustment.inner is not None else found


def above_geoid_jointly(
    adjustment: Adjustment, marks: Ints, own: Ints | None = None
) -> Floats:
    """Return (3k, 3k) covariance of east, north, height above the geoid of marks, m².

    Mark by mark, each in its own geodetic axes. NaN as in ``above_geoid_covariance``.

    Parameters
    ----------
    adjustment, marks, own
        As there.
    """
    at, turn = _by_columns(adjustment, marks, own)
    if at.shape[1] == 3:
        k = len(marks)
        pairs = adjustment.covariance(np.repeat(marks, k), np.tile(marks, k))
        split = pairs.reshape(k, k, 3, 3).swapaxes(1, 2)
        return np.asarray(split.reshape(3 * k, 3 * k))
    k, q = at.shape
    both = adjustment.factor.blocks(at.ravel(), at.ravel()).reshape(k, q, k, q)
    found: Floats = np.einsum("aiq,aqbr,bjr->aibj", turn, both, turn, optimize=True)
    found = found.reshape(3 * k, 3 * k)
    return np.full_like(found, np.nan) if adjustment.inner is not None else found


def _by_columns(
    adjustment: Adjustment, marks: Ints, own: Ints | None
) -> tuple[Ints, Floats]:
    """Return (k, q) columns of marks and of what their undulations vary by.

    And (k, 3, q), which turns their covariances to east, north, height above the
    geoid. With q = 3 no undulation varies.
    """
    network, nodes = adjustment.network, adjustment.nodes
    places = len(nodes.xyz)
    partials, numbers = by_parameter(network, nodes, marks)
    chosen = np.full((len(marks), 1), -1) if own is None else own[:, None]
    one = np.ones((len(marks), 1))
    factors = np.concatenate([partials, np.where(chosen >= 0, one, 0.0)], axis=1)
    which = np.concatenate(
        [np.tile(numbers, (len(marks), 1)), np.where(chosen >= 0, places + chosen, -1)],
        axis=1,
    )
    columns = np.concatenate([adjustment.columns[:, 0], [-1]])[which]
    if (columns < 0).all():
        return adjustment.columns[marks], np.tile(np.eye(3), (len(marks), 1, 1))
    at = np.concatenate([adjustment.columns[marks], columns], axis=1)
    turn = np.zeros((len(marks), 3, at.shape[1]))
    turn[:, :, :3] = np.eye(3)
    turn[:, 2, 3:] = -factors
    return at, turn
