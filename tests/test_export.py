"""What is written for others: read back by programs that are not ours."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.io.formats import (
    FORMATS,
    ControlPoints,
    formats_help,
    position_tables,
    read_sinex,
    write_control_csv,
    write_geojson,
)
from brasscap.networks import CommandError, GeodeticFrame

REAL = Path(__file__).parent / "realdata"


def points(unit="m", **changes):
    """Two marks: one held, one with sds 3, 4, 12 mm (variances 9, 16, 144 mm²)."""
    frame = GeodeticFrame(7843, 2020.0, 7853)
    geodetic = np.array([[-34.61, 136.015, 20.5], [-34.62, 136.025, -3.25]])
    given = {
        "name": ("PILLAR 1", 'SLIP, "EAST"'),
        "geodetic": geodetic,
        "grid": frame.grid(frame.cartesian(geodetic)),
        "covariance": np.stack([np.zeros((3, 3)), np.diag([9e-6, 16e-6, 144e-6])]),
        "frame": frame.describe(),
        "frame_epsg": 7843,
        "epoch": 2020.0,
        "height_kind": "ellipsoidal",
        "unit": unit,
        "source": "test",
    }
    return ControlPoints(**(given | changes))


def rows(text):
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def test_csv_says_frame_epoch_unit_and_height_kind_twice():
    text = write_control_csv(points())
    heading = [line for line in text.splitlines() if line.startswith("#")]
    joined = "\n".join(heading)
    for words in ("EPSG:7843", "EPSG:7853", "epoch 2020", "metres (m)", "ellipsoidal"):
        assert words in joined
    (first, second) = rows(text)
    assert list(first) == [
        "station",
        "north_m",
        "east_m",
        "ellipsoidal_height_m",
        "sd_north_mm",
        "sd_east_mm",
        "sd_height_mm",
        "frame_epsg",
        "epoch_year",
    ]
    assert second["station"] == 'SLIP, "EAST"'
    assert (first["frame_epsg"], first["epoch_year"]) == ("7843", "2020")


def test_csv_carries_the_sds_by_hand():
    held, new = rows(write_control_csv(points()))
    assert [held[f"sd_{axis}_mm"] for axis in ("north", "east", "height")] == [
        "0.0"
    ] * 3
    # Covariance is east, north, up: √9, √16, √144.
    assert (new["sd_east_mm"], new["sd_north_mm"]) == ("3.0", "4.0")
    assert new["sd_height_mm"] == "12.0"


def test_csv_in_feet():
    """0.3048 m is one international foot, 1200/3937 m one US survey foot."""
    grid = np.array([[0.3048, 3.048, 30.48], [1200 / 3937, 0, -1e-9]])
    (first, _) = rows(write_control_csv(points("ift", grid=grid)))
    assert [first[c] for c in ("north_ift", "east_ift", "ellipsoidal_height_ift")] == [
        "1.0000",
        "10.0000",
        "100.0000",
    ]
    (_, second) = rows(write_control_csv(points("sft", grid=grid)))
    assert second["north_sft"] == "1.0000"
    assert second["ellipsoidal_height_sft"] == "0.0000"  # no minus before zero


def test_csv_of_a_site_grid_names_its_height_datum():
    text = write_control_csv(
        points(
            geodetic=np.full((2, 3), np.nan),
            frame="site grid",
            frame_epsg=None,
            epoch=None,
            height_kind="SITE 1",
        )
    )
    (first, _) = rows(text)
    assert first["height_datum"] == "SITE 1"
    assert "height_m" in first
    assert "ellipsoidal_height_m" not in first
    assert first["frame_epsg"] == ""


def test_marks_that_nothing_checks_are_named():
    given = points(unchecked=("", "height"))
    text = write_control_csv(given)
    assert 'would not show: SLIP, "EAST" (height)' in text
    features = json.loads(write_geojson(given))["features"]
    assert [f["properties"]["unchecked"] for f in features] == ["", "height"]
    assert "would not show: none" in write_control_csv(points(unchecked=("", "")))
    assert "would not show" not in write_control_csv(points())  # nothing is claimed


def test_the_sds_say_whose_variance_factor_they_have():
    assert "stated: variance factor 1" in write_control_csv(points())
    text = write_geojson(points(covariance_kind="estimated"))
    kinds = {f["properties"]["covariance_kind"] for f in json.loads(text)["features"]}
    assert kinds == {"estimated"}


def test_what_is_not_estimated_is_empty_never_zero():
    covariance = np.full((2, 3, 3), np.nan)
    (first, _) = rows(write_control_csv(points(covariance=covariance)))
    assert first["sd_north_mm"] == ""
    feature = json.loads(write_geojson(points(covariance=covariance)))["features"][0]
    assert feature["properties"]["sd_north_mm"] is None


def test_geojson_is_as_rfc_7946_says():
    """§3.1.1 longitude, latitude, height; §3.2, §3.3; §4: no crs member."""
    text = write_geojson(points())
    collection = json.loads(text)
    assert collection["type"] == "FeatureCollection"
    assert "crs" not in collection
    for feature in collection["features"]:
        assert feature["type"] == "Feature"
        assert set(feature) == {"type", "id", "geometry", "properties"}
        assert feature["geometry"]["type"] == "Point"
        longitude, latitude, _ = feature["geometry"]["coordinates"]
        assert -180 <= longitude <= 180
        assert -90 <= latitude <= 90
    first = collection["features"][0]
    assert first["geometry"]["coordinates"] == [136.015, -34.61, 20.5]


def test_geojson_keeps_the_survey_values_in_the_properties():
    given = points()
    collection = json.loads(write_geojson(given))
    properties = collection["features"][1]["properties"]
    assert "display" in collection["note"]
    assert properties["note"] == collection["note"]
    for k, key in enumerate(("north_m", "east_m", "ellipsoidal_height_m")):
        assert properties[key] == pytest.approx(given.grid[1, k], abs=5e-6)
    assert properties["covariance_enu_mm2"] == [[9, 0, 0], [0, 16, 0], [0, 0, 144]]
    assert properties["frame_epsg"] == 7843
    assert properties["epoch_year"] == 2020.0
    assert "EPSG:7853" in properties["frame"]


def test_a_site_grid_is_not_put_on_the_globe():
    with pytest.raises(CommandError, match="no longitude and latitude"):
        write_geojson(points(geodetic=np.full((2, 3), np.nan)))


def test_the_same_input_gives_the_same_bytes():
    assert write_geojson(points()) == write_geojson(points())
    assert write_control_csv(points()) == write_control_csv(points())


def test_the_registry_lists_every_format_once():
    names = [some.name for some in FORMATS]
    assert len(set(names)) == len(names)
    assert [line.split()[0] for line in formats_help().splitlines()] == names
    assert all(some.reads or some.writes for some in FORMATS)


@pytest.fixture(scope="module")
def solution():
    return read_sinex(REAL / "STR1.SNX")


def test_a_solution_becomes_two_tables_without_rounding(solution):
    """Coordinates and the whole covariance come back as they stand in the file."""
    tables = position_tables(solution, frame_epsg=9988, name="day333")
    assert sorted(tables) == ["covariances/day333.csv", "positions/day333.csv"]
    positions = rows(tables["positions/day333.csv"])
    assert [row["station"] for row in positions] == list(solution.station)
    xyz = [[float(row[f"{axis}_m"]) for axis in "xyz"] for row in positions]
    np.testing.assert_array_equal(xyz, solution.xyz)
    assert {row["frame_epsg"] for row in positions} == {"9988"}
    heading, *triangle = csv.reader(tables["covariances/day333.csv"].splitlines())
    assert heading[0] == "positions cov_mm2"
    keys = [row["position"] for row in positions]
    assert heading[1:] == [f"{key} {axis}" for key in keys for axis in "xyz"]
    assert [line[0] for line in triangle] == heading[1:]
    whole = np.zeros_like(solution.covariance)
    for k, line in enumerate(triangle):
        whole[k, : k + 1] = whole[: k + 1, k] = [float(cell) for cell in line[1:]]
    np.testing.assert_allclose(whole / 1e6, solution.covariance, rtol=1e-15)
    for k, row in enumerate(positions):
        block = whole[3 * k : 3 * k + 3, 3 * k : 3 * k + 3]
        pairs = ("xx", "xy", "xz", "yy", "yz", "zz")
        own = [float(row[f"cov_{pair}_mm2"]) for pair in pairs]
        assert own == block[np.triu_indices(3)].tolist()


def test_only_the_stations_asked_for_are_written(solution):
    tables = position_tables(
        solution, frame_epsg=9988, name="two", stations=("STR1", "STR2")
    )
    assert [row["station"] for row in rows(tables["positions/two.csv"])] == [
        "STR1",
        "STR2",
    ]
    heading, *triangle = csv.reader(tables["covariances/two.csv"].splitlines())
    alone = position_tables(solution, frame_epsg=9988, name="one", stations=("STR1",))
    assert list(alone) == ["positions/one.csv"]
    assert len(heading) == 1 + 6
    assert [len(line) for line in triangle] == [2, 3, 4, 5, 6, 7]


def test_a_job_of_heights_says_nothing_of_plan(tmp_path, capsys):
    job = tmp_path / "job"
    assert main(["new", str(job), "--example", "tramway"]) == 0
    assert main(["--job", str(job), "export", "--csv"]) in (0, 1)
    text = (job / "reports" / "control.csv").read_text("utf-8")
    (line,) = [row for row in text.splitlines() if row.startswith("# unchecked")]
    assert "plan" not in line
    capsys.readouterr()


def test_pieces_are_the_whole_and_json_as_the_standard_library_sets_it(monkeypatch):
    from brasscap.io.formats import control_csv, geojson

    whole = write_control_csv(points()), write_geojson(points())
    assert whole[1] == dumped(json.loads(whole[1]))
    for module in (control_csv, geojson):
        monkeypatch.setattr(module, "PIECE", 1)
    pieces = list(control_csv.control_csv_pieces(points()))
    assert len(pieces) == 3
    assert "".join(pieces) == whole[0]
    assert "".join(geojson.geojson_pieces(points())) == whole[1]


def dumped(thing):
    return json.dumps(thing, ensure_ascii=False, indent=1) + "\n"
