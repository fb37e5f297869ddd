"""Job folders become networks: every number of the tables comes through.

At latitude 0, longitude 0 the axes are seen by eye: east is Y, north is Z, up is X.
Most jobs here stand there, on a sphere's worth of simple arithmetic.
"""

import json
import struct
from pathlib import Path

import numpy as np
import pytest

from brasscap.io.tables.load import load
from brasscap.networks import InputError
from brasscap.networks.covariances import blocks

TESTS = Path(__file__).parent
TEXTBOOK = TESTS / "jobs" / "gnss_textbook_two_control_13_vectors"

A = 6378137.0
"""Semi-major axis of GRS 80, m: X of height 0 at latitude 0, longitude 0."""
JOB = """schema = 1
[job]
title = "t"
[frame]
kind = "geodetic"
geographic_epsg = 6319
epoch = 2010.0
"""
CONTROL = f"station,use_plan,use_height,x_m,y_m,z_m\nA,held,held,{A},0,0\n"
VECTOR = "baseline,from_station,to_station,dx_m,dy_m,dz_m,sd_x_mm,sd_y_mm,sd_z_mm"
TWO = f"{VECTOR}\nV1,A,B,10,200,300,5,6,7\nV2,A,B,10,200,300,5,6,7\n"


@pytest.fixture
def job(tmp_path):
    """Return a function that writes a job folder from tables and loads it."""

    def write(toml: str = JOB, **tables: str):
        (tmp_path / "job.toml").write_text(toml, "utf-8")
        for name, text in tables.items():
            (tmp_path / f"{name}.csv").write_text(text, "utf-8")
        return load(tmp_path)

    write.folder = tmp_path
    return write


def faults(call, **tables):
    """Return the faults of a job that must not load, slug to the first finding."""
    with pytest.raises(InputError) as caught:
        call(**tables)
    found = [f for f in caught.value.findings if f.verdict == "fault"]
    return {f.slug: f for f in reversed(found)}


def slugs(loaded, verdict="query"):
    return [f.slug for f in loaded.findings if f.verdict == verdict]


def own(kind):
    return blocks(kind.covariances, len(kind), 3)


# ---- the textbook network


def test_the_textbook_network_comes_through():
    """Ghilani and Wolf, Adjustment Computations, ch. 17: 13 vectors, two known."""
    case = json.loads((TESTS / "cases" / f"{TEXTBOOK.name}.json").read_text("utf-8"))
    loaded = load(TEXTBOOK)
    network = loaded.network
    assert slugs(loaded) == ["no-set-ups"]
    assert set(network.marks.name) == set(case["stations"])
    booked = own(network.vectors)
    for i, observation in enumerate(case["observations"]):
        ends = [network.node_name(int(n)) for n in (network.vectors.start[i],)]
        assert ends == [observation["from"]]
        assert network.vectors.delta[i].tolist() == observation["dxyz"]
        six = booked[i][np.triu_indices(3)]
        expected = observation["cov_xx_xy_xz_yy_yz_zz"]
        assert np.allclose(six, expected, rtol=1e-12, atol=0)
    known = network.known
    for i, mark in enumerate(known.mark):
        xyz = case["stations"][network.marks.name[mark]]["xyz"]
        assert known.xyz[i].tolist() == xyz
    assert known.in_use("held").all()


# ---- vectors


def test_sds_and_correlations_become_a_covariance(job):
    text = f"{VECTOR},corr_xy,corr_yz\nV1,A,B,1,2,3,5,6,7,0.5,-0.25\n"
    covariance = own(job(control=CONTROL, baselines=text).network.vectors)[0] * 1e6
    by_hand = [[25, 15, 0], [15, 36, -10.5], [0, -10.5, 49]]
    assert np.allclose(covariance, by_hand, rtol=1e-12)


def test_east_north_up_is_turned_at_its_horizon(job):
    """By eye at latitude 0, longitude 0: dx is up, dy east, dz north."""
    text = (
        "baseline,from_station,to_station,de_m,dn_m,du_m,horizon_at,"
        "cov_ee_mm2,cov_en_mm2,cov_eu_mm2,cov_nn_mm2,cov_nu_mm2,cov_uu_mm2\n"
        "V1,A,B,200,300,10,A,4,1,2,9,3,16\n"
    )
    vectors = job(control=CONTROL, baselines=text).network.vectors
    assert np.allclose(vectors.delta, [[10, 200, 300]], rtol=0, atol=1e-9)
    by_eye = [[16, 2, 3], [2, 4, 1], [3, 1, 9]]
    assert np.allclose(own(vectors)[0] * 1e6, by_eye, atol=1e-9)


