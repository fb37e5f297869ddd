"""A first look at candidates without the whole inverse, against the whole inverse.

Identities: a derivative of an inverse is −Z dN Z whatever the matrix, and a gain does
not depend on the way to it.
"""

from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.design import levelling, position, state_of, vector
from brasscap.adjust.design.screen import screened
from brasscap.adjust.design.screen_sparse import screened_sparse
from brasscap.adjust.joined import joined
from brasscap.adjust.sparse import derivative
from brasscap.io.tables.load import load
from brasscap.networks.neighbours import observed_pairs
from brasscap.networks.simulate import undisturbed
from brasscap.networks.simulate.country import country

EXAMPLES = Path(__file__).parents[1] / "networks" / "examples"


@pytest.fixture(scope="module")
def large():
    # Without misfit nothing moves, so that factor and rows are of the same places:
    # elsewhere east and north turn by the last step over the earth's radius, 1e-9.
    return estimate(undisturbed(country(400)), "constrained")


def held_to(adjustment):
    ends = observed_pairs(adjustment.network)
    limit = np.full((len(ends), 2), 0.009)
    limit[::3, 1] = np.nan
    return ends, limit, np.full((len(ends), 2), 2.0)


def near_pairs(adjustment, count):
    """Return pairs of each mark and its nearest, of marks that are estimated."""
    some = np.flatnonzero(adjustment.estimated.any(axis=1))
    places = adjustment.nodes.xyz[some]
    far = np.linalg.norm(places[:, None] - places, axis=2)
    near = np.argsort(far, axis=1)[:, 1 : count + 1]
    pairs = {tuple(sorted((k, int(j)))) for k in range(len(some)) for j in near[k]}
    return [tuple(some[list(pair)].tolist()) for pair in sorted(pairs)]


def candidates_of(adjustment):
    pairs = near_pairs(adjustment, 4)
    made = [vector(adjustment, *p, (0.003, 0.006), (0.001, 0.0015)) for p in pairs]
    made += [levelling(adjustment, *p, 0.002) for p in pairs[::5]]
    return made + [position(p[0], (0.01, 0.02), (0.001, 0.0015)) for p in pairs[::7]]


def test_gains_are_those_of_the_whole_inverse(large):
    ends, limit, multipliers = held_to(large)
    candidates = candidates_of(large)
    expected = screened(state_of(large, ends, limit, multipliers, []), candidates)
    found = screened_sparse(large, ends, limit, multipliers, candidates)
    assert len(candidates) > 1000
    assert (expected > 0).all()
    assert found == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("mode", ["minimal", "constrained"])
@pytest.mark.parametrize("name", ["harbour", "mill", "tramway"])
def test_gains_of_every_kind_of_network(name, mode):
    adjustment = estimate(load(EXAMPLES / name).network, mode)
    # One of them is held by an azimuth: C is that on an exact condition.
    assert (adjustment.datum.azimuth is not None) == (
        (name, mode) == ("mill", "minimal")
    )
    ends, limit, multipliers = held_to(adjustment)
    pairs = near_pairs(adjustment, 2)
    candidates = [levelling(adjustment, *pair, 0.002) for pair in pairs]
    expected = screened(state_of(adjustment, ends, limit, multipliers, []), candidates)
    found = screened_sparse(adjustment, ends, limit, multipliers, candidates)
    # The factor is that of the last step but one, micrometres away.
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-7 * expected.max())


def test_the_derivative_of_an_inverse_is_minus_it_by_the_change_by_it(large):
    """−Z dN Z of the dense inverse, wherever the pattern has an entry."""
    at = large.columns[np.array(near_pairs(large, 3))].reshape(-1, 6)
    wide = joined(large, [at])
    own = wide.matrix
    random = np.random.default_rng(2)
    size, count = len(own.values), len(own.on_diagonal)
    change = np.where(random.random(size) < 0.3, random.normal(size=size), 0.0)
    whole, moved = np.zeros((2, count, count))
    for full, values in ((whole, own.values), (moved, change)):
        full[own.rows, own.columns] = values
        full[own.columns, own.rows] = values
    inverse = np.linalg.inv(whole)
    found = derivative(wide.plan, wide.plan.factor(own).eliminated, change)
    for made, dense in zip(found, (inverse, -inverse @ moved @ inverse), strict=True):
        expected = dense[own.rows, own.columns]
        assert made == pytest.approx(
            expected, rel=0, abs=1e-10 * np.abs(expected).max()
        )
