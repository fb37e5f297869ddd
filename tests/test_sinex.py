"""The SINEX reader against facts computed apart from it, and against broken files.

Facts: tests/realdata/expected.json; the source of each file stands in the README
there.
"""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brasscap.io.formats import parse_sinex, read_sinex
from brasscap.networks import GeodeticFrame, InputError

REAL = Path(__file__).parent / "realdata"
FACTS = json.loads((REAL / "expected.json").read_text())
STR1 = FACTS["STR1.SNX"]
GRS80 = 7843  # GDA2020, geographic 3D: its ellipsoid is GRS 80.


@pytest.fixture(scope="module")
def solution():
    return read_sinex(REAL / "STR1.SNX")


def block(solution, first, second):
    a, b = (3 * solution.station.index(name) for name in (first, second))
    return solution.covariance[a : a + 3, b : b + 3]


def row(solution, name):
    return solution.station.index(name)


def test_heading_and_stations(solution):
    assert solution.version == STR1["version"]
    assert solution.constraint_code == STR1["constraint_code"]
    assert len(solution.station) == STR1["stations_with_coordinates"]
    assert solution.covariance.shape == (STR1["parameters"], STR1["parameters"])
    assert solution.covariance_from == STR1["matrix_block"]
    assert solution.variance_factor == STR1["statistics"]["VARIANCE FACTOR"]
    # 25:333:43200: noon of day 333 of a common year.
    np.testing.assert_allclose(solution.epoch, 2025 + 332.5 / 365, rtol=1e-12)
    # The file's own line: ALIC, UNE 0.0250 0.0000 0.0000.
    assert solution.eccentricity[row(solution, "ALIC")].tolist() == [0, 0, 0.025]


@pytest.mark.parametrize("name", STR1["coordinates"])
def test_coordinates_and_covariance_as_written(solution, name):
    fact = STR1["coordinates"][name]
    assert solution.xyz[row(solution, name)].tolist() == fact["xyz"]
    assert block(solution, name, name).tolist() == fact["cov_xyz"]


@pytest.mark.parametrize("name", STR1["coordinates"])
def test_no_factor_is_put_on_the_covariance(solution, name):
    sd = np.sqrt(np.diag(block(solution, name, name)))
    # STD_DEV is printed with six digits.
    np.testing.assert_allclose(sd, STR1["coordinates"][name]["sd_xyz"], rtol=5e-6)


@pytest.mark.parametrize("name", STR1["coordinates"])
def test_geodetic_position_and_local_sds(solution, name):
    fact = STR1["coordinates"][name]
    frame = GeodeticFrame(GRS80, 2020.0)
    xyz = solution.xyz[row(solution, name)][None]
    lat, lon, height = frame.geodetic(xyz)[0]
    # 1e-10 degrees is 0.01 mm on the ground.
    assert lat == pytest.approx(fact["lat_deg_grs80"], abs=1e-10)
    assert lon == pytest.approx(fact["lon_deg_grs80"], abs=1e-10)
    assert height == pytest.approx(fact["h_grs80"], abs=1e-5)
    axes = frame.axes(xyz)[0]
    sd = np.sqrt(np.diag(axes @ block(solution, name, name) @ axes.T))
    np.testing.assert_allclose(sd, fact["sd_enu"], rtol=1e-6)


@pytest.mark.parametrize("pair", STR1["vectors"])
def test_vectors_with_cross_terms(solution, pair):
    fact = STR1["vectors"][pair]
    first, second = pair.split("-")
    delta = solution.xyz[row(solution, second)] - solution.xyz[row(solution, first)]
    cross = block(solution, first, second)
    covariance = (block(solution, first, first) + block(solution, second, second)) - (
        cross + cross.T
    )
    length = np.linalg.norm(delta)
    along = delta / length
    np.testing.assert_allclose(delta, fact["dxyz"], rtol=0, atol=1e-8)
    np.testing.assert_array_equal(cross, fact["cross_cov"])
    np.testing.assert_allclose(covariance, fact["cov_xyz"], rtol=1e-9, atol=1e-18)
    assert length == pytest.approx(fact["slope_distance"], abs=1e-8)
    sd = np.sqrt(along @ covariance @ along)
    assert sd == pytest.approx(fact["sd_distance"], rel=1e-8)