def test_a_horizon_may_be_reached_by_other_vectors(job):
    """B, 90 degrees round the equator, is known only by V1: there dx is minus east."""
    text = (
        "baseline,from_station,to_station,dx_m,dy_m,dz_m,de_m,dn_m,du_m,horizon_at,"
        "sd_x_mm,sd_y_mm,sd_z_mm\n"
        f"V1,A,B,{-A},{A},0,,,,,5,5,5\nV2,B,C,,,,7,8,9,B,5,5,5\n"
    )
    vectors = job(control=CONTROL, baselines=text).network.vectors
    assert np.allclose(vectors.delta[1], [-7, 9, 8], rtol=0, atol=1e-8)


def test_a_group_multiplies_plan_and_height_apart(job):
    """By eye: at latitude 0, longitude 0 height is X; 5 mm × 3, 6 and 7 mm × 2."""
    toml = JOB + "[group.fast]\nsd_multiplier_plan = 2\nsd_multiplier_height = 3\n"
    text = (
        f"{VECTOR},corr_xy,group\nV1,A,B,1,2,3,5,6,7,0.5,fast\nV2,A,B,1,2,3,5,6,7,,\n"
    )
    vectors = job(toml, control=CONTROL, baselines=text).network.vectors
    sd = np.sqrt(np.diagonal(own(vectors), axis1=1, axis2=2)) * 1000
    assert np.allclose(sd, [[15, 12, 14], [5, 6, 7]], atol=1e-6)
    assert own(vectors)[0, 0, 1] / (0.015 * 0.012) == pytest.approx(0.5, abs=1e-6)


SESSION = (
    "baseline,session,from_station,to_station,dx_m,dy_m,dz_m,sd_x_mm,sd_y_mm,sd_z_mm\n"
    "V1,S,A,B,1,2,3,5,5,5\nV2,S,A,C,1,2,4,5,5,5\n"
)


def cross(rows: dict[tuple[str, str], float], first="V1", second="V2") -> str:
    lines = [
        f"baselines,{first},{a},{second},{b},{value}\n"
        for (a, b), value in rows.items()
    ]
    return "table,row,row_axis,column,column_axis,cov_mm2\n" + "".join(lines)


def test_a_session_is_one_cluster_with_its_cross_covariance(job):
    values = {(a, b): 10.0 * (a == b) + (a == "x") for a in "xyz" for b in "xyz"}
    network = job(control=CONTROL, baselines=SESSION, covariances=cross(values)).network
    (batch,) = network.vectors.covariances
    block = batch.matrix[0, :3, 3:] * 1e6
    assert np.allclose(block, [[11, 1, 1], [0, 10, 0], [0, 0, 10]])
    assert np.allclose(batch.matrix[0, 3:, :3], batch.matrix[0, :3, 3:].T)


def test_cross_covariance_in_east_north_up_is_turned(job):
    """By eye: east-north 10 mm² is y-z at latitude 0, longitude 0."""
    values = {(a, b): 10.0 * ((a, b) == ("e", "n")) for a in "enu" for b in "enu"}
    network = job(control=CONTROL, baselines=SESSION, covariances=cross(values)).network
    (batch,) = network.vectors.covariances
    assert np.allclose(
        batch.matrix[0, :3, 3:] * 1e6, [[0, 0, 0], [0, 0, 10], [0, 0, 0]]
    )


def test_a_matrix_file_gives_a_session(job):
    folder = job.folder / "covariances"
    folder.mkdir()
    labels = [f"{v} {a}" for v in ("V1", "V2") for a in "xyz"]
    matrix = np.eye(6) * 25.0
    matrix[3:, :3] = np.eye(3) * 12.0
    lines = [",".join(["baselines mm2", *labels])]
    for i, label in enumerate(labels):
        lines.append(",".join([label, *(str(v) for v in matrix[i, : i + 1])]))
    (folder / "S.csv").write_text("\n".join(lines) + "\n", "utf-8")
    (batch,) = job(control=CONTROL, baselines=SESSION).network.vectors.covariances
    assert np.allclose(batch.matrix[0, :3, 3:] * 1e6, np.eye(3) * 12.0)


