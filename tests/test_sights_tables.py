"""total_station, instruments, levels and geoid: from tables to an adjusted network."""

import json
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.judge import known_minus_survey
from brasscap.io.tables.load import load
from brasscap.networks.errors import InputError

TESTS = Path(__file__).parent
JOBS = TESTS / "jobs"
ARCSEC = np.pi / 180 / 3600

JOB = """schema = 1
[job]
title = "test"
surveyor_in_charge = "A"
licence = "none"
[frame]
kind = "local"
height_datum = "site"
[refraction]
coefficient = 0
sd = 0
[set_up.target]
sd_centring_mm = 1
sd_height_mm = 0.5
"""
CONTROL = (
    "station,use_plan,use_height,north_m,east_m,height_m\n"
    "A,held,held,0,0,100\nB,held,held,200,0,100\nC,held,held,0,200,103\n"
)
STATIONS = "station,approx_north_m,approx_east_m,approx_height_m\nP,100,100,101\n"
SET_UPS = (
    "set_up,station,support,height_m,reading,instrument\n"
    "T1,P,tripod,1.5,vertical,TS\nT2,,tripod,,,TS\n"
)
INSTRUMENTS = (
    "instrument,sd_direction_arcsec,sd_zenith_arcsec,sd_distance_mm,sd_distance_ppm\n"
    "TS,3,5,2,2\n"
)
HEAD = "pointing,set_up,target_station,target_height_m,round,"
RUN = "section,from_station,to_station,rise_m,run,sd_mm\n"


@pytest.fixture
def job(tmp_path):
    """Load a job made of tables; the site's own where a table is not given."""

    def make(toml=JOB, **tables):
        site = {"control": CONTROL, "stations": STATIONS}
        if "total_station" in tables:
            site |= {"set_ups": SET_UPS, "instruments": INSTRUMENTS}
        (tmp_path / "job.toml").write_text(toml, "utf-8")
        for name, text in {**site, **tables}.items():
            if text:
                (tmp_path / f"{name}.csv").write_text(text, "utf-8")
        return load(tmp_path)

    return make


@pytest.fixture
def found(job):
    """Return slug to the first finding of a job, whether it loads or not."""

    def make(toml=JOB, **tables):
        try:
            findings = job(toml, **tables).findings
        except InputError as error:
            findings = error.findings
        slugs = {}
        for finding in findings:
            slugs.setdefault(finding.slug, finding)
        return slugs

    return make


def of_kind(network, kind):
    (some,) = [sights for sights in network.sights if sights.kind == kind]
    return some


# ---- published and independent answers


def test_levels_between_two_benchmarks(case):
    """Ogundare, Understanding Least Squares Estimation (2019), examples 6.1, 6.6."""
    loaded = load(JOBS / "level_two_benchmarks_sigma50mm")
    assert not loaded.findings
    made = estimate(loaded.network)
    names = loaded.network.marks.name
    heights = {
        name: made.nodes.xyz[names.index(name), 2] for name in ("P2", "P3", "P4")
    }
    residuals = made.residuals["level difference"][:, 0]
    assert loaded.network.dimension == "height"
    numbers = [names.index(name) for name in ("P2", "P3", "P4")]
    pairs = np.array([[a, b] for a in numbers for b in numbers]).T
    cofactors = made.covariance(*pairs)[:, 2, 2].reshape(3, 3)
    case("level_two_benchmarks_sigma50mm").check(
        dof=made.degrees_of_freedom,
        heights=heights,
        residuals=residuals,
        s0_sq=made.s0_sq,
        # Q of the source has observations of weight 1 for 1 m.
        Q=cofactors.tolist(),
    )


def test_a_traverse_point_of_distances_and_angles(case):
    """Ghilani and Wolf, Adjustment Computations, example 16.1 (from memory)."""
    loaded = load(JOBS / "traverse_one_station_mixed")
    assert not loaded.findings
    made = estimate(loaded.network)
    at = loaded.network.marks.name.index("U")
    residuals = [
        *made.residuals["horizontal distance"][:, 0],
        *made.residuals["angle"][:, 0] / ARCSEC,
    ]
    case("traverse_one_station_mixed").check(
        dof=made.degrees_of_freedom,
        coordinates={"U": made.nodes.xyz[at, :2].tolist()},
        s0=np.sqrt(made.s0_sq),
        residuals=residuals,
    )


