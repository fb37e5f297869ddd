"""Set-ups folded into their observations: the same solution, on marks alone."""

from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.design.block import unfolded
from brasscap.adjust.design.folded import blocks_of
from brasscap.adjust.design.loosely_held import loosely_held
from brasscap.io.tables.load import load

EXAMPLES = Path(__file__).parents[1] / "networks" / "examples"


@pytest.mark.parametrize("name", ["harbour", "mill", "tramway"])
def test_folding_changes_nothing(name):
    adjustment = estimate(loosely_held(load(EXAMPLES / name).network))
    blocks = blocks_of(adjustment)
    network, columns = adjustment.network, adjustment.columns
    marks = len(network.marks)
    places = marks + len(network.set_ups)
    kept = np.concatenate([columns[:marks].ravel(), columns[places:, 0]])
    kept = np.unique(kept[kept >= 0])
    matrix, right = unfolded(blocks, int(columns.max()) + 1)
    inverse = np.linalg.inv(matrix[np.ix_(kept, kept)])
    expected = adjustment.factor.blocks(kept, kept)
    assert inverse == pytest.approx(
        expected, rel=1e-6, abs=1e-9 * np.abs(expected).max()
    )
    # At the solution nothing pulls any more.
    shift = inverse @ right[kept]
    assert np.abs(shift[: 3 * marks]).max() < 1e-7
    vtpv = sum(b.misclosure @ np.linalg.solve(b.whole, b.misclosure) for b in blocks)
    assert vtpv == pytest.approx(adjustment.vtpv, rel=1e-6)
    rows = sum(len(b.misclosure) for b in blocks)
    assert rows - len(kept) == adjustment.degrees_of_freedom


def test_a_firm_hand_is_nearly_a_held_mark():
    network = load(EXAMPLES / "harbour").network
    held, loose = estimate(network), estimate(loosely_held(network))
    marks = len(network.marks)
    moved = np.abs(held.nodes.xyz[:marks] - loose.nodes.xyz[:marks]).max()
    assert 0 < moved < 5e-5