def test_a_session_must_give_all_of_its_pairs(job):
    values = {(a, b): 0.0 for a in "xyz" for b in "xyz" if (a, b) != ("z", "y")}
    text = cross(values)
    found = faults(job, control=CONTROL, baselines=SESSION, covariances=text)
    assert "fewer than nine" in found["session-covariance-incomplete"].booked
    three = SESSION + "V3,S,B,C,0,0,1,5,5,5\n"
    full = {(a, b): 0.0 for a in "xyz" for b in "xyz"}
    found = faults(job, control=CONTROL, baselines=three, covariances=cross(full))
    assert "2 pairs not given" in found["session-covariance-incomplete"].booked


def test_a_session_covariance_that_is_not_positive(job):
    """By hand: 25 on the diagonal and 26 across has eigenvalue 25 − 26 = −1 mm²."""
    values = {(a, b): 26.0 * (a == b) for a in "xyz" for b in "xyz"}
    text = cross(values)
    found = faults(job, control=CONTROL, baselines=SESSION, covariances=text)
    assert "smallest eigenvalue -1 mm2" in found["covariance-not-positive"].against


def test_a_single_covariance_that_is_not_positive(job):
    """A row with xx 61.2, xy 94.1, yy 88.0: by hand, −20.4 mm²."""
    text = (
        "baseline,from_station,to_station,dx_m,dy_m,dz_m,cov_xx_mm2,cov_xy_mm2,"
        "cov_xz_mm2,cov_yy_mm2,cov_yz_mm2,cov_zz_mm2\n"
        "V1,A,B,1,2,3,61.2,94.1,0,88.0,0,10\n"
    )
    found = faults(job, control=CONTROL, baselines=text)["covariance-not-positive"]
    assert "smallest eigenvalue -20.4" in found.against
    assert "|cov x y| must be below 73.39 mm2" in found.against
    assert (found.file, found.row) == ("baselines.csv", 2)


@pytest.mark.parametrize(
    ("lines", "slug"),
    [
        ("baselines,V1,x,V1,y,1\n", "covariance-own-block"),
        ("baselines,V1,x,V2,north,1\n", "covariance-axes"),
        ("baselines,V1,x,V2,y,1\nbaselines,V2,y,V1,x,2\n", "covariance-contradicts"),
        ("baselines,V1,x,V3,y,1\n", "unknown-name"),
    ],
)
def test_cross_covariances_that_cannot_be(job, lines, slug):
    text = "table,row,row_axis,column,column_axis,cov_mm2\n" + lines
    assert slug in faults(job, control=CONTROL, baselines=SESSION, covariances=text)


def test_a_vector_to_itself_and_unknown_names(job):
    text = f"{VECTOR}\nV1,A,A,1,2,3,5,5,5\nV2,A,PILAR 1,1,2,3,5,5,5\n"
    stations = "station\nA\nPILLAR 1\n"
    found = faults(job, control=CONTROL, baselines=text, stations=stations)
    assert set(found) == {"vector-to-itself", "unknown-name"}
    assert found["unknown-name"].likely == "PILLAR 1"
    assert found["unknown-name"].row == 3


def test_an_alias_is_the_mark(job):
    text = TWO.replace("A,B", "A,Bee")
    names = "name_used,station,reason\nBee,B,spelling\n"
    stations = "station\nA\nB\n"
    network = job(
        control=CONTROL, baselines=text, names=names, stations=stations
    ).network
    assert network.marks.name == ("A", "B")


def test_a_vector_of_another_frame_needs_a_stated_operation(job):
    text = f"{VECTOR},frame_epsg\nV1,A,B,1000,0,0,5,5,5,7912\nV2,A,B,1000,0,0,5,5,5,\n"
    found = faults(job, control=CONTROL, baselines=text)
    assert "NAD83" in found["frame-differs"].against
    way = "+proj=helmert +x=9 +rz=1 +convention=position_vector"
    toml = JOB + f'transformations = [{{from_epsg = 7912, operation = "{way}"}}]\n'
    vectors = job(toml, control=CONTROL, baselines=text).network.vectors
    # By hand: 1 arcsecond about Z turns 1 km by 4.848 mm; the shift falls out.
    assert np.allclose(vectors.delta[0], [1000, 0.0048481, 0], rtol=0, atol=1e-7)
    assert vectors.delta[1].tolist() == [1000, 0, 0]


def test_a_vectors_own_epoch_costs_nothing(job):
    text = f"{VECTOR},frame_epsg,epoch_year\nV1,A,B,1,2,3,5,5,5,6317,2024.5\n"
    assert len(job(control=CONTROL, baselines=text).network.vectors) == 1


# ---- set-ups