def test_a_free_station_in_space(case):
    """Two independent solvers of the equations in space (the case says which)."""
    loaded = load(JOBS / "terrestrial_3d_free_station")
    assert not loaded.findings
    made = estimate(loaded.network)
    at = loaded.network.marks.name.index("P")
    residuals = [
        *made.residuals["direction"][:, 0] / ARCSEC,
        *made.residuals["zenith angle"][:, 0] / ARCSEC,
        *made.residuals["slope distance"][:, 0],
    ]
    covariance = made.covariance(np.array([at]), np.array([at]))[0]
    case("terrestrial_3d_free_station").check(
        dof=made.degrees_of_freedom,
        vtpv=made.vtpv,
        xyz={"P": made.nodes.xyz[at].tolist()},
        residuals=residuals,
    )
    expected = case("terrestrial_3d_free_station")["expected"]["cov_enu"]["P"]
    np.testing.assert_allclose(covariance, expected, rtol=1e-5, atol=1e-11)


def test_vectors_sights_and_levels_together():
    """An independent dense program: mixed_nine_marks.expected.json."""
    expected = json.loads((JOBS / "mixed_nine_marks.expected.json").read_text("utf-8"))
    loaded = load(JOBS / "mixed_nine_marks")
    assert not loaded.findings
    made = estimate(loaded.network)
    assert made.degrees_of_freedom == expected["summary"]["dof"] == 88
    assert made.vtpv == pytest.approx(expected["summary"]["vtpv"], rel=1e-6)
    for at, name in enumerate(loaded.network.marks.name):
        other = expected["marks"][name]
        np.testing.assert_allclose(made.nodes.xyz[at], other["xyz"], rtol=0, atol=2e-6)
        covariance = made.covariance(np.array([at]), np.array([at]))[0]
        sds = np.sqrt(np.diag(covariance))
        np.testing.assert_allclose(sds, other["sd_enu"], rtol=1e-5)


# ---- set-ups, targets, free stations


def test_a_target_named_by_its_mark_gets_a_set_up_of_its_own(job):
    text = HEAD + (
        "direction_dms,zenith_dms,slope_distance_m\n"
        "a,T1,A,1.4,1,0 00 00,90 00 00,141.4\n"
        "b,T1,A,1.4,2,0 00 00,90 00 00,141.4\n"
        "c,T1,B,1.6,1,90 00 00,90 00 00,141.4\n"
        "d,T1,A,1.7,1,0 00 01,90 00 00,141.4\n"
    )
    network = job(total_station=text).network
    names = network.set_ups.name
    assert names == (
        "T1",
        "target A from T1 at 1.4000 m",
        "target B from T1",
        "target A from T1 at 1.7000 m",
    )
    assert network.set_ups.sd_centring[1:].tolist() == [0.001] * 3
    assert network.set_ups.sd_height[1:].tolist() == [0.0005] * 3
    slopes = of_kind(network, "slope distance")
    assert slopes.to.tolist() == [len(network.marks) + k for k in (1, 1, 2, 3)]
    assert slopes.at_height.tolist() == [1.5] * 4
    assert slopes.to_height.tolist() == [1.4, 1.4, 1.6, 1.7]


def test_a_booked_target_set_up_shares_its_tripod(job):
    """By forced centring the target of one session is the antenna's tripod."""
    set_ups = SET_UPS.replace("instrument\n", "instrument,forced_centring\n")
    set_ups = set_ups.replace(",TS\n", ",TS,\n")
    set_ups += "G1,A,tripod,1.6,vertical,,F1\nR1,A,tripod,1.25,vertical,,F1\n"
    text = (
        "pointing,set_up,target_set_up,round,direction_dms,slope_distance_m,zenith_dms\n"
        "a,T1,R1,1,0 00 00,141.4,90 00 00\nb,T1,G1,2,0 00 00,141.4,90 00 00\n"
    )
    network = job(set_ups=set_ups, total_station=text).network
    slopes = of_kind(network, "slope distance")
    assert network.node_name(int(slopes.to[0])) == "F1"
    assert slopes.to[0] == slopes.to[1]
    assert slopes.to_height.tolist() == [1.25, 1.6]


FREE = HEAD + (
    "direction_dms,zenith_dms,slope_distance_m\n"
    "a,T2,A,1.5,1,225 00 00,90 36 27.5,141.43\n"
    "b,T2,B,1.5,1,315 00 00,90 36 27.5,141.43\n"
    "c,T2,C,1.5,1,135 00 00,89 23 32.5,141.43\n"
)


