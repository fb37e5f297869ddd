"""Undulations and deflections of the vertical through job folders, by hand."""

import json
import struct
from pathlib import Path
from shutil import copytree

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge import known_minus_survey, parameter_estimates
from brasscap.adjust.precision import orthometric_heights
from brasscap.io.tables.assemble.geoid import slopes
from brasscap.io.tables.load import load
from brasscap.json_schemas import schema_of
from brasscap.networks import GeodeticFrame, NoSolution
from brasscap.networks.errors import InputError

JOBS = Path(__file__).parent / "jobs"
FRAME = GeodeticFrame(7912, 2020.0)
ARCSEC = np.pi / 180 / 3600
JOB = """schema = 1
[job]
title = "test"
surveyor_in_charge = "A"
licence = "none"
[frame]
kind = "geodetic"
geographic_epsg = 7912
epoch = 2020
height_datum = "levels"
{}
[set_up]
none = true
[refraction]
coefficient = 0
sd = 0
[set_up.target]
sd_centring_mm = 0
sd_height_mm = 0
[set_up.tripod]
sd_centring_mm = 0
sd_height_mm = 0
"""
NONE_SHIFT = 'geoid = "none"\nundulation = "shift"'
NONE_PLANE = 'geoid = "none"\nundulation = "plane"'
LATITUDES = {"A": (46.0, 9.0, 400.0), "B": (46.02, 9.0, 420.0)}
LATITUDES |= {"C": (46.02, 9.03, 430.0), "D": (46.0, 9.03, 410.0)}
LATITUDES |= {"E": (46.01, 9.015, 405.0)}
CONTROL = (
    "station,use_plan,use_height,latitude_deg,longitude_deg,ellipsoidal_height_m,"
    "height_m,sd_north_mm,sd_east_mm,sd_height_mm\n"
)


def places(names):
    return FRAME.cartesian(np.array([LATITUDES[name] for name in names], dtype=float))


def baselines(names):
    """Return exact vectors from A to the others, ± 2 mm in X, Y, Z."""
    text = "baseline,from_station,to_station,dx_m,dy_m,dz_m,sd_x_mm,sd_y_mm,sd_z_mm\n"
    there = places(names)
    for k in range(1, len(names)):
        dx, dy, dz = there[k] - there[0]
        text += f"V{k},A,{names[k]},{dx:.6f},{dy:.6f},{dz:.6f},2,2,2\n"
    return text


@pytest.fixture
def job(tmp_path):
    def make(frame, **tables):
        (tmp_path / "job.toml").write_text(JOB.format(frame), "utf-8")
        for name, text in tables.items():
            (tmp_path / f"{name}.csv").write_text(text, "utf-8")
        return load(tmp_path)

    return make


def benchmarks(heights, use="weighted"):
    """Return control with A held on the ellipsoid and benchmarks of ± 1 mm."""
    text = CONTROL + "A,held,held,46.0,9.0,400,,,,\n"
    for name, height in heights.items():
        text += f"{name},,{use},,,,{height:.6f},,,1\n"
    return text


def named(made):
    found = parameter_estimates(made)
    return dict(zip(found.name, zip(found.value, found.sd, strict=True), strict=True))


# ---- a shift and a plane


@pytest.mark.parametrize("geoid", ["none", "table"])
def test_one_benchmark_gives_the_shift(job, geoid):
    """B is at 420 m by vector and at 373.25 m by level: N is 46.75 m there.

    On a table that says 46.70 m, the shift is 0.05 m. Its sd: 2 mm of the vector in
    every axis, 1 mm of the benchmark, together √5 mm.
    """
    frame = f'geoid = "{geoid}"\nundulation = "shift"'
    table = {}
    if geoid == "table":
        table["geoid"] = "station,undulation_m,model\nA,46.6,G1\nB,46.7,G1\nE,46.8,G1\n"
    loaded = job(
        frame,
        baselines=baselines("ABE"),
        control=benchmarks({"B": 373.25}),
        **table,
    )
    made = estimate(loaded.network)
    shift, sd = named(made)["shift of the undulations"]
    assert shift == pytest.approx(46.75 if geoid == "none" else 0.05, abs=1e-5)
    assert sd == pytest.approx(np.sqrt(5) * 1e-3, rel=1e-5)
    heights = orthometric_heights(made)
    wanted = [400 - 46.65, 373.25, 405 - 46.85]
    if geoid == "none":
        wanted = [400 - 46.75, 373.25, 405 - 46.75]
    np.testing.assert_allclose(heights.height, wanted, rtol=0, atol=1e-5)
    # A: the shift's. B: the benchmark's own. E: the vector to it, and the shift's.
    np.testing.assert_allclose(heights.sd * 1e3, np.sqrt([5, 1, 9]), rtol=1e-4)
    assert made.degrees_of_freedom == 0