SET_UPS = (
    "set_up,station,support,antenna,height_m,reading,measured_to\n"
    "S1,A,tripod,,1.5,vertical,reference point\n"
    "S2,B,tripod,ANT,1.5,slant,slant mark\n"
)
ANTENNAS = "antenna,slant_radius_m,offset_m\nANT,0.17,0.04\n"
BY_SET_UP = (
    "baseline,from_set_up,to_set_up,dx_m,dy_m,dz_m,sd_x_mm,sd_y_mm,sd_z_mm,"
    "vector_between"
)


def test_heights_reduce_a_vector_between_reference_points(job):
    """√(1.5² − 0.17²) is 1.4903 m (standard formula, by hand), less 0.04."""
    text = f"{BY_SET_UP}\nV1,S1,S2,1,2,3,5,5,5,reference points\n"
    network = job(
        control=CONTROL, set_ups=SET_UPS, antennas=ANTENNAS, baselines=text
    ).network
    assert network.vectors.start_offset[0] == 1.5
    assert network.vectors.end_offset[0] == pytest.approx(1.4503, abs=5e-5)
    assert network.set_ups.reduction == ("", "√(1.5000² − 0.1700²) − 0.0400 = 1.4503 m")
    assert network.node_name(int(network.vectors.end[0])) == "S2"
    assert network.set_ups.sd_centring.tolist() == [0.001, 0.001]
    assert network.set_ups.sd_height.tolist() == [0.0015, 0.0015]


def test_a_vector_between_marks_is_moved_to_the_booked_height(job):
    text = (
        f"{BY_SET_UP},height_used_from_m,height_used_to_m\n"
        "V1,S1,S2,1,2,3,5,5,5,marks,1.47,1.4503\n"
    )
    loaded = job(control=CONTROL, set_ups=SET_UPS, antennas=ANTENNAS, baselines=text)
    assert loaded.network.vectors.start_offset[0] == pytest.approx(0.03)
    assert loaded.network.vectors.end_offset[0] == pytest.approx(0.0, abs=5e-5)
    (note,) = [f for f in loaded.findings if f.slug == "moved-to-booked-height"]
    assert "V1 from +30.0 mm" in note.booked
    text = f"{BY_SET_UP}\nV1,S1,S2,1,2,3,5,5,5,marks\n"
    loaded = job(control=CONTROL, set_ups=SET_UPS, antennas=ANTENNAS, baselines=text)
    assert "height-used-not-stated" in slugs(loaded)
    assert loaded.network.vectors.start_offset[0] == 0.0


def test_what_a_vector_joins_has_no_default(job):
    text = f"{BY_SET_UP}\nV1,S1,S2,1,2,3,5,5,5,\n"
    found = faults(
        job, control=CONTROL, set_ups=SET_UPS, antennas=ANTENNAS, baselines=text
    )
    assert set(found) == {"vector-between-not-stated"}


@pytest.mark.parametrize(
    ("old", "new", "slug"),
    [
        ("tripod,ANT", "tripod,BNT", "antenna-not-known"),
        ("slant,slant mark", "slant,reference point", "reading-contradicts"),
        ("ANT,1.5,slant", "ANT,0.1,slant", "slant-too-short"),
        ("S2,B,tripod", "S2,B,monopod", "support-not-known"),
        ("S2,B,", "S2,,", "set-up-without-station"),
        ("S2,B,", "S9,B,", "unknown-name"),
        ("ANT,1.5,slant,slant mark", "ANT,,,", "height-missing"),
    ],
)
def test_set_ups_that_cannot_be_used(job, old, new, slug):
    text = f"{BY_SET_UP}\nV1,S1,S2,1,2,3,5,5,5,reference points\n"
    changed = SET_UPS.replace(old, new)
    assert changed != SET_UPS
    found = faults(
        job, control=CONTROL, set_ups=changed, antennas=ANTENNAS, baselines=text
    )
    assert slug in found


def test_a_row_overrides_its_support_and_zero_is_exact(job):
    text = (
        "set_up,station,support,height_m,reading,sd_centring_mm,sd_height_mm\n"
        "S1,A,tripod,1.5,vertical,0,\nS2,B,,1.5,fixed pole,3,2\n"
    )
    lines = f"{BY_SET_UP}\nV1,S1,S2,1,2,3,5,5,5,reference points\n"
    set_ups = job(control=CONTROL, set_ups=text, baselines=lines).network.set_ups
    assert set_ups.sd_centring.tolist() == [0.0, 0.003]
    assert set_ups.sd_height.tolist() == [0.0015, 0.002]


