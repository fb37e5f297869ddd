"""`show` of a tripod, a session, a known mark; of two marks that have heights alone."""

import json

import jsonschema
import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.precision import pair
from brasscap.io.tables.load import load
from brasscap.json_schemas import schema_of


@pytest.fixture(scope="module")
def jobs(tmp_path_factory):
    """Return the folders of the three examples."""
    home = tmp_path_factory.mktemp("jobs")
    for name in ("harbour", "mill", "tramway"):
        assert main(["new", str(home / name), "--example", name, "--quiet"]) == 0
    return home


@pytest.fixture
def show(jobs, capsys):
    def run(example, *words):
        capsys.readouterr()
        line = ["show", *words, "--job", str(jobs / example)]
        code = main(line)
        text = capsys.readouterr()
        main([*line, "--json"])
        found = json.loads(capsys.readouterr().out)
        schema = found["schema"].split("/")[1]
        jsonschema.Draft202012Validator(schema_of(schema)).validate(found)
        return code, text.out, text.err, found

    return run


def test_a_tripod(show, jobs):
    """The set-ups are those of the network that set_ups.csv books under the tripod."""
    code, out, _, found = show("harbour", "tripod", "T1")
    table = load(jobs / "harbour").tables["set_ups"]
    # The base of the topographic day stands outside the network.
    control = (table.word("tripod") == "T1") & (table.file == "set_ups.csv")
    booked = set(table.word("set_up")[control].tolist())
    assert code == 1  # S3-ICE stands on it
    assert {one["name"] for one in found["observations"]} == booked
    assert all(name in out for name in booked)
    assert "one height error in all of them" in out


def test_a_session(show, jobs):
    code, out, _, found = show("harbour", "session", "S3")
    tables = load(jobs / "harbour").tables
    vectors = tables["baselines"]
    booked = set(vectors.word("baseline")[vectors.word("session") == "S3"].tolist())
    named = {o["name"] for o in found["observations"] if o["kind"] == "baseline"}
    assert code == 1
    assert named == booked
    assert "correlations between its baselines  given" in out


def test_a_known_mark(show):
    code, out, _, found = show("tramway", "known mark", "DEPOT SILL")
    assert code == 1
    assert "known minus survey in height" in out
    assert found["mark"]["station"] == "DEPOT SILL"
    assert [o["kind"] for o in found["observations"]] == ["known mark height"]


@pytest.mark.parametrize(
    ("words", "near"),
    [
        (("tripod", "T11"), "T1"),
        (("session", "S33"), "S3"),
        (("known mark", "SIGNAL HIL"), "SIGNAL HILL"),
    ],
)
def test_a_name_that_is_not_there(show, words, near):
    code, _, err, _ = show("harbour", *words)
    assert code == 2
    assert f"did you mean {near!r}" in " ".join(err.split())


def test_a_pair_with_heights_alone(show, jobs):
    """Plan is said nowhere; the variance of the difference is that of the two heights
    and their covariance."""
    code, out, _, found = show("tramway", "pair", "PUMP", "FOUNTAIN")
    assert code == 0
    assert "azimuth" not in out
    assert "true height of FOUNTAIN" in " ".join(out.split())
    for key in ("slope_distance_m", "ground_distance_m", "azimuth_deg"):
        assert found[key] is None
    made = estimate(load(jobs / "tramway").network, "constrained")
    names = made.network.marks.name
    i, j = names.index("PUMP"), names.index("FOUNTAIN")
    full = made.covariance(np.array([i, i, j]), np.array([i, j, j]))[:, 2, 2]
    variance = full[0] - 2 * full[1] + full[2]
    assert found["covariance_enu_m2"][2][2] == pytest.approx(variance, rel=1e-5)
    heights = made.network.frame.heights(made.nodes.xyz)
    rise = float(heights[j] - heights[i])
    assert pair(made, "PUMP", "FOUNTAIN").height_difference == pytest.approx(rise)
    assert found["covariance_enu_m2"][0][0] is None