def test_a_mark_whose_two_heights_are_known(job):
    """A is held at 400 m and levelled at 353.25 ± 1 mm: N is 46.75 m ± 1 mm."""
    control = benchmarks({"A": 353.25})
    loaded = job(NONE_SHIFT, baselines=baselines("ABE"), control=control)
    made = estimate(loaded.network)
    shift, sd = named(made)["shift of the undulations"]
    assert shift == pytest.approx(46.75, abs=1e-6)
    assert sd == pytest.approx(1e-3, rel=1e-6)
    heights = orthometric_heights(made)
    np.testing.assert_allclose(heights.height, [353.25, 373.25, 358.25], atol=1e-5)
    np.testing.assert_allclose(heights.sd * 1e3, np.sqrt([1, 5, 5]), rtol=1e-4)
    # Twice the same kind of height is still a copy.
    with pytest.raises(InputError) as caught:
        job(NONE_SHIFT, control=control + "A,,weighted,,,,353.26,,,1\n")
    assert "duplicate-name" in [f.slug for f in caught.value.findings]


def test_a_benchmark_that_is_only_compared(job):
    """B gives a shift of 46.75 m; E, at 405 m, is booked 20 mm above that.

    sd of the difference: vectors to B and E 2 mm each, benchmarks 1 mm each: √10 mm.
    """
    control = benchmarks({"B": 373.25}) + "E,,check-only,,,,358.27,,,1\n"
    loaded = job(NONE_SHIFT, baselines=baselines("ABE"), control=control)
    found = known_minus_survey(estimate(loaded.network))
    (row,) = [i for i, name in enumerate(found.station) if name == "E"]
    assert found.difference[row, 2] == pytest.approx(0.020, abs=1e-5)
    assert found.sd[row, 2] == pytest.approx(np.sqrt(10) * 1e-3, rel=1e-4)


def test_a_minimal_solution_compares_no_height_above_an_unknown_geoid(job):
    loaded = job(NONE_SHIFT, baselines=baselines("ABE"), control=benchmarks({"B": 373}))
    for mode in ("minimal", "free"):
        made = estimate(loaded.network, mode)
        assert "B" not in known_minus_survey(made).station
        assert np.isnan(orthometric_heights(made).height).all()
        assert made.vtpv < 1e-6


def plane(name, middle):
    """Return 46.7 m + 20 ppm to the east − 50 ppm to the north of the middle."""
    axes = FRAME.axes(middle[None])[0]
    east, north, _ = axes @ (places([name])[0] - middle)
    return 46.7 + 20e-6 * east - 50e-6 * north


@pytest.mark.parametrize("levelled", [False, True])
def test_four_benchmarks_give_the_plane_back(job, levelled):
    names = "ABCDE"
    middle = places(names).mean(axis=0)
    above = {n: LATITUDES[n][2] - plane(n, middle) for n in names}
    approx = "station,approx_latitude_deg,approx_longitude_deg,"
    approx += "approx_ellipsoidal_height_m\n"
    approx += "".join(f"{n},{p[0]},{p[1]},{p[2]}\n" for n, p in LATITUDES.items())
    tables = {
        "stations": approx,
        "baselines": baselines(names),
        "control": benchmarks({n: above[n] for n in "BCDE"}),
    }
    if levelled:
        tables["levels"] = "section,from_station,to_station,rise_m,run,sd_mm\n"
        tables["levels"] += f"L1,A,E,{above['E'] - above['A']:.6f},single,1\n"
        tables["levels"] += f"L2,E,C,{above['C'] - above['E']:.6f},single,1\n"
    made = estimate(job(NONE_PLANE, **tables).network)
    found = {name: value for name, (value, _) in named(made).items()}
    assert found["shift of the undulations"] == pytest.approx(46.7, abs=1e-5)
    assert found["tilt of the undulations towards east"] == pytest.approx(
        20e-6, abs=1e-9
    )
    assert found["tilt of the undulations towards north"] == pytest.approx(
        -50e-6, abs=1e-9
    )
    assert made.degrees_of_freedom == (3 if levelled else 1)
    heights = orthometric_heights(made)
    at = made.network.marks.name.index("A")
    assert heights.height[at] == pytest.approx(above["A"], abs=1e-5)


