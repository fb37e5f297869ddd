"""Vectors carry places from the nearest mark that is known, antenna by antenna."""

from dataclasses import replace
from itertools import pairwise

import numpy as np

from brasscap.adjust import estimate
from brasscap.adjust.start import starting_positions
from brasscap.networks import LocalFrame
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country


def test_each_mark_is_carried_from_the_known_mark_that_is_nearest(site):
    """Four vectors of 100 m, each booked 0.1 m too long, between marks that are known.

    By hand: 100.1 from the near end, 400 − 100.1 = 299.9 from the far end; in the
    middle, as far from both, 200.2 from the end that is booked first.
    """
    chain = ("BASE", "GATE", "P1", "P2", "P3")
    made, _ = site(LocalFrame(), ())
    made.hold("BASE", (0.0, 0.0, 0.0))
    made.hold("P3", (400.0, 0.0, 0.0))
    for start, end in pairwise(chain):
        made.vector(start, end)
    network = made.network()
    vectors = replace(network.vectors, delta=np.tile([100.1, 0.0, 0.0], (4, 1)))
    found = starting_positions(replace(network, vectors=vectors))
    at = [network.marks.name.index(name) for name in chain]
    assert found[at, 0].round(9).tolist() == [0.0, 100.1, 200.2, 299.9, 400.0]


def test_antennas_of_different_heights_leave_the_start_where_it_is():
    """An identity: without noise the start is the truth, by the definition of a vector.

    delta = (X_end + o_end u_end) − (X_start + o_start u_start).
    """
    plan = country(400, set_ups=True)
    marks = plan.marks.approximate
    up = plan.frame.axes(marks)[:, 2]
    vectors = plan.vectors
    start, end = (plan.mark_of(some) for some in (vectors.start, vectors.end))
    delta = (
        marks[end]
        + vectors.end_offset[:, None] * up[end]
        - marks[start]
        - vectors.start_offset[:, None] * up[start]
    )
    assert np.ptp(vectors.end_offset) > 0.3
    exact = replace(plan, vectors=replace(vectors, delta=delta))
    assert np.abs(starting_positions(exact) - marks).max() < 1e-5


def test_a_country_needs_no_second_iteration():
    """Its first solution is as near as vectors need it to be, so it is the last."""
    for set_ups in (False, True):
        observed = simulate(country(900, set_ups=set_ups), seed=1)
        off = starting_positions(observed) - observed.marks.approximate
        assert np.abs(off).max() < 0.3
        assert estimate(observed).iterations == 1