def test_a_free_station_is_a_mark_of_its_own(job):
    """A, B and C are at (0, 0), (200, 0), (0, 200) north, east: it is at (100, 100)."""
    loaded = job(total_station=FREE)
    network = loaded.network
    at = network.marks.name.index("free station T2")
    assert network.marks.status[at] == "free station"
    assert "T2" not in network.set_ups.name
    assert of_kind(network, "direction").at.tolist() == [at] * 3
    made = estimate(network)
    east, north, height = made.nodes.xyz[at]
    assert (north, east) == pytest.approx((100, 100), abs=0.01)
    # Its mark is the instrument itself: 1.5 + 1.5 above A and B less the 1.5 of B.
    assert height == pytest.approx(103.0, abs=0.02)


def test_a_known_mark_on_the_held_azimuth_differs_along_it_only(job):
    """A and B are 200.000 m apart; the survey is 0.28 m short, along A – B."""
    control = CONTROL.replace("B,held,held,200,0,100\n", "B,held,,200,0,\n").replace(
        "C,held,held,0,200,103\n", ""
    )
    text = FREE.replace(
        "b,T2,B,1.5,1,315 00 00,90 36 27.5,141.43\n",
        ("b,T2,B,1.5,1,315 00 00,90 36 27.5,141.03\n"),
    ).replace("c,T2,C,1.5,1,135 00 00,89 23 32.5,141.43\n", "")
    made = estimate(job(control=control, total_station=text).network, "minimal")
    compared = known_minus_survey(made)
    assert compared.station == ("B",)
    assert compared.components.tolist() == [1]
    # √(141.42² + 141.02²) = 199.717 m (at zenith angle 90.6° the rest is 1 mm).
    assert compared.difference[0, 1] == pytest.approx(0.283, abs=0.002)
    assert compared.difference[0, 0] == pytest.approx(0, abs=1e-6)


# ---- directions, rounds and faces


ROUND = HEAD + "face,direction_dms,zenith_dms,slope_distance_m\n"
FACES = ROUND + (
    "a1,T1,A,1.5,1,1,10 00 00,89 00 10,100.001\n"
    "b1,T1,B,1.5,1,1,70 00 00,91 00 10,150.000\n"
    "b2,T1,B,1.5,1,2,250 00 12,269 00 04,150.002\n"
    "a2,T1,A,1.5,1,2,190 00 12,271 00 04,100.003\n"
)


def test_two_faces_are_one_mean(job):
    """By hand: (10° 00′ 00″ + 190° 00′ 12″ − 180°)/2 = 10° 00′ 06″, and
    (89° 00′ 10″ + 360° − 271° 00′ 04″)/2 = 89° 00′ 03″."""
    loaded = job(total_station=FACES)
    directions = of_kind(loaded.network, "direction")
    assert directions.name == ("a1 + a2", "b1 + b2")
    by_hand = np.array([10 * 3600 + 6, 70 * 3600 + 6]) * ARCSEC
    np.testing.assert_allclose(directions.value, by_hand, rtol=0, atol=1e-12)
    np.testing.assert_allclose(directions.sd, 3 * ARCSEC)
    zenith = of_kind(loaded.network, "zenith angle")
    by_hand = np.array([89 * 3600 + 3, 91 * 3600 + 3]) * ARCSEC
    np.testing.assert_allclose(zenith.value, by_hand, rtol=0, atol=1e-12)
    slopes = of_kind(loaded.network, "slope distance")
    np.testing.assert_allclose(slopes.value, [100.002, 150.001], rtol=0, atol=1e-12)
    (note,) = [f for f in loaded.findings if f.slug == "faces-meaned"]
    # 2c = 12″, index (−10 − … )/2: (271° 00′ 04″ + 89° 00′ 10″ − 360°)/2 = 7″.
    assert note.booked == "T1 collimation +6.0″, index error -7.0″"


def test_rounds_have_their_own_orientation(job):
    text = ROUND + (
        "a,T1,A,1.5,1,,0 00 00,,\nb,T1,B,1.5,1,,90 00 00,,\n"
        "c,T1,A,1.5,2,,45 00 00,,\nd,T1,B,1.5,2,,135 00 00,,\n"
    )
    network = job(total_station=text).network
    assert network.parameters.name == (
        "orientation of T1, round 1",
        "orientation of T1, round 2",
    )
    assert of_kind(network, "direction").parameter[:, 0].tolist() == [0, 0, 1, 1]
    assert np.isnan(network.parameters.sd).all()


def test_faces_that_disagree_are_queried_with_both_rows(found):
    """Three pairs: 2c = 12″, 12″ and 112″; c stands 50″ apart, limit 3√2·3″ = 12.7″."""
    text = FACES.replace("190 00 12", "190 01 52") + (
        "c1,T1,C,1.5,1,1,130 00 00,90 00 10,150.000\n"
        "c2,T1,C,1.5,1,2,310 00 12,270 00 04,150.002\n"
    )
    query = found(total_station=text)["faces-disagree"]
    assert query.verdict == "query"
    assert "10 00 00" in query.booked
    assert "190 01 52" in query.booked
    assert "+56.0″" in query.against
    assert "12.7″" in query.against
    assert "faces-disagree" not in found(total_station=FACES)