def test_forced_centring_is_one_set_up(job):
    text = (
        "set_up,station,support,height_m,reading,forced_centring\n"
        "S1,A,tripod,1.5,vertical,T\nS2,A,tripod,1.7,vertical,T\n"
        "S3,B,tripod,1.4,vertical,\n"
    )
    lines = (
        f"{BY_SET_UP}\nV1,S1,S3,1,2,3,5,5,5,reference points\n"
        "V2,S2,S3,1,2,3,5,5,5,reference points\n"
    )
    network = job(control=CONTROL, set_ups=text, baselines=lines).network
    assert network.set_ups.name == ("T", "S3")
    assert network.vectors.start.tolist() == [2, 2]
    assert network.vectors.start_offset.tolist() == [1.5, 1.7]
    other = text.replace("S2,A", "S2,B")
    found = faults(job, control=CONTROL, set_ups=other, baselines=lines)
    assert "forced-centring-differs" in found


def test_a_station_must_be_that_of_its_set_up(job):
    lines = (
        "baseline,from_set_up,from_station,to_station,dx_m,dy_m,dz_m,"
        "sd_x_mm,sd_y_mm,sd_z_mm,vector_between\nV1,S1,B,B,1,2,3,5,5,5,marks\n"
    )
    found = faults(
        job, control=CONTROL, set_ups=SET_UPS, antennas=ANTENNAS, baselines=lines
    )
    assert "ends-differ" in found


# ---- known marks


def known(job, text, toml=JOB, **tables):
    return job(toml, control=text, baselines=TWO, **tables).network.known


def test_sds_of_a_known_mark_are_east_north_up(job):
    text = (
        CONTROL.splitlines()[0]
        + ",sd_north_mm,sd_east_mm,sd_height_mm,corr_north_east,stated_at\n"
        + f"A,weighted,weighted,{A},0,0,4,5,8,0.5,\nB,weighted,weighted,{A},200,300,"
        "1.959964,3.919928,3.919928,,95 %\n"
    )
    covariance = own(known(job, text)) * 1e6
    assert np.allclose(covariance[0], [[25, 10, 0], [10, 16, 0], [0, 0, 64]])
    # 95 % of one component is 1.959964 sd (NIST/SEMATECH e-Handbook, 1.3.6.7.1).
    assert np.allclose(np.diagonal(covariance[1]), [4, 1, 4])


def test_a_geocentric_covariance_is_turned(job):
    """By eye at latitude 0, longitude 0: xx is up, yy east, zz north."""
    text = (
        CONTROL.splitlines()[0]
        + ",cov_xx_mm2,cov_xy_mm2,cov_xz_mm2,cov_yy_mm2,cov_yz_mm2,cov_zz_mm2\n"
        + f"A,weighted,weighted,{A},0,0,16,2,3,4,1,9\n"
    )
    covariance = own(known(job, text))[0] * 1e6
    assert np.allclose(covariance, [[4, 1, 2], [1, 9, 3], [2, 3, 16]], atol=1e-9)


def test_grid_sds_are_turned_by_the_convergence(job):
    """The convergence is PROJ's own figure (proj_factors), 2.6 degrees west here."""
    from pyproj import Proj

    latitude, longitude = 60.0, -108.0
    angle = np.radians(
        Proj("EPSG:6342").get_factors(longitude, latitude).meridian_convergence
    )
    toml = JOB + "grid_epsg = 6342\n"
    text = (
        "station,use_plan,use_height,latitude_deg,longitude_deg,"
        "ellipsoidal_height_m,sd_north_mm,sd_east_mm,sd_height_mm,sd_axes\n"
        f"A,weighted,weighted,{latitude},{longitude},100,2,10,5,grid\n"
    )
    covariance = own(known(job, text, toml))[0] * 1e6
    # Grid north is at the azimuth of the convergence (positive east of true north).
    north = np.array([np.sin(angle), np.cos(angle)])
    east = np.array([np.cos(angle), -np.sin(angle)])
    expected = 4 * np.outer(north, north) + 100 * np.outer(east, east)
    assert abs(expected[0, 1]) > 1.0
    assert np.allclose(covariance[:2, :2], expected, rtol=0, atol=1e-4)
    assert covariance[2, 2] == pytest.approx(25)


