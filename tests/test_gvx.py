"""GVX: the vectors of an openly published format, held against the solution that the
sample was made from."""

import json
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.io.formats import baseline_tables, parse_gvx, read_gvx, read_sinex
from brasscap.io.tables.load import load
from brasscap.networks import InputError

REAL = Path(__file__).parent / "realdata"
FILE = REAL / "str1_three_vectors.gvx"
EXPECTED = json.loads((REAL / "expected.json").read_text())[FILE.name]


def test_the_sample_is_read():
    """Against facts computed apart from any importer (realdata/README.md); its
    covariance to 1e-5, the digits of the correlations in the file."""
    found = read_gvx(FILE)
    named = [
        f"{n} {a}-{b}"
        for n, a, b in zip(found.name, found.start, found.end, strict=True)
    ]
    assert named == EXPECTED["order"]
    assert found.delta == pytest.approx(np.array(EXPECTED["dxyz"]), abs=6e-6)
    assert len(found.cross) == EXPECTED["cross_blocks"]
    assert found.covariance() == pytest.approx(
        np.array(EXPECTED["covariance_9x9"]), rel=1e-5
    )


def test_the_same_covariance_comes_out_of_the_solution():
    """Propagated here from the SINEX file of the same day: end minus start."""
    solution, found = read_sinex(REAL / "STR1.SNX"), read_gvx(FILE)
    jacobian = np.zeros((9, 3 * len(solution.station)))
    for k, (start, end) in enumerate(zip(found.start, found.end, strict=True)):
        for sign, name in ((-1, start), (1, end)):
            at = 3 * solution.station.index(name)
            jacobian[3 * k : 3 * k + 3, at : at + 3] += sign * np.eye(3)
    propagated = jacobian @ solution.covariance @ jacobian.T
    assert found.covariance() == pytest.approx(propagated, rel=1e-5)


@pytest.fixture
def job(tmp_path, capsys):
    """A geodetic job with one known mark, into which vectors are imported."""
    (tmp_path / "job.toml").write_text(
        'schema = 1\n[job]\ntitle = "t"\nwho = "ab"\n[frame]\nkind = "geodetic"\n'
        'geographic_epsg = 9989\nepoch = 2025.911\ngeoid = "none"\n'
    )
    (tmp_path / "control.csv").write_text(
        "station,use_plan,use_height,x_m,y_m,z_m\n"
        "STR1,held,held,-4467103.41346,2683039.48292,-3666948.48486\n"
    )
    (tmp_path / "stations.csv").write_text("station\nSTR1\nSTR2\nTID1\nBRDW\n")
    return tmp_path


def test_an_import_adjusts_to_the_points_of_the_file(job, capsys):
    """The other marks come out where the file's own coordinates have them, to the
    10 µm that these are printed with; its covariance to 1e-5."""
    line = ["import", str(FILE), "--as", "baselines", "--job", str(job)]
    assert main([*line, "--frame-epsg", "job"]) == 0
    capsys.readouterr()
    assert main(["adjust", "--json", "--job", str(job)]) == 0
    marks = {m["station"]: m for m in json.loads(capsys.readouterr().out)["marks"]}
    at = [marks["TID1"][f"{axis}_m"] for axis in "xyz"]
    assert at == pytest.approx(
        [-4460997.17659, 2682557.08796, -3674442.36822], abs=2e-5
    )
    vectors = load(job).network.vectors
    (batch,) = vectors.covariances
    assert batch.matrix[0] == pytest.approx(
        np.array(EXPECTED["covariance_9x9"]), rel=1e-5
    )
    assert vectors.name[0] == "str1_three_vectors V1"


def test_times_are_gps_time_in_the_file_and_utc_in_the_table():
    """GPS − UTC is 18 s since 2017 (IERS Bulletin C): 00:00:00 is 23:59:42 before."""
    made = baseline_tables(read_gvx(FILE), frame_epsg=9989, name="n")
    assert "2025-11-28T23:59:42Z,2025-11-29T23:59:12Z" in made["baselines/n.csv"]


def test_a_frame_is_not_taken_for_granted(job, capsys):
    line = ["import", str(FILE), "--as", "baselines", "--job", str(job)]
    assert main(line) == 3
    assert "frame-not-stated" in capsys.readouterr().err
    assert not (job / "baselines").exists()
    assert main([*line, "--read-only"]) == 0


@pytest.mark.parametrize(
    ("old", "new", "booked"),
    [
        ("<DX>27.94741</DX>", "<DX>27,94741</DX>", "27,94741"),
        ("<TERMINAL_POINT_ID>P_STR2<", "<TERMINAL_POINT_ID>P_STR9<", "P_STR9"),
        ("<NAME>meters</NAME>", "<NAME>US survey feet</NAME>", "US survey feet"),
        ('VECTOR_ID_COL="V3"><CORRELATIONS>0.47', 'VECTOR_ID_COL="V9"><C', "V9"),
        ("0.475255817, ", "", "CORRELATIONS of V1 and V3"),
        ("<SDX>0.001405781</SDX>", "<SDX>0</SDX>", "sd of 0"),
        ("<PXY>-0.830521793</PXY>", "<PXY>0.99</PXY>", "smallest eigenvalue"),
        ("<ID>V2</ID>", "<ID>V1</ID>", "V1"),
    ],
)
def test_each_fault_is_told_with_its_line(old, new, booked):
    text = FILE.read_text()
    assert old in text
    if "<C" in new:
        new = old.replace("V3", "V9")
    with pytest.raises(InputError) as caught:
        parse_gvx(text.replace(old, new, 1).encode(), "a.gvx")
    found = caught.value.findings
    assert any(booked in f.booked for f in found)
    assert all(f.slug == "not-gvx" and f.line and f.mend for f in found)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<GVX",
        FILE.read_bytes()[:3000],
        b'<!DOCTYPE G [<!ENTITY a "b">]><GVX/>',
        b"\xff\xfe\x00",
    ],
)
def test_what_is_no_xml_is_refused(content):
    with pytest.raises(InputError) as caught:
        parse_gvx(content, "a.gvx")
    assert caught.value.findings[0].slug == "xml-not-well-formed"


def test_another_root_or_no_vector():
    for content in (b"<LandXML/>", b"<GVX VERSION='1.0'/>"):
        with pytest.raises(InputError) as caught:
            parse_gvx(content, "a.gvx")
        assert caught.value.findings[0].slug == "not-gvx"