def test_face_2_booked_as_face_1_by_its_zenith_angle(job, found):
    text = FACES.replace("a2,T1,A,1.5,1,2", "a2,T1,A,1.5,1,1")
    query = found(total_station=text)["face-mixed"]
    assert "face 2" in query.likely
    assert "'face=2'" in query.mend
    directions = of_kind(job(total_station=text).network, "direction")
    assert directions.value[0] == pytest.approx((10 * 3600 + 6) * ARCSEC, abs=1e-12)


def test_face_2_booked_as_face_1_by_directions_alone(found):
    text = ROUND + (
        "a1,T1,A,1.5,1,1,10 00 00,,\nb1,T1,B,1.5,1,1,70 00 00,,\n"
        "a2,T1,A,1.5,1,1,190 00 12,,\n"
    )
    query = found(total_station=text)["face-mixed"]
    assert (query.row, query.verdict) == (4, "query")
    assert "180° less 12″" in query.against


def test_a_re_reading_is_a_check_and_no_observation(job, found):
    text = HEAD + (
        "direction_dms,re_reading\na,T1,A,1.5,1,0 00 00,\nb,T1,B,1.5,1,90 00 00,\n"
        "c,T1,A,1.5,1,0 00 {:02d},a\n"
    )
    assert of_kind(job(total_station=text.format(12)).network, "direction").name == (
        "a",
        "b",
    )
    # 3 × √2 × 3″ = 12.7″.
    assert "round-drifted" not in found(total_station=text.format(12))
    assert found(total_station=text.format(13))["round-drifted"].verdict == "query"


def test_a_round_with_one_target_fixes_nothing(found):
    text = HEAD + "direction_dms\na,T1,A,1.5,1,0 00 00\n"
    query = found(total_station=text)["orientation-one-pointing"]
    assert "orientation of T1, round 1" in query.against


# ---- distances


def test_prism_constant_and_atmosphere_are_taken_on(job):
    """By hand: 1000.000 − 0.0344 m, then 42.149 ppm of it, over n = 1.00024.

    0.29065·900/(1 + 25/273.15) = 239.651 ppm (a data sheet, from memory; its five
    digits are 0.01 ppm, 0.01 mm here), against a reference of 281.8 ppm.
    """
    instruments = INSTRUMENTS.replace(
        "_ppm\n", "_ppm,carrier_wavelength_um,reference_index_ppm\n"
    ).replace("TS,3,5,2,2", "TS,3,5,2,2,0.850,281.8")
    text = HEAD + (
        "zenith_dms,slope_distance_m,prism,prism_constant_mm,prism_constant_applied,"
        "temperature_degC,pressure_hPa,atmosphere_applied\n"
        "a,T1,A,1.5,1,90 00 00,1000,P1,-34.4,no,25,900,no\n"
        "b,T1,B,1.5,1,90 00 00,1000,P1,-34.4,yes,25,900,yes\n"
    )
    loaded = job(total_station=text, instruments=instruments)
    slopes = of_kind(loaded.network, "slope distance")
    by_hand = (1000 - 0.0344) * (1 + (281.8 - 239.651) * 1e-6 / 1.00024)
    assert slopes.value[0] == pytest.approx(by_hand, abs=1e-5)
    assert slopes.value[1] == 1000
    # √(2² + (2·1.0)²) = 2.828 mm.
    assert slopes.sd[1] == pytest.approx(0.0028284, abs=1e-7)
    assert "air-taken-as-dry" in [f.slug for f in loaded.findings]


def test_what_a_correction_lacks_is_named(found):
    text = HEAD + (
        "zenith_dms,slope_distance_m,prism,prism_constant_mm,prism_constant_applied,"
        "temperature_degC,pressure_hPa,atmosphere_applied\n"
        "a,T1,A,1.5,1,90 00 00,1000,P1,,no,25,,no\n"
        "b,T1,B,1.5,1,90 00 00,1000,P1,-34.4,,,,yes\n"
        "c,T1,C,1.5,1,90 00 00,1000,P1,,,,,\n"
    )
    slugs = found(total_station=text)
    lacks = slugs["atmosphere-data-missing"]
    assert lacks.verdict == "fault"
    for column in ("pressure_hPa", "carrier_wavelength_um", "reference_index_ppm"):
        assert column in lacks.against
    assert slugs["prism-constant-missing"].row == 2
    assert slugs["prism-constant-not-stated"].verdict == "fault"
    assert slugs["atmosphere-not-stated"].verdict == "query"