@pytest.mark.parametrize(
    ("lines", "freedom"), [("AE", 0), ("AE EC", 1), ("AE EC CD", 1), ("AE EC CD DB", 2)]
)
def test_levels_alone_say_what_of_the_tilt_they_can(job, lines, freedom):
    """Without benchmarks a line of levels takes one tilt up, a bent one two.

    A, E and C are in one line. One run between two marks of the vectors: 1 − 1; two
    in a line: 2 − 1; three, bent: 3 − 2; four: 4 − 2. No misfit: the geoid tilts.
    """
    names = "ABCDE"
    middle = places(names).mean(axis=0)
    above = {n: LATITUDES[n][2] - plane(n, middle) for n in names}
    levels = "section,from_station,to_station,rise_m,run,sd_mm\n"
    for start, end in lines.split():
        rise = above[end] - above[start]
        levels += f"{start}{end},{start},{end},{rise:.6f},single,1\n"
    loaded = job(
        NONE_PLANE,
        baselines=baselines(names),
        control=benchmarks({n: above[n] for n in "BCDE"}),
        levels=levels,
    )
    for mode in ("minimal", "free"):
        made = estimate(loaded.network, mode)
        assert made.degrees_of_freedom == freedom
        assert made.vtpv < 1e-3
        assert np.isnan(orthometric_heights(made).height).all()


def test_a_shift_without_any_ellipsoidal_height(job):
    """Vectors and one benchmark: the marks and the geoid may rise together."""
    control = CONTROL + "A,held,,46.0,9.0,,,,,\nB,,weighted,,,,373.25,,,1\n"
    network = job(NONE_SHIFT, baselines=baselines("ABE"), control=control).network
    with pytest.raises(NoSolution, match="shift of the undulations cannot be told"):
        estimate(network)
    # Hung on the benchmark instead, heights above the geoid are all there is.
    minimal = orthometric_heights(estimate(network, "minimal"))
    np.testing.assert_allclose(minimal.height, [353.25, 373.25, 358.25], atol=1e-5)


def test_what_an_unknown_geoid_needs(job, tmp_path):
    with pytest.raises(InputError) as caught:
        job(NONE_PLANE, baselines=baselines("AB"), control=benchmarks({"B": 373.25}))
    slugs = [f.slug for f in caught.value.findings]
    assert slugs == ["undulation-needs-benchmarks"]
    assert "four" in caught.value.findings[0].against
    held = benchmarks({"B": 373.25}, "held")
    with pytest.raises(InputError) as caught:
        job(NONE_SHIFT, baselines=baselines("AB"), control=held)
    (fault,) = [
        f for f in caught.value.findings if f.slug == "held-height-on-unknown-geoid"
    ]
    assert fault.mend == "state its sd_height_mm and use weighted"
    assert main(["--job", str(tmp_path), "adjust", "--quiet"]) == 3


# ---- heights above the geoid


def test_orthometric_heights_of_an_independent_program(capsys, tmp_path):
    """mixed_nine_marks.expected.json: another dense program; H = h − N of the case."""
    expected = json.loads((JOBS / "mixed_nine_marks.expected.json").read_text("utf-8"))
    folder = copytree(JOBS / "mixed_nine_marks", tmp_path / "job")
    main(["--job", str(folder), "adjust", "--json", "--quiet"])
    marks = json.loads(capsys.readouterr().out)["marks"]
    assert len(marks) == 9
    for mark in marks:
        other = expected["marks"][mark["station"]]
        # The other program iterates to 1 µm as well.
        assert mark["orthometric_height_m"] == pytest.approx(other["H"], abs=2e-6)
        assert mark["height_m"] == pytest.approx(other["h"], abs=2e-6)
        # Its undulations are exact.
        sd = other["sd_enu"][2] * 1000
        assert mark["sd_orthometric_height_mm"] == pytest.approx(sd, rel=1e-4)


