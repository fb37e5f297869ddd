"""Checks of what the tables say together: each query and fault by its slug.

Limits are common practice where nothing else is said; figures are by hand.
"""

import numpy as np
import pytest

from brasscap.io.tables.load import load
from brasscap.networks import InputError
from brasscap.networks.connections import hanging, pieces
from brasscap.networks.positions_use import classify

A = 6378137.0
JOB = """schema = 1
[job]
title = "t"
[frame]
kind = "geodetic"
geographic_epsg = 6319
epoch = 2010.0
grid_epsg = 6342
"""
CONTROL = f"station,use_plan,use_height,x_m,y_m,z_m\nA,held,held,{A},0,0\n"
VECTOR = "baseline,from_station,to_station,dx_m,dy_m,dz_m,sd_x_mm,sd_y_mm,sd_z_mm"
TWO = f"{VECTOR}\nV1,A,B,10,200,300,5,6,7\nV2,A,B,10,200,300,5,6,7\n"
SET_UP = "set_up,station,support,height_m,reading,measured_to"
BY_SET_UP = (
    "baseline,from_set_up,to_station,dx_m,dy_m,dz_m,sd_x_mm,sd_y_mm,sd_z_mm,"
    "vector_between\nV1,S1,B,1,2,3,5,5,5,marks\nV2,S1,B,1,2,3,5,5,5,marks\n"
)


@pytest.fixture
def check(tmp_path):
    """Return a function that writes a job folder and returns its findings by slug."""

    def write(toml: str = JOB, **tables: str):
        (tmp_path / "job.toml").write_text(toml, "utf-8")
        for name, text in tables.items():
            (tmp_path / f"{name}.csv").write_text(text, "utf-8")
        try:
            found = load(tmp_path, check_only=True).findings
        except InputError as error:
            found = error.findings
        return {f.slug: f for f in reversed(found)}

    write.folder = tmp_path
    return write


# ---- readings


def with_set_up(check, row, header="", **tables):
    text = f"{SET_UP}{header}\nS1,A,tripod,{row}\n"
    return check(control=CONTROL, baselines=BY_SET_UP, set_ups=text, **tables)


@pytest.mark.parametrize(
    ("feet", "disagree"),
    [
        # 5 ift is 1.524 m exactly; 3 mm + 0.5 mm + 0.15 mm of rounding is 3.65 mm.
        ("5.000", False),
        ("5.011", False),  # 3.35 mm
        ("5.012", True),  # 3.66 mm
        ("4.987", True),
    ],
)
def test_two_readings_of_a_height(check, feet, disagree):
    found = with_set_up(check, f"1.524,vertical,,{feet}", ",height_second_reading_ift")
    assert ("readings-disagree" in found) is disagree


def test_the_gap_of_two_readings_is_said(check):
    """5.305 ift is 1.616964 m, 54.0 mm from 1.671 m."""
    found = with_set_up(check, "1.671,vertical,,5.305", ",height_second_reading_ift")
    query = found["readings-disagree"]
    assert query.verdict == "query"
    assert query.against.startswith("54.0 mm apart")
    assert "height_second_reading_ift 5.305" in query.booked


def test_a_height_read_after(check):
    found = with_set_up(check, "1.500,vertical,,1.505", ",height_after_m")
    assert "5.0 mm apart" in found["readings-disagree"].against


def test_a_slant_taken_for_a_vertical_is_named(check):
    """1.5 m slant on 0.17 m is 1.4903 m: that is the other reading."""
    antennas = "antenna,slant_radius_m,offset_m\nANT,0.17,0\n"
    found = with_set_up(
        check,
        "1.500,vertical,,1.490,ANT",
        ",height_after_m,antenna",
        antennas=antennas,
    )
    assert "first is a slant" in found["readings-disagree"].likely


def test_a_height_that_looks_like_feet(check):
    """5.2 ft is 1.58496 m."""
    found = with_set_up(check, "5.200,vertical,")
    assert "1.5850 m" in found["height-looks-like-feet"].likely
    assert "height-looks-like-feet" not in with_set_up(check, "2.000,vertical,")


def test_how_a_height_was_read_is_asked(check):
    assert "reading-not-stated" in with_set_up(check, "1.5,,")
    assert "reading-not-stated" not in with_set_up(check, "1.5,vertical,")


@pytest.mark.parametrize(
    ("read", "likely"), [("BM 12", None), ("bm-12", None), ("BM 13", "B"), ("X", "")]
)
def test_letters_read_off_the_mark(check, read, likely):
    stations = "station,stamping\nA,BM 12\nB,BM 13\n"
    found = with_set_up(
        check, f"1.5,vertical,,{read}", ",stamping_read", stations=stations
    )
    assert ("stamping-differs" in found) is (likely is not None)
    if likely:
        assert found["stamping-differs"].likely == f"it stood over {likely}"


# ---- variances

COV = "cov_xx_{u},cov_xy_{u},cov_xz_{u},cov_yy_{u},cov_yz_{u},cov_zz_{u}"