def test_a_distance_that_nothing_says_the_worth_of(found):
    text = (
        HEAD + "zenith_dms,slope_distance_m,sd_zenith_arcsec\na,T1,A,1,1,90 00 00,9,5\n"
    )
    instruments = "instrument,sd_zenith_arcsec\nTSS,5\n"
    fault = found(total_station=text, instruments=instruments)["sd-missing"]
    assert (fault.verdict, fault.likely) == ("fault", "TSS")
    assert "TS is not in instruments.csv" in fault.against


# ---- refraction


def zenith_angles(*times):
    rows = [
        f"p{k},T1,{'ABC'[k]},1.5,1,90 00 00,{time}\n" for k, time in enumerate(times)
    ]
    return HEAD + "zenith_dms,time_utc\n" + "".join(rows)


def test_refraction_with_an_sd_is_one_unknown_a_job(job):
    toml = JOB.replace("coefficient = 0\nsd = 0", "coefficient = 0.13\nsd = 0.05")
    network = job(toml, total_station=zenith_angles("", "", "")).network
    parameters = network.parameters
    assert parameters.kind == ("refraction",)
    assert (parameters.start[0], parameters.sd[0]) == (0.13, 0.05)
    assert of_kind(network, "zenith angle").parameter[:, 0].tolist() == [0, 0, 0]


def test_refraction_of_each_day(job):
    toml = JOB.replace("sd = 0\n[set", 'sd = 0.05\nunknown_per = "day"\n[set')
    times = ("2026-05-04T10:00:00Z", "2026-05-05T10:00:00Z", "2026-05-04T16:00:00Z")
    network = job(toml, total_station=zenith_angles(*times)).network
    assert network.parameters.name == (
        "refraction on 2026-05-04",
        "refraction on 2026-05-05",
    )
    assert of_kind(network, "zenith angle").parameter[:, 0].tolist() == [0, 1, 0]


def test_refraction_of_sd_zero_is_fixed(job):
    network = job(total_station=zenith_angles("", "", "")).network
    assert not len(network.parameters)
    assert of_kind(network, "zenith angle").refraction.tolist() == [0, 0, 0]


# ---- what is estimated


def test_a_plan_needs_no_heights_and_levels_its_distances(job):
    """Slope 100 m at zenith angle 60°: 86.6025 m (sin 60°)."""
    control = "station,use_plan,north_m,east_m\nA,held,0,0\nB,held,200,0\n"
    set_ups = "set_up,station,support,instrument\nT1,P,tripod,TS\n"
    text = (
        "pointing,set_up,target_station,direction_dms,zenith_dms,slope_distance_m\n"
        "a,T1,A,225 00 00,60 00 00,100\nb,T1,B,315 00 00,90 00 00,141.42\n"
    )
    loaded = job(control=control, set_ups=set_ups, total_station=text)
    assert loaded.network.dimension == "plan"
    (note,) = [f for f in loaded.findings if f.slug == "dimension-inferred"]
    assert "taken as plan" in note.against
    assert {some.kind for some in loaded.network.sights} == {
        "direction",
        "horizontal distance",
    }
    level = of_kind(loaded.network, "horizontal distance").value
    assert level == pytest.approx([86.60254, 141.42], abs=1e-5)


def test_a_height_that_is_missing_in_space(found):
    text = HEAD + (
        "zenith_dms,slope_distance_m\na,T1,A,1.45,1,90 00 00,141.4\n"
        "b,T1,A,,1,90 00 00,141.4\nc,T1,B,1.45,1,90 00 00,141.4\n"
    )
    fault = found(total_station=text)["height-missing"]
    assert (fault.row, fault.verdict) == (3, "fault")
    assert "1.4500 m" in fault.likely
    assert "target_height_m=…" in fault.mend


def test_levels_alone_are_a_job_of_heights(job):
    loaded = job(levels=RUN + "L1,A,P,1.0,out,1\nL1,P,A,-1.002,back,1\n")
    assert loaded.network.dimension == "height"
    assert loaded.network.levels.name == ("L1 out", "L1 back")
    made = estimate(loaded.network)
    at = loaded.network.marks.name.index("P")
    # The mean of the two runs of equal worth.
    assert made.nodes.xyz[at, 2] == pytest.approx(101.001, abs=1e-9)
    assert made.degrees_of_freedom == 1