def test_the_undulation_adds_to_the_height_but_where_it_came_from(job):
    """A benchmark of 1 mm, undulations of 10 mm at B, 5 mm at E; vectors of 2 mm.

    B alone places the heights: 373.25 m ± 1 mm there. From B over A to E: √(1 + 100
    + 4 + 4 + 25) mm, with the undulations of both ends.
    """
    control = CONTROL + "A,held,,46.0,9.0,,,,,\nB,,weighted,,,,373.25,,,1\n"
    geoid = "station,undulation_m,sd_undulation_mm\nA,46,0\nB,46.75,10\nE,46.8,5\n"
    loaded = job(
        'geoid = "table"', baselines=baselines("ABE"), control=control, geoid=geoid
    )
    heights = orthometric_heights(estimate(loaded.network))
    names = loaded.network.marks.name
    found = dict(zip(names, heights.sd * 1e3, strict=True))
    assert heights.height[names.index("B")] == pytest.approx(373.25, abs=1e-5)
    assert found["B"] == pytest.approx(1.0, rel=1e-4)
    assert found["E"] == pytest.approx(np.sqrt(1 + 100 + 4 + 4 + 25), rel=1e-4)


# ---- deflections of the vertical


def pointing_south(distance):
    """Return control, set-ups … of an instrument at P that sees A and B.

    P is as high as A and ``distance`` m north of it by the meridian.
    """
    meridian = 6378137 * (1 - E2) / (1 - E2 * np.sin(np.radians(46)) ** 2) ** 1.5
    degrees = np.degrees(distance / (meridian + 400))
    return {
        "control": CONTROL + "A,held,held,46,9,400,,,,\n"
        f"B,held,held,{46 + 2 * degrees:.9f},9,400,,,,\n",
        "stations": "station,approx_latitude_deg,approx_longitude_deg,"
        f"approx_ellipsoidal_height_m\nP,{46 + degrees:.9f},9,400\nA,46,9,400\n"
        f"B,{46 + 2 * degrees:.9f},9,400\n",
        "set_ups": "set_up,station,support,height_m,reading,instrument\n"
        "T1,P,tripod,1.5,vertical,TS\n",
        "instruments": "instrument,sd_direction_arcsec,sd_zenith_arcsec,"
        "sd_distance_mm,sd_distance_ppm\nTS,3,3,1,0\n",
        "total_station": "pointing,set_up,target_station,target_height_m,round,"
        "direction_dms,zenith_dms,slope_distance_m\n"
        f"a,T1,A,1.5,1,180 00 00,90 00 00,{distance}\n"
        f"b,T1,B,1.5,1,0 00 00,,{distance}\n",
    }


E2 = 0.00669438002290
"""Of GRS 80: the square of the first eccentricity (Moritz 2000; from memory)."""


def test_a_zenith_angle_is_read_from_the_plumb_line(job):
    """Astronomic zenith angle = geodetic − (ξ cos α + η sin α); Heiskanen and Moritz.

    To the south α = 180°, ξ = 20″: the line falls 20″ short of what is read, and P
    comes out lower by 300 m × 20″ = 29.1 mm. η has no part.
    """
    tables = pointing_south(300.0)
    heights = {}
    for north, east in ((0, 0), (20, 0), (20, 30)):
        geoid = (
            "station,undulation_m,deflection_north_arcsec,deflection_east_arcsec\n"
            f"P,46,{north},{east}\n"
        )
        made = estimate(job('geoid = "table"', geoid=geoid, **tables).network)
        xyz = made.nodes.xyz[made.network.marks.name.index("P")]
        heights[north, east] = FRAME.heights(xyz[None])[0]
    by_hand = -300 * 20 * ARCSEC
    assert heights[20, 0] - heights[0, 0] == pytest.approx(by_hand, abs=2e-5)
    # 30″ east turn the circle, and the cross section by 30″ × 20″.
    assert heights[20, 30] - heights[20, 0] == pytest.approx(0, abs=2e-5)


def tilted(path, north_ppm):
    """Write a grid that rises to the north, and return its rise in m for a degree."""
    rise = 0.00111 * north_ppm * 100
    lats, lons = np.meshgrid(np.arange(5), np.arange(5), indexing="ij")
    heights = 46.0 + rise * (lats - 2) * 0.05 + 0 * lons
    with path.open("wb") as file:
        file.write(struct.pack(">4d2i", 45.9, 8.9, 0.05, 0.05, 5, 5))
        file.write(heights.astype(">f4").tobytes())
    return rise


