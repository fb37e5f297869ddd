"""One mark under two names, and two marks under one, by where the vectors lead."""

from collections.abc import Mapping

import numpy as np

from ....networks.findings import Finding
from ....networks.look_alikes import (
    TOGETHER_M,
    TwoPlaces,
    extended,
    marks_together,
    places_by_vectors,
    two_places,
)
from ....networks.network import Network
from ..table import Table


def check_names(network: Network, tables: Mapping[str, Table]) -> list[Finding]:
    """Return the queries about names that the places of the marks raise.

    Parameters
    ----------
    network : Network
    tables : mapping of str to Table
    """
    found = _one_place(network)
    several = two_places(network)
    return found + [_two_places(network, tables, one, several) for one in several]


def _one_place(network: Network) -> list[Finding]:
    names = network.marks.name
    longer = set(extended(names))
    places = places_by_vectors(network)
    found = []
    for a, b in marks_together(places):
        apart = float(np.linalg.norm(places[a] - places[b]))
        pair = {(names[a], names[b]), (names[b], names[a])}
        spelled = "; the names differ by one letter" if pair & longer else ""
        found.append(
            Finding(
                "names-one-place",
                "query",
                f"marks {names[a]} and {names[b]}",
                file="stations.csv",
                row=int(network.marks.row[b]),
                column="station",
                booked=f"{names[a]}, {names[b]}",
                against=f"{1000 * apart:.0f} mm apart; under "
                f"{1000 * TOGETHER_M:.0f} mm two marks are hardly two (common "
                "practice)",
                likely=f"one mark under two names{spelled}",
                mend=f"compare the stampings; if it is one mark:  brasscap decide "
                f"rename station '{names[b]}' '{names[a]}', or accept",
            )
        )
    return found


def _two_places(
    network: Network,
    tables: Mapping[str, Table],
    found: TwoPlaces,
    several: list[TwoPlaces],
) -> Finding:
    name, vectors = network.marks.name[found.mark], network.vectors
    there = [vectors.name[v] for v in found.there]
    here = [vectors.name[v] for v in found.here]
    row, file = int(vectors.row[found.there[0]]), "baselines.csv"
    table = tables.get("baselines")
    if table is not None:
        at = np.flatnonzero(
            (table.row == row)
            & (table.word("baseline") == vectors.name[found.there[0]])
        )
        file = str(table.file[at[0]]) if len(at) else file
    likely = f"two marks under the name {name}, or a set-up on another mark"
    if found.also >= 0:
        other = network.marks.name[found.also]
        likely = f"the set-up stood on {other}: that is where they lead"
    others = [network.marks.name[o.mark] for o in several if o.mark != found.mark]
    if others:
        likely += f"; {' or '.join(others)} would explain it as well, as would a "
        likely += "wrong vector between them"
    return Finding(
        "name-two-places",
        "query",
        f"mark {name}",
        file=file,
        row=row,
        booked=f"{', '.join(there)} lead {found.apart:.3f} m away from "
        f"{', '.join(here)}",
        against="vectors to one mark lead to one place; the rest of the network agrees",
        likely=likely,
        mend="compare stamping and photograph of each set-up, then rename the station "
        "of the wrong one by a decision, or leave the vectors out",
    )