def test_known_marks_may_be_correlated(job):
    text = (
        CONTROL.splitlines()[0] + ",sd_north_mm,sd_east_mm,sd_height_mm\n"
        f"A,weighted,weighted,{A},0,0,4,4,8\n"
        f"B,weighted,weighted,{A + 10},200,300,4,4,8\n"
    )
    entry = "table,row,row_axis,column,column_axis,cov_mm2\n"
    entry += "control,A,height,B,height,20\n"
    (batch,) = known(job, text, covariances=entry).covariances
    expected = np.diag([16.0, 16, 64, 16, 16, 64])
    expected[2, 5] = expected[5, 2] = 20
    assert np.allclose(batch.matrix[0] * 1e6, expected)


def test_the_ways_to_book_a_place_agree(job):
    """PROJ's projection and geocentric conversion: one mark, booked in three ways."""
    toml = JOB + "grid_epsg = 6342\n"
    from pyproj import Proj

    longitude, latitude = -105.0, 40.0
    east, north = Proj("EPSG:6342")(longitude, latitude)
    header = "station,use_plan,use_height,latitude_deg,longitude_deg,"
    text = (
        f"{header}north_m,east_m,ellipsoidal_height_m,frame_epsg\n"
        f"A,held,held,{latitude},{longitude},,,1600,\n"
        f"B,held,held,,,{north!r},{east!r},1600,\n"
        f"C,held,held,,,{north!r},{east!r},1600,6342\n"
    )
    rows = known(job, text, toml, stations="station\nA\nB\nC\n").xyz
    assert np.allclose(rows, rows[0], rtol=0, atol=1e-6)


@pytest.mark.parametrize(
    ("row", "slug"),
    [
        ("A,weighted,weighted,40,-105,1600,,,", "sd-missing"),
        ("A,held,held,,,1600,,,", "use-without-value"),
        ("A,held,held,40,-105,,,,", "use-without-value"),
        ("A,held,held,40,-105,1600,7912,,", "frame-differs"),
        ("A,held,held,40,-105,1600,99999,,", "frame-unknown"),
        ("A,held,held,40,-105,1600,,2010.2,", "epoch-differs"),
        ("A,held,,40,-105,,,,5", "geoid-not-stated"),
        ("A,held,held,40,-105,52493000,,,", "position-not-on-earth"),
    ],
)
def test_known_marks_that_cannot_be_used(job, row, slug):
    text = (
        "station,use_plan,use_height,latitude_deg,longitude_deg,"
        f"ellipsoidal_height_m,frame_epsg,epoch_year,height_m\n{row}\n"
    )
    assert slug in faults(job, control=text, baselines=TWO)


def test_limits_of_the_epoch(job):
    """0.0125 and 0.125 year, as the contract of the tables states them."""
    text = CONTROL.replace("z_m\n", "z_m,epoch_year\n").replace(",0,0\n", ",0,0,{}\n")
    assert "epoch-differs" not in slugs(
        job(control=text.format(2010.012), baselines=TWO)
    )
    assert "epoch-differs" in slugs(job(control=text.format(2010.1), baselines=TWO))
    assert "epoch-differs" in faults(job, control=text.format(2010.13), baselines=TWO)


def test_a_stated_operation_brings_control_over(job):
    way = "+proj=helmert +x=1 +y=2 +z=3"
    toml = JOB + (
        f"transformations = [{{from_epsg = 7912, from_epoch = 2015.0, "
        f'operation = "{way}"}}]\n'
    )
    text = CONTROL.replace("z_m\n", "z_m,frame_epsg,epoch_year\n")
    text = text.replace(",0,0\n", ",0,0,7912,2015\n")
    assert known(job, text, toml).xyz[0].tolist() == [A + 1, 2, 3]
    elsewhere = text.replace("2015", "2016")
    found = faults(lambda **t: job(toml, **t), control=elsewhere, baselines=TWO)
    assert "frame-differs" in found


def test_an_empty_use_is_check_only_and_a_query(job):
    text = CONTROL + f"B,,,{A + 10},200,300\n"
    loaded = job(control=text, baselines=TWO)
    assert slugs(loaded).count("use-not-stated") == 2
    assert loaded.network.known.use_plan == ("held", "")