@pytest.mark.parametrize(
    ("unit", "value", "odd", "likely"),
    [
        ("mm2", "25", False, ""),  # 5 mm
        ("m2", "0.000025", False, ""),  # 5 mm
        ("mm2", "0.000025", True, "square metres: 5 mm"),
        ("mm2", "0.005", True, "a standard deviation in metres, 5 mm"),
        ("m2", "0.005", True, "a standard deviation, 5 mm"),  # as variance 71 mm
        ("mm2", "10000", False, ""),  # 100 mm: poor, but no sd of 10 m
    ],
)
def test_an_sd_booked_as_variance(check, unit, value, odd, likely):
    header = VECTOR.partition(",sd_x")[0] + "," + COV.format(u=unit)
    lines = f"{header}\nV1,A,B,1,2,3,{value},0,0,{value},0,{value}\n"
    found = check(control=CONTROL, baselines=lines)
    assert ("sd-as-variance" in found) is odd
    if odd:
        assert likely in found["sd-as-variance"].likely
        assert found["sd-as-variance"].verdict == "query"


@pytest.mark.parametrize(
    ("unit", "value", "likely"),
    [
        ("m", "0.005", None),
        ("m", "0.000025", "a variance: 5 mm"),
        ("m", "5", "millimetres: 5 mm"),
        ("mm", "0.005", "metres: 5 mm"),
    ],
)
def test_a_variance_booked_as_sd(check, unit, value, likely):
    lines = TWO.replace("_mm", f"_{unit}").replace("5,6,7", f"{value},{value},{value}")
    found = check(control=CONTROL, baselines=lines)
    assert ("sd-as-variance" in found) is (likely is not None)
    if likely:
        assert likely in found["sd-as-variance"].likely


def test_many_odd_rows_are_one_query(check):
    rows = "".join(f"V{i},A,B,10,200,300,0.01,0.01,0.01\n" for i in range(9))
    found = check(control=CONTROL, baselines=f"{VECTOR}\n{rows}")
    assert found["sd-as-variance"].about == "9 rows of baselines.csv"


# ---- axes exchanged


def grid_job(check, rows, stations="station\nA\nB\nC\n"):
    """Three marks on UTM 13N, 3 km and more apart, with vectors that fit them."""
    from brasscap.networks import GeodeticFrame

    frame = GeodeticFrame(6319, 2010.0, 6342)
    north = np.array([4430000.0, 4433000.0, 4431000.0])
    east = np.array([500000.0, 501000.0, 506000.0])
    xyz = frame.place(north, east, np.full(3, 1600.0))
    steps = [(0, 1), (1, 2), (0, 2)]
    lines = VECTOR + "\n"
    for k, (i, j) in enumerate(steps):
        d = ",".join(f"{v:.4f}" for v in xyz[j] - xyz[i])
        lines += f"V{k},{'ABC'[i]},{'ABC'[j]},{d},5,5,5\n"
    control = "station,use_plan,use_height,north_m,east_m,ellipsoidal_height_m\n"
    for name, swap in rows:
        i = "ABC".index(name)
        pair = (east[i], north[i]) if swap else (north[i], east[i])
        control += f"{name},held,held,{pair[0]},{pair[1]},1600\n"
    return check(control=control, baselines=lines, stations=stations)


def test_north_and_east_exchanged_at_one_mark(check):
    found = grid_job(check, [("A", False), ("B", False), ("C", True)])
    fault = found["axes-swapped"]
    assert (fault.verdict, fault.row) == ("fault", 4)
    assert fault.likely == "north 4431000.0, east 506000.0"
    assert "axes-swapped" not in grid_job(check, [("A", False), ("B", False)])


def test_north_and_east_exchanged_at_every_mark(check):
    found = grid_job(check, [("A", True), ("B", True)])
    assert found["axes-swapped"].verdict == "fault"


def test_latitude_and_longitude_exchanged_against_the_approximate(check):
    stations = (
        "station,approx_latitude_deg,approx_longitude_deg,"
        "approx_ellipsoidal_height_m\nA,40,60,100\nB,,,\n"
    )
    control = (
        "station,use_plan,use_height,latitude_deg,longitude_deg,"
        "ellipsoidal_height_m\nA,held,held,60,40,100\n"
    )
    assert "axes-swapped" in check(control=control, baselines=TWO, stations=stations)


def test_a_known_mark_that_is_only_wrong_is_not_called_swapped(check):
    stations = "station\nA\nB\n"
    control = (
        "station,use_plan,use_height,latitude_deg,longitude_deg,"
        "ellipsoidal_height_m\nA,held,held,0,0,0\nB,held,held,0.1,0.2,0\n"
    )
    assert "axes-swapped" not in check(
        control=control, baselines=TWO, stations=stations
    )


# ---- marks and connections


def test_a_mark_that_nothing_observes(check):
    stations = "station\nA\nB\nC\n"
    found = check(control=CONTROL, baselines=TWO, stations=stations)
    assert found["no-observation"].about == "mark C"
    assert (found["no-observation"].file, found["no-observation"].row) == (
        "stations.csv",
        4,
    )