def test_sd_of_levels_by_length_and_by_set_ups(job, found):
    """By hand: 2 mm·√2.25 = 3 mm; 0.5 mm·√16 = 2 mm."""
    head = "section,from_station,to_station,rise_m,run,length_km,set_ups_count\n"
    text = head + "L1,A,P,1,single,2.25,\nL2,B,P,1,single,,16\n"
    toml = JOB + "[levels]\nsd_mm_per_sqrt_km = 2\nsd_mm_per_set_up = 0.5\n"
    levels = job(toml, levels=text).network.levels
    assert levels.sd.tolist() == pytest.approx([0.003, 0.002])
    assert found(levels=text)["sd-missing"].verdict == "fault"


# ---- bad input


@pytest.mark.parametrize(
    ("row", "slug"),
    [
        ("a,T1,P,1.5,1,0 00 00", "pointing-to-itself"),
        ("a,T1,AA,1.5,1,0 00 00", "unknown-name"),
        ("a,T9,A,1.5,1,0 00 00", "unknown-name"),
        ("a,T1,A,1.5,1,123.4506", "dms-packed"),
    ],
)
def test_a_pointing_that_cannot_be_used(found, row, slug):
    fault = found(total_station=HEAD + "direction_dms\n" + row + "\n")[slug]
    assert fault.verdict == "fault"
    assert fault.row == 2
    assert fault.mend


def test_packed_minutes_in_a_column_of_degrees(found):
    readings = ("10.3015", "75.1240", "121.5902", "200.0059", "250.4431", "301.1520")
    rows = [f"p{k},T1,{'ABC'[k % 3]},1.5,{k // 3}," for k in range(6)]
    packed = [row + reading for row, reading in zip(rows, readings, strict=True)]
    text = HEAD + "direction_deg\n" + "\n".join(packed) + "\n"
    query = found(total_station=text)["angles-look-like-packed-dms"]
    assert "by chance 0.002" in query.against
    honest = text.replace("75.1240", "75.7240")
    assert "angles-look-like-packed-dms" not in found(total_station=honest)


def test_gon_in_a_column_of_degrees_by_both_faces(found):
    """Zenith 98.5 and 301.5 gon add up to 400."""
    text = HEAD + (
        "face,direction_deg,zenith_deg\na,T1,A,1.5,1,1,10,98.5\n"
        "b,T1,B,1.5,1,1,75,101\nc,T1,A,1.5,1,2,210,301.5\nd,T1,B,1.5,1,2,275,299\n"
    )
    query = found(total_station=text)["angles-look-like-gon"]
    assert "400" in query.against
    assert "zenith_gon" in query.mend


def test_gon_in_a_column_of_degrees_by_a_closed_horizon(found):
    text = (
        "pointing,set_up,target_station,back_station,angle_deg,sd_angle_arcsec\n"
        "a,T1,B,A,100,5\nb,T1,C,B,180.001,5\nc,T1,A,C,119.999,5\n"
    )
    assert "add up to 400" in found(total_station=text)["angles-look-like-gon"].against


def test_a_reading_above_360_degrees_is_likely_gon(found):
    text = HEAD + "direction_deg\na,T1,A,1.5,1,387.2\n"
    assert found(total_station=text)["out-of-range"].likely.startswith("gon")


def test_zenith_angles_counted_from_the_horizon(found):
    text = HEAD + (
        "zenith_dms,slope_distance_m\na,T1,A,1.5,1,1 12 00,141.4\n"
        "b,T1,B,1.5,1,0 30 00,141.4\n"
    )
    query = found(total_station=text)["zenith-from-horizon"]
    assert "2 of 2 sights" in query.against
    assert "zenith angle 88.8000°" in query.likely
    below = text.replace("0 30 00", "-0 30 00")
    assert "90.5000°" in found(total_station=below)["out-of-range"].likely


def test_a_run_the_other_way_by_known_heights(found, job, tmp_path):
    """C is 3 m above A; the run from A to C is booked as going down."""
    runs = RUN + "L1,A,C,-3.001,single,1\nL2,A,P,1,single,1\nL3,P,C,2,single,1\n"
    query = found(levels=runs)["run-reversed"]
    assert "brasscap decide reverse 'levelled run' 'L1'" in query.mend
    decisions = (
        "decision,who,action,about_kind,about,value,reason,answers_query\n"
        "D1,AB,reverse,levelled run,L1,,field book,\n"
    )
    loaded = job(levels=runs, decisions=decisions)
    assert "run-reversed" not in [f.slug for f in loaded.findings]
    levels, names = loaded.network.levels, loaded.network.marks.name
    assert (names[levels.start[0]], names[levels.end[0]]) == ("C", "A")