def test_a_benchmark_is_a_height_alone(job):
    """H + N: 12.345 above the geoid, the geoid 30.1 below the ellipsoid."""
    toml = JOB + 'geoid = "table"\nheight_datum = "D"\n'
    text = (
        "station,use_plan,use_height,x_m,y_m,z_m,height_m,height_datum\n"
        f"A,held,held,{A},0,0,,\nB,,held,,,,12.345,D\n"
    )
    geoid = "station,undulation_m,sd_undulation_mm\nB,-30.1,{}\n"
    loaded = job(toml, control=text, baselines=TWO, geoid=geoid.format(0))
    rows = loaded.network.known
    assert rows.components.tolist() == [[True] * 3, [False, False, True]]
    assert loaded.network.frame.heights(rows.xyz)[1] == pytest.approx(-17.755, abs=1e-8)
    assert rows.use_height == ("held", "held")
    loaded = job(toml, control=text, baselines=TWO, geoid=geoid.format(20))
    rows = loaded.network.known
    assert rows.use_height == ("held", "weighted")
    assert own(rows)[1, 2, 2] == pytest.approx(0.02**2)
    assert "held-height-weighted" in slugs(loaded, "note")


def test_an_undulation_adds_to_a_weighted_height(job):
    """By hand: √(3² + 4²) = 5 mm."""
    toml = JOB + 'geoid = "table"\n'
    text = (
        "station,use_plan,use_height,x_m,y_m,z_m,height_m,height_datum,sd_height_mm\n"
        f"A,held,held,{A},0,0,,,\nB,,weighted,,,,12.345,D,3\n"
    )
    geoid = "station,undulation_m,sd_undulation_mm\nB,-30.1,4\n"
    rows = known(job, text, toml, geoid=geoid)
    assert own(rows)[1, 2, 2] == pytest.approx(0.005**2)


def test_a_geoid_file_serves_and_its_absence_is_named(job):
    """A grid of −30 m everywhere: bilinear interpolation gives −30 m."""
    toml = JOB + 'geoid = "g.gtx"\ngeoid_sd_mm = 0\n'
    text = (
        "station,use_plan,use_height,x_m,y_m,z_m,height_m,height_datum\n"
        f"A,held,held,{A},0,0,,\nB,,held,,,,12.345,D\n"
    )
    found = faults(lambda **t: job(toml, **t), control=text, baselines=TWO)
    assert any("g.gtx" in f.booked + f.about for f in found.values())
    head = struct.pack(">4d2i", -1.0, -1.0, 1.0, 1.0, 3, 3)
    (job.folder / "g.gtx").write_bytes(head + struct.pack(">9f", *[-30.0] * 9))
    network = job(toml, control=text, baselines=TWO).network
    height = network.frame.heights(network.known.xyz)[1]
    assert height == pytest.approx(-17.655, abs=1e-6)
    without = toml.replace("geoid_sd_mm = 0\n", "")
    found = faults(lambda **t: job(without, **t), control=text, baselines=TWO)
    assert "key-missing" in found


# ---- positions


def test_positions_come_through(job):
    text = (
        "position,station,x_m,y_m,z_m,sd_north_mm,sd_east_mm,sd_height_mm,group\n"
        f"P1,B,{A + 10},200,300,7,6,5,rt\n"
    )
    toml = JOB + "[group.rt]\nsd_multiplier_plan = 2\nsd_multiplier_height = 3\n"
    positions = job(
        toml, control=CONTROL, baselines=TWO, positions=text
    ).network.positions
    assert positions.name == ("P1",)
    assert positions.xyz[0].tolist() == [A + 10, 200, 300]
    sd = np.sqrt(np.diagonal(own(positions)[0])) * 1000
    assert np.allclose(sd, [12, 14, 15])
    without = text.replace(",7,6,5,", ",,,,")
    found = faults(job, control=CONTROL, baselines=TWO, positions=without)
    assert "sd-missing" in found


def test_positions_close_in_time_are_one_observation(job):
    text = (
        "position,station,x_m,y_m,z_m,sd_north_mm,sd_east_mm,sd_height_mm,start_utc\n"
        f"P1,B,{A},200,300,7,6,5,2026-05-14T10:00:00Z\n"
        f"P2,B,{A},200,300,7,6,5,2026-05-14T10:{{}}:00Z\n"
    )
    tables = {"control": CONTROL, "baselines": TWO}
    late, soon = text.format(20), text.format(19)
    apart, close = job(positions=late, **tables), job(positions=soon, **tables)
    assert "positions-partly-dependent" in slugs(apart)
    assert len(apart.network.positions) == 2
    assert "positions-not-independent" in [f.slug for f in close.findings]
    assert len(close.network.positions) == 1