def test_a_slip_in_control_shows_as_a_mark_without_observation(check):
    control = CONTROL + f"PILAR 1,held,held,{A},0,0\n"
    stations = "station\nA\nB\nPILLAR 1\n"
    lines = TWO + "V3,A,PILLAR 1,5,5,5,5,5,5\nV4,B,PILLAR 1,5,5,5,5,5,5\n"
    found = check(control=control, baselines=lines, stations=stations)
    assert "PILLAR 1" in found["no-observation"].likely


def test_a_mark_on_one_vector_hangs_loose(check):
    lines = TWO + "V3,B,C,1,2,3,5,5,5\n"
    found = check(control=CONTROL, baselines=lines)
    assert found["hangs-loose"].about == "mark C"
    assert found["hangs-loose"].row == 4
    known = CONTROL + f"C,held,held,{A + 11},202,303\n"
    assert "hangs-loose" not in check(control=known, baselines=lines)


def test_pieces_and_bridges_by_hand(tmp_path):
    """A=B–C=D and E alone: one bridge with C and D beyond it, away from known A."""
    lines = VECTOR + "\n"
    for k, ends in enumerate(("A,B", "A,B", "B,C", "C,D", "C,D")):
        lines += f"V{k},{ends},1,2,3,5,5,5\n"
    (tmp_path / "job.toml").write_text(JOB, "utf-8")
    (tmp_path / "control.csv").write_text(CONTROL, "utf-8")
    (tmp_path / "baselines.csv").write_text(lines, "utf-8")
    (tmp_path / "stations.csv").write_text("station\nA\nB\nC\nD\nE\n", "utf-8")
    network = load(tmp_path).network
    assert pieces(network) == [[0, 1, 2, 3], [4]]
    (loose,) = hanging(network)
    assert network.vectors.name[loose.vector] == "V2"
    assert loose.marks == (2, 3)


def test_a_piece_that_floats(check):
    lines = TWO + "V3,C,D,1,2,3,5,5,5\nV4,C,D,1,2,3,5,5,5\n"
    found = check(control=CONTROL, baselines=lines)
    assert "C, D" in found["piece-floats"].about


def test_names_almost_alike(check):
    stations = "station\nGROVE 03\nGROVE-O3\nA\nB\n"
    found = check(control=CONTROL, baselines=TWO, stations=stations)
    assert found["names-alike"].booked == "GROVE 03, GROVE-O3"


# ---- kinds


def test_baselines_without_set_ups_are_one_query(check):
    assert "no-set-ups" in check(control=CONTROL, baselines=TWO)
    toml = JOB + "[set_up]\nnone = true\n"
    assert "no-set-ups" not in check(toml, control=CONTROL, baselines=TWO)


def test_a_group_that_nothing_is_in(check):
    toml = JOB + "[group.fasst]\nsd_multiplier_plan = 2\n"
    lines = TWO.replace("_mm\n", "_mm,group\n").replace("6,7\n", "6,7,fast\n")
    found = check(toml, control=CONTROL, baselines=lines)
    assert found["group-not-used"].likely == "fast"


def test_the_mark_to_hold_must_exist(check):
    toml = JOB + '[network]\nminimal_station = "PILAR 1"\n'
    control = CONTROL.replace("A,held", "PILLAR 1,held")
    lines = TWO.replace("A,B", "PILLAR 1,B")
    found = check(toml, control=control, baselines=lines)
    assert found["unknown-name"].likely == "PILLAR 1"


# ---- real-time positions


@pytest.mark.parametrize(
    ("plan", "height", "repeats", "use"),
    [
        (0.014, 0.014, 0, "detail"),
        (0.019, 0.015, 0, "detail"),
        (0.014, 0.014, 1, "weak control"),
        (0.019, 0.015, 2, "weak control"),
        (0.0191, 0.015, 2, "neither"),
        (0.019, 0.0151, 2, "neither"),
        (0.016, 0.014, 0, "detail"),
    ],
)
def test_what_a_real_time_position_is_good_for(plan, height, repeats, use):
    """Common practice, no source: 14 mm and 14 mm, or 19 mm and 15 mm."""
    assert classify(plan, height, repeats) == use


def test_positions_are_ranged_against_control(check):
    text = (
        "position,station,x_m,y_m,z_m,sd_north_mm,sd_east_mm,sd_height_mm,start_utc\n"
        f"P1,B,{A + 10},200,300,14,14,14,2026-05-14T10:00:00Z\n"
        f"P2,B,{A + 10},200,300,19,19,15,2026-05-14T10:20:00Z\n"
        f"P3,A,{A},0,0,14,14,14,2026-05-14T10:00:00Z\n"
    )
    (check.folder / "positions.csv").write_text(text, "utf-8")
    check(control=CONTROL, baselines=TWO)
    notes = {
        f.about: f.against
        for f in load(check.folder, check_only=True).findings
        if f.slug == "position-use"
    }
    assert [text.split(":")[0] for text in notes.values()] == [
        "weak control",
        "weak control",
        "detail",
    ]
    assert not [f for f in load(check.folder).findings if f.slug == "position-use"]