def test_a_file_without_coordinates_says_so_and_gives_nothing():
    with pytest.raises(InputError) as caught:
        read_sinex(REAL / "ITRF2020-psd-gnss.snx")
    (finding,) = caught.value.findings
    assert finding.slug == "no-coordinates"
    fact = FACTS["ITRF2020-psd-gnss.snx"]
    assert finding.booked.startswith(f"{fact['parameters']} parameters")
    for kind, count in fact["parameter_types"].items():
        assert f"{kind} {count}" in finding.booked


# A small file of two stations, written by hand. Covariance, mm²:
#   station A  diag 4, 9, 16;  station B  diag 25, 36, 49;  A x with B x: 6.
HEADING = "%=SNX 2.02 XYZ 25:335:01280 XYZ 25:333:00000 25:333:86370 P {count:05d} 2 S"
SD = (0.002, 0.003, 0.004, 0.005, 0.006, 0.007)
VALUE = (-4e6, 4e6, -2.5e6, -4.1e6, 4.1e6, -2.4e6)
MATRIX = np.diag(np.square(SD))
MATRIX[0, 3] = MATRIX[3, 0] = 6e-6


def estimate(codes=("AAAA", "BBBB"), unit="m", solutions=("1", "1"), extra=()):
    lines = []
    for k, (value, sd) in enumerate(zip(VALUE, SD, strict=True)):
        lines.append(
            f" {k + 1:5d} {'STA' + 'XYZ'[k % 3]:6s} {codes[k // 3]:4s}  A "
            f"{solutions[k // 3]:>4s} 25:333:43200 {unit:4s} 2 "
            f"{value:21.14E} {sd:11.5E}"
        )
    return lines + list(extra)


def triangle(matrix, kind, part="L", digits=14):
    """Write the matrix one element a line; zeros off the diagonal are left out."""
    lines = [f"+SOLUTION/MATRIX_ESTIMATE {part} {kind}"]
    for i in range(len(matrix)):
        for j in range(len(matrix)):
            inside = j <= i if part == "L" else j >= i
            if inside and (i == j or matrix[i, j] != 0):
                lines.append(f" {i + 1:5d} {j + 1:5d} {matrix[i, j]:21.{digits}E}")
    return [*lines, "-SOLUTION/MATRIX_ESTIMATE"]


def small(estimates=None, matrix=None, count=None):
    estimates = estimate() if estimates is None else estimates
    return "\n".join(
        [
            HEADING.format(count=len(estimates) if count is None else count),
            "+SOLUTION/ESTIMATE",
            *estimates,
            "-SOLUTION/ESTIMATE",
            *(triangle(MATRIX, "COVA") if matrix is None else matrix),
            "%ENDSNX",
            "",
        ]
    )


def correlations():
    """CORR: the standard deviations stand on the diagonal (6/(2 · 5) = 0.6)."""
    matrix = np.diag(SD)
    matrix[0, 3] = matrix[3, 0] = 0.6
    return matrix


@pytest.mark.parametrize("part", ["L", "U"])
@pytest.mark.parametrize(
    ("kind", "matrix"),
    [
        ("COVA", MATRIX),
        ("CORR", correlations()),
        ("INFO", np.linalg.inv(MATRIX)),
    ],
)
def test_every_form_of_matrix_is_the_same_covariance(kind, matrix, part):
    read = parse_sinex(small(matrix=triangle(matrix, kind, part)), "small.snx")
    np.testing.assert_allclose(read.covariance, MATRIX, rtol=1e-12, atol=1e-20)
    np.testing.assert_allclose(read.xyz.ravel(), VALUE, rtol=1e-14)


def test_exponents_may_be_written_with_d():
    text = small().replace("E+", "D+").replace("E-", "D-")
    read = parse_sinex(text, "small.snx")
    np.testing.assert_allclose(read.xyz.ravel(), VALUE, rtol=1e-14)
    np.testing.assert_allclose(read.covariance, MATRIX, rtol=1e-12, atol=1e-20)


def test_sds_alone_are_used_without_a_matrix_and_that_is_a_query():
    read = parse_sinex(small(matrix=[]), "small.snx")
    np.testing.assert_allclose(read.covariance, np.diag(np.square(SD)), rtol=1e-12)
    assert read.covariance_from == "standard deviations only"
    assert [f.slug for f in read.notes if f.verdict == "query"] == [
        "covariance-not-given"
    ]