def test_positions_close_in_time_are_meaned_with_the_larger_sd(job):
    """By hand: weights 1 and 1/4, 10 mm apart: 2 mm from the first; sd of the other."""
    text = (
        "position,station,x_m,y_m,z_m,sd_north_mm,sd_east_mm,sd_height_mm,start_utc\n"
        f"P1,B,{A},200,300.000,5,5,5,2026-05-14T10:00:00Z\n"
        f"P2,B,{A},200,300.010,10,10,10,2026-05-14T10:19:00Z\n"
        f"P3,B,{A},200,300.000,5,5,5,2026-05-14T10:45:00Z\n"
    )
    loaded = job(control=CONTROL, baselines=TWO, positions=text)
    positions = loaded.network.positions
    assert positions.name == ("P1 + P2", "P3")
    assert positions.xyz[0, 2] == pytest.approx(300.002, abs=1e-9)
    sd = np.sqrt(np.diagonal(own(positions)[0])) * 1000
    assert np.allclose(sd, 10)
    by_slug = {f.slug: f for f in loaded.findings}
    assert by_slug["positions-not-independent"].verdict == "note"
    # P3 is 45 minutes after the first of the two that are meaned.
    assert "positions-partly-dependent" not in by_slug
    sooner = text.replace("10:45", "10:44")
    found = job(control=CONTROL, baselines=TWO, positions=sooner).findings
    assert "positions-partly-dependent" in [f.slug for f in found]


# ---- local jobs

LOCAL = '[job]\ntitle = "t"\n[frame]\nkind = "local"\n'


def test_a_flat_site_grid(job):
    toml = "schema = 1\n" + LOCAL
    control = (
        "station,use_plan,use_height,north_m,east_m,height_m\nA,held,held,100,50,7\n"
    )
    lines = (
        "baseline,from_station,to_station,de_m,dn_m,du_m,horizon_at,sd_e_mm,sd_n_mm,"
        "sd_u_mm\nV1,A,B,3,4,5,A,6,7,8\n"
    )
    network = job(toml, control=control, baselines=lines).network
    assert network.known.xyz[0].tolist() == [50, 100, 7]
    assert network.vectors.delta[0].tolist() == [3, 4, 5]
    assert np.allclose(np.sqrt(np.diagonal(own(network.vectors)[0])) * 1000, [6, 7, 8])
    wrong = TWO
    found = faults(lambda **t: job(toml, **t), control=control, baselines=wrong)
    assert "vector-axes" in found
    found = faults(lambda **t: job(toml, **t), control=CONTROL, baselines=lines)
    assert "frame-differs" in found


def test_a_curved_site_grid_turns_a_vector_at_its_horizon(job):
    """By hand: level at the start, 1 km out a vector ends 1000²/2R = 78.5 mm high."""
    toml = (
        "schema = 1\n"
        + LOCAL
        + ('earth = "curved"\nlatitude_deg = 47\nreference_height_m = 0\n')
    )
    control = "station,use_plan,use_height,north_m,east_m,height_m\nA,held,held,0,0,0\n"
    lines = (
        "baseline,from_station,to_station,de_m,dn_m,du_m,horizon_at,sd_e_mm,sd_n_mm,"
        "sd_u_mm\nV1,A,B,1000,0,0,A,6,7,8\n"
    )
    network = job(toml, control=control, baselines=lines).network
    end = network.known.xyz[0] + network.vectors.delta[0]
    north, east, height = network.frame.grid(end[None])[0]
    radius = network.frame.radius
    assert height == pytest.approx(1000**2 / 2 / radius, abs=1e-5)
    assert north == pytest.approx(0, abs=1e-6)
    assert east == pytest.approx(1000 - 1000**3 / 3 / radius**2, abs=1e-6)
    without = toml.replace("reference_height_m = 0\n", "")
    found = faults(lambda **t: job(without, **t), control=control, baselines=lines)
    assert "key-missing" in found


def test_a_curved_job_too_large_is_a_fault(job):
    toml = (
        "schema = 1\n"
        + LOCAL
        + ('earth = "curved"\nlatitude_deg = 47\nreference_height_m = 0\n')
    )
    control = (
        "station,use_plan,use_height,north_m,east_m,height_m\n"
        "A,held,held,0,0,0\nB,held,held,20010,0,0\n"
    )
    lines = (
        "baseline,from_station,to_station,de_m,dn_m,du_m,horizon_at,sd_e_mm,sd_n_mm,"
        "sd_u_mm\nV1,A,B,1000,0,0,A,6,7,8\n"
    )
    found = faults(lambda **t: job(toml, **t), control=control, baselines=lines)
    assert "beyond-curved-limit" in found