def test_the_slope_of_a_grid_is_the_deflection(job, tmp_path):
    """A degree of the meridian at 46° is 111.1 km (M of GRS 80), by the formula."""
    rise = tilted(tmp_path / "geoid.gtx", 40)
    found = slopes(tmp_path / "geoid.gtx", FRAME, np.array([46.01]), np.array([9.01]))
    meridian = 6378137 * (1 - E2) / (1 - E2 * np.sin(np.radians(46.01)) ** 2) ** 1.5
    by_hand = rise / (meridian * np.pi / 180)
    # Heights in the file are rounded to 4 µm (float32 near 46 m) over a kilometre.
    assert found[0, 0] == pytest.approx(by_hand, abs=4e-6 / 1000)
    assert found[0, 1] == pytest.approx(0, abs=1e-9)
    loaded = job('geoid = "geoid.gtx"\ngeoid_sd_mm = 5', **pointing_south(300.0))
    (note,) = [f for f in loaded.findings if f.slug == "deflections-used"]
    assert f"{by_hand / ARCSEC:.1f}″" in note.against
    # 40 ppm of 10 m; A and B are known marks.
    (about,) = [f for f in loaded.findings if f.slug == "undulation-about"]
    assert about.about == "P"
    assert f"{by_hand * 1e4:.2f} mm" in about.against
    at = loaded.network.marks.name.index("P")
    north, east = loaded.network.marks.deflection[at]
    assert north == pytest.approx(-by_hand, rel=1e-3)
    assert east == pytest.approx(0, abs=1e-8)


def test_the_export_says_which_height_is_which_and_reads_back(job, tmp_path):
    """A: 400 m less 46.75 m. What is written is control again, without a query."""
    job(NONE_SHIFT, baselines=baselines("ABE"), control=benchmarks({"B": 373.25}))
    out = tmp_path / "made.csv"
    code = main(["--job", str(tmp_path), "export", "--quiet", f"--csv={out}"])
    assert code == 0
    lines = out.read_text("utf-8").splitlines()
    said = next(line for line in lines if "orthometric_height_m:" in line)
    assert "height datum levels" in said
    assert "shift of the geoid estimated" in said
    header = next(line for line in lines if line.startswith("station,")).split(",")
    row = dict(
        zip(
            header, next(r for r in lines if r.startswith("A,")).split(","), strict=True
        )
    )
    assert row["ellipsoidal_height_m"] == "400.0000"
    assert row["orthometric_height_m"] == "353.2500"
    assert row["sd_orthometric_height_mm"] == "2.2"  # √5
    kept = {f.slug for f in load(tmp_path).findings}
    text = out.read_text("utf-8")
    (tmp_path / "job.toml").write_text(JOB.format('geoid = "none"'), "utf-8")
    (tmp_path / "control.csv").write_text(text, "utf-8")
    again = {f.slug for f in load(tmp_path).findings}
    assert again - kept == {"use-not-stated"}


def test_the_json_of_a_plane_fits_its_schema(job, tmp_path, capsys):
    middle = places("ABCDE").mean(axis=0)
    above = {n: LATITUDES[n][2] - plane(n, middle) for n in "BCDE"}
    job(NONE_PLANE, baselines=baselines("ABCDE"), control=benchmarks(above))
    for words in (["adjust"], ["adjust", "minimal"], ["show", "mark", "A"], ["run"]):
        capsys.readouterr()
        main([*words, "--job", str(tmp_path), "--quiet", "--json"])
        found = json.loads(capsys.readouterr().out)
        name = found["schema"].split("/")[1]
        Draft202012Validator(schema_of(name)).validate(found)
        if words == ["adjust"]:
            tilts = [p for p in found["parameters"] if p["kind"] == "undulation tilt"]
            assert [p["value_ppm"] for p in tilts] == pytest.approx([20, -50], abs=1e-3)
            assert all(p["needed"] for p in tilts)
            assert found["geoid"]["estimated"] == "plane"


def test_both_heights_are_printed_with_their_datum(job, tmp_path, capsys):
    job(NONE_SHIFT, baselines=baselines("ABE"), control=benchmarks({"B": 373.25}))
    at = ["--job", str(tmp_path), "--quiet"]
    for words in (["adjust"], ["show", "mark", "A"], ["run"]):
        capsys.readouterr()
        main([*words, *at])
        text = " ".join(capsys.readouterr().out.split())
        assert "orthometric heights above levels: no geoid model, a shift" in text
        # A: 400 m, 46.75 m, 353.25 m ± √5 mm.
        assert "A 400.0000 46.7500 353.2500 2.2" in text
    main(["report", f"--html={tmp_path / 'page.html'}", *at])
    page = (tmp_path / "page.html").read_text("utf-8")
    assert "orthometric height (m)" in page
    assert "353.2500" in page
    # The shift itself, and that the data ask for it.
    assert "shift of the undulations" in page