def test_a_back_run_with_the_sign_of_the_run_out(found):
    runs = RUN + "L1,A,P,1.2,out,1\nL1,P,A,1.201,back,1\n"
    query = found(levels=runs)["run-reversed"]
    assert query.row == 3
    assert "L1 back" in query.mend


def test_a_staff_in_feet_by_the_other_run(found):
    """1.2 m are 3.937 feet."""
    runs = RUN + "L1,A,P,3.937,out,1\nL1,P,A,-1.2,back,1\n"
    query = found(levels=runs)["rise-looks-like-feet"]
    assert query.row == 2
    assert "+1.2000 m" in query.likely
    assert "'rise=ift'" in query.mend


def test_runs_that_disagree(found):
    """3 × √2 × 1 mm = 4.2 mm."""
    runs = RUN + "L1,A,P,1.2,out,1\nL1,P,A,-1.{},back,1\n"
    assert "runs-disagree" in found(levels=runs.format("205"))
    assert "runs-disagree" not in found(levels=runs.format("204"))


# ---- heights above the geoid


GEODETIC = JOB.replace(
    'kind = "local"',
    'kind = "geodetic"\ngeographic_epsg = 7912\nepoch = 2020\ngeoid = "{}"',
)
PLACES = (
    "station,use_plan,use_height,latitude_deg,longitude_deg,ellipsoidal_height_m\n"
    "A,held,held,46.0,9.0,400\nB,held,held,46.001,9.0,410\n"
)
APPROX = (
    "station,approx_latitude_deg,approx_longitude_deg,approx_ellipsoidal_height_m\n"
    "A,46,9,400\nB,46.001,9,410\nP,46.0005,9.0,405\n"
)
MIXED = {
    "control": PLACES,
    "stations": APPROX,
    "levels": RUN + "L1,A,P,5,single,1\nL2,P,B,5,single,1\n",
    "set_ups": "set_up,station,support,height_m,reading,instrument\n"
    "T1,P,tripod,1.5,vertical,TS\n",
    "total_station": HEAD + "direction_dms,zenith_dms,slope_distance_m\n"
    "a,T1,A,1.5,1,180 00 00,95 00 00,55.8\nb,T1,B,1.5,1,0 00 00,85 00 00,55.8\n",
}


def test_levels_without_a_geoid_among_ellipsoidal_heights(found):
    assert (
        found(GEODETIC.format("none"), **MIXED)["geoid-not-stated"].verdict == "fault"
    )
    for stated, needed in (("shift", "one"), ("plane", "four")):
        toml = GEODETIC.format(f'none"\nundulation = "{stated}')
        fault = found(toml, **MIXED)["undulation-needs-benchmarks"]
        assert fault.verdict == "fault"
        assert fault.against.startswith(needed)


def test_undulations_with_an_sd_are_unknowns_of_their_marks(job):
    geoid = "station,undulation_m,sd_undulation_mm\nA,48.1,5\nP,48.2,5\nB,48.3,0\n"
    network = job(GEODETIC.format("table"), **MIXED, geoid=geoid).network
    assert network.parameters.name[-2:] == ("undulation at A", "undulation at P")
    assert network.parameters.start[-2:].tolist() == [48.1, 48.2]
    assert network.parameters.sd[-2:].tolist() == [0.005, 0.005]
    levels = network.levels
    first = len(network.parameters) - 2
    assert levels.parameter.tolist() == [[first, first + 1], [first + 1, -1]]
    assert levels.end_undulation.tolist() == [48.2, 48.3]


def test_a_mark_without_an_undulation(found):
    geoid = "station,undulation_m\nA,48.1\nB,48.3\n"
    fault = found(GEODETIC.format("table"), **MIXED, geoid=geoid)["undulation-missing"]
    assert fault.verdict == "fault"
    assert "P" in fault.against


# ---- decisions


def test_a_pointing_left_out_stays_and_its_other_face_serves(job):
    decisions = (
        "decision,who,action,about_kind,about,value,reason,answers_query\n"
        "D1,AB,leave-out,pointing,a2,,knocked,\n"
    )
    network = job(total_station=FACES, decisions=decisions).network
    directions = of_kind(network, "direction")
    assert directions.name == ("a1", "b1 + b2", "a2")
    assert directions.used.tolist() == [True, True, False]


def test_a_set_up_left_out_takes_its_pointings(job):
    decisions = (
        "decision,who,action,about_kind,about,value,reason,answers_query\n"
        "D1,AB,leave-out,set-up,T1,,knocked,\n"
    )
    network = job(total_station=FACES, decisions=decisions).network
    assert not any(some.used.any() for some in network.sights)