def test_an_information_matrix_is_inverted_with_its_other_parameters():
    """A seventh parameter correlated with A x: left out after inverting."""
    whole = np.zeros((7, 7))
    whole[:6, :6] = MATRIX
    whole[6, 6] = 1e-6
    whole[0, 6] = whole[6, 0] = 1e-6
    velocity = (
        "     7 VELX   AAAA  A    1 25:333:43200 m/y  2  0.1E-01               .1E-02"
    )
    text = small(estimate(extra=[velocity]), triangle(np.linalg.inv(whole), "INFO"))
    read = parse_sinex(text, "small.snx")
    np.testing.assert_allclose(read.covariance, MATRIX, rtol=1e-9, atol=1e-18)
    (note,) = read.notes
    assert (note.slug, note.about) == ("parameters-not-imported", "VELX 1")


def test_several_solutions_of_a_site_are_named_apart():
    text = small(estimate(codes=("AAAA", "AAAA"), solutions=("1", "2")))
    read = parse_sinex(text, "small.snx")
    assert read.station == ("AAAA A 1", "AAAA A 2")
    assert [f.slug for f in read.notes] == ["several-solutions"]


def test_sds_that_contradict_the_matrix_are_a_query():
    read = parse_sinex(small(matrix=triangle(4 * MATRIX, "COVA")), "small.snx")
    (query,) = read.notes
    assert query.slug == "sd-differs-from-matrix"
    assert "2 times" in query.booked


BROKEN = {
    "not-sinex": lambda: "station,north\n",
    "file-cut-off": lambda: small().replace("%ENDSNX\n", ""),
    "block-not-closed": lambda: small().replace("-SOLUTION/ESTIMATE\n", ""),
    "count-differs": lambda: small(count=9),
    "coordinate-missing": lambda: small(
        estimate()[:5], triangle(MATRIX[:5, :5], "COVA")
    ),
    "coordinate-twice": lambda: small().replace(" STAY   AAAA", " STAX   AAAA"),
    "unit-not-metre": lambda: small(estimate(unit="cm")),
    "not-a-number": lambda: small().replace("4.1000000000", "4.1OOOOOOOOO"),
    "epoch-unreadable": lambda: small().replace("25:333:43200 m", "2025-11-29   m"),
    "matrix-kind-unknown": lambda: small(matrix=triangle(MATRIX, "CAVA")),
    "matrix-element-outside": lambda: small(
        matrix=[
            *triangle(MATRIX, "COVA")[:-1],
            "     1     2  1.00000000000000E-06",
            "-SOLUTION/MATRIX_ESTIMATE",
        ]
    ),
    "covariance-not-positive": lambda: small(
        matrix=triangle(MATRIX + 20 * (MATRIX - np.diag(np.diag(MATRIX))), "COVA")
    ),
    "sd-is-zero": lambda: small(matrix=triangle(MATRIX * (np.arange(6) < 5), "COVA")),
    "parameter-twice": lambda: small().replace("     2 STAY", "     1 STAY"),
}


@pytest.mark.parametrize("slug", BROKEN)
def test_a_broken_file_is_refused_with_its_line(slug):
    with pytest.raises(InputError) as caught:
        parse_sinex(BROKEN[slug](), "broken.snx")
    slugs = [f.slug for f in caught.value.findings]
    assert slug in slugs
    finding = caught.value.findings[slugs.index(slug)]
    assert finding.file == "broken.snx"
    assert finding.mend
    whole_matrix = ("covariance-not-positive", "sd-is-zero")
    assert (finding.line > 0) == (slug not in whole_matrix)


def test_all_faults_are_told_at_once():
    text = small(estimate(unit="cm"), count=7).replace("25:333:43200", "25-333-43200")
    with pytest.raises(InputError) as caught:
        parse_sinex(text, "broken.snx")
    slugs = {f.slug for f in caught.value.findings}
    assert {"unit-not-metre", "count-differs", "epoch-unreadable"} <= slugs


SPOILERS = ["\n", "9", "-", " ", "²", "٣", "\x00", "+SOLUTION/ESTIMATE\n", "%ENDSNX\n"]


@given(
    st.lists(
        st.tuples(
            st.integers(0, 2000), st.integers(0, 60), st.sampled_from(["", *SPOILERS])
        ),
        min_size=1,
        max_size=6,
    )
)
@settings(max_examples=150, deadline=None)
def test_a_damaged_file_is_read_or_refused_and_never_breaks_the_reader(cuts):
    text = small()
    for place, length, put in cuts:
        text = text[:place] + put + text[place + length :]
    refused = []
    try:
        read = parse_sinex(text, "damaged.snx")
        assert np.isfinite(read.xyz).all()
        assert np.linalg.eigvalsh(read.covariance)[0] > 0
    except InputError as error:
        refused = [f for f in error.findings if f.verdict == "fault"]
        if not refused:
            raise
    assert all(f.mend for f in refused)
