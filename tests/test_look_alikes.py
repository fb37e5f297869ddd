"""Names: alike by spelling, two for one place, one for two places."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.io.tables.load import load
from brasscap.networks.look_alikes import (
    extended,
    marks_together,
    places_by_vectors,
    spelled_alike,
    two_places,
)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    return folder


def test_spelling():
    names = ["T-103", "T 103", "t103", "T103A", "T104", "TIO4", "T1O4"]
    assert spelled_alike(names) == [
        ("T-103", "T 103", "t103"),
        ("T104", "TIO4", "T1O4"),
    ]
    assert ("t103", "T103A") in extended(names)
    # A number more is another mark, not a witness.
    assert extended(["T10", "T103"]) == []


def test_marks_in_one_place_are_found_whatever_their_order():
    xyz = np.array([[5.0, 0, 0], [np.nan] * 3, [0, 0, 0], [5.1, 0.1, -0.1], [5, 9, 0]])
    # √(0.1² + 0.1² + 0.1²) = 0.173 m
    assert marks_together(xyz) == [(0, 3)]
    assert marks_together(xyz, 0.17) == []


def test_the_example_has_neither(job):
    network = load(job).network
    assert marks_together(places_by_vectors(network)) == []
    assert two_places(network) == []


def moved(network, names, shift):
    """Return the network with some vectors' ends moved by a shift, m."""
    rows = [network.vectors.name.index(name) for name in names]
    delta = network.vectors.delta.copy()
    delta[rows] += shift
    return replace(network, vectors=replace(network.vectors, delta=delta))


def test_a_set_up_on_another_mark_is_two_places_under_one_name(job):
    """B8 goes to SLIPWAY from ICE HOUSE, B6 from PILOT POINT: B8 by 3 m elsewhere."""
    network = moved(load(job).network, ["B8"], [3.0, 0, 0])
    by_name = {network.marks.name[t.mark]: t for t in two_places(network)}
    found = by_name["SLIPWAY"]
    assert found.apart == pytest.approx(3.0, abs=0.1)
    led = {network.vectors.name[v] for v in (*found.here, *found.there)}
    assert led == {"B6", "B8"}
    assert found.also == -1


def test_only_the_mark_that_explains_all_is_named(job):
    """Three vectors of set-up S3-ICE 5 m off: ICE HOUSE alone explains them."""
    network = moved(load(job).network, ["B7", "B8", "B9"], [0, -5.0, 0])
    (found,) = two_places(network)
    assert network.marks.name[found.mark] == "ICE HOUSE"
    sides = [
        {network.vectors.name[v] for v in side} for side in (found.here, found.there)
    ]
    assert {"B7", "B8", "B9"} in sides
    assert found.apart == pytest.approx(5.0, abs=0.1)


def test_a_wrong_mark_is_named_where_another_is_there(job):
    """The set-up of B14 and none else stood on LEADING LIGHT, not on BREAKWATER 2."""
    network = load(job).network
    places = places_by_vectors(network)
    names = network.marks.name
    shift = places[names.index("LEADING LIGHT")] - places[names.index("BREAKWATER 2")]
    wrong = moved(network, ["B14"], shift)
    by_name = {names[t.mark]: t for t in two_places(wrong)}
    assert names[by_name["BREAKWATER 2"].also] == "LEADING LIGHT"


def test_check_says_so_and_only_names_picks_it_out(job, capsys):
    path = job / "baselines.csv"
    lines = path.read_text("utf-8").splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("B8,"))
    cells = lines[at].split(",")
    column = lines[0].split(",").index("dx_m")
    cells[column] = f"{float(cells[column]) + 3:.4f}"
    lines[at] = ",".join(cells)
    path.write_text("\n".join(lines) + "\n", "utf-8")
    assert main(["check", "--job", str(job), "--only", "names", "--quiet"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "name-two-places" in said
    assert "mark SLIPWAY" in said
    assert "m away from" in said
    assert "readings-disagree" not in said


def test_two_names_in_one_place_are_a_query(job, capsys):
    """BOAT RAMP's second visit booked as BOAT RAMP A."""
    stations = job / "stations.csv"
    text = stations.read_text("utf-8")
    row = next(line for line in text.splitlines() if line.startswith("BOAT RAMP,"))
    new = row.replace("BOAT RAMP,", "RAMP EAST,", 1)
    stations.write_text(text.rstrip("\n") + "\n" + new + "\n", "utf-8")
    set_ups = job / "set_ups.csv"
    text = set_ups.read_text("utf-8")
    changed = text.replace("S6-RAMP,BOAT RAMP,", "S6-RAMP,RAMP EAST,")
    assert changed != text
    set_ups.write_text(changed, "utf-8")
    main(["check", "--job", str(job), "--only", "names", "--quiet"])
    said = " ".join(capsys.readouterr().out.split())
    assert "names-one-place" in said
    assert "marks BOAT RAMP and RAMP EAST" in said
    assert "one mark under two names" in said