def test_one_reading_of_a_pointing_left_out(job):
    """The distance of one face goes; its direction is meaned, its distance not."""
    decisions = (
        "decision,who,action,about_kind,about,value,reason,answers_query\n"
        "D1,AB,leave-out,slope distance,a2,,wrong prism,\n"
        "D2,AB,leave-out,zenith angle,b1 + b2,,haze,\n"
    )
    network = job(total_station=FACES, decisions=decisions).network
    assert of_kind(network, "direction").name == ("a1 + a2", "b1 + b2")
    slopes = of_kind(network, "slope distance")
    assert slopes.name == ("a1", "b1 + b2", "a2")
    assert slopes.used.tolist() == [True, True, False]
    assert slopes.value[0] == 100.001
    assert of_kind(network, "zenith angle").used.tolist() == [True, False]


def test_a_table_that_has_no_part_in_the_stated_dimension(found):
    plan = JOB + '[network]\ndimension = "plan"\n'
    slugs = found(plan, total_station=FACES, levels=RUN + "L1,A,P,1,single,1\n")
    assert "levels.csv" in slugs["kind-not-in-dimension"].about
    height = JOB + '[network]\ndimension = "height"\n'
    slugs = found(height, total_station=FACES, levels=RUN + "L1,A,P,1,single,1\n")
    assert "total_station.csv" in slugs["kind-not-in-dimension"].about


def test_an_unknown_refraction_that_its_sd_holds(found):
    toml = JOB.replace("sd = 0\n[set", 'sd = 0\nunknown_per = "job"\n[set')
    slugs = found(toml, total_station=zenith_angles("", "", ""))
    assert slugs["key-without-effect"].verdict == "query"


def test_gon_in_a_column_of_degrees_by_directions_in_both_faces(found):
    text = HEAD + (
        "face,direction_deg\na,T1,A,1.5,1,1,10\nb,T1,B,1.5,1,1,75\n"
        "c,T1,A,1.5,1,2,210\nd,T1,B,1.5,1,2,275\n"
    )
    query = found(total_station=text)["angles-look-like-gon"]
    assert "200.0000° apart" in query.against
    assert "angles-look-like-gon" not in found(total_station=FACES)


DEFLECTIONS = "station,undulation_m,deflection_north_arcsec,deflection_east_arcsec\n"


def test_deflections_that_are_used_are_said(found):
    """10″ are 4.848e-5 rad: 4.8 mm for 100 m."""
    geoid = DEFLECTIONS + "A,48.1,,\nB,48.3,0,0\nP,48.2,6,8\n"
    slugs = found(GEODETIC.format("table"), **MIXED, geoid=geoid)
    assert slugs["deflections-used"].verdict == "note"
    assert "4.8 mm" in slugs["deflections-used"].against
    # No instrument stood over A.
    assert "deflection-missing" not in slugs


def test_an_instrument_without_a_deflection_among_others(found):
    two = dict(MIXED)
    two["set_ups"] += "T2,B,tripod,1.5,vertical,TS\n"
    two["total_station"] += "c,T2,P,1.5,1,180 00 00,95 00 00,55.8\n"
    geoid = DEFLECTIONS + "A,48.1,,\nB,48.3,,\nP,48.2,6,8\n"
    query = found(GEODETIC.format("table"), **two, geoid=geoid)["deflection-missing"]
    assert (query.verdict, query.about) == ("query", "B")


def test_a_group_of_rounds_has_multipliers(job):
    """3″, 5″ and √(2² + (2·0.1414)²) = 2.0199 mm, twice in plan, thrice in height."""
    toml = JOB + "[group.haze]\nsd_multiplier_plan = 2\nsd_multiplier_height = 3\n"
    text = HEAD + (
        "direction_dms,zenith_dms,slope_distance_m,group\n"
        "a,T1,A,1.5,1,0 00 00,90 00 00,141.4,haze\n"
        "b,T1,B,1.5,1,90 00 00,90 00 00,141.4,\n"
    )
    network = job(toml, total_station=text).network
    seconds = of_kind(network, "direction").sd / ARCSEC
    assert seconds.tolist() == pytest.approx([6, 3])
    seconds = of_kind(network, "zenith angle").sd / ARCSEC
    assert seconds.tolist() == pytest.approx([15, 5])
    mm = of_kind(network, "slope distance").sd * 1000
    assert mm.tolist() == pytest.approx([4.0398, 2.0199], abs=1e-4)
