"""The textbook network as a user meets it: a folder in, printed figures out.

C. D. Ghilani and P. R. Wolf, Adjustment Computations: Spatial Data Analysis, chapter
on the adjustment of GNSS networks (from memory; see tests/cases).
"""

import json
import shutil
from pathlib import Path

import pytest

from brasscap.__main__ import main

NAME = "gnss_textbook_two_control_13_vectors"


@pytest.fixture
def job(tmp_path):
    return shutil.copytree(Path(__file__).parent / "jobs" / NAME, tmp_path / "job")


@pytest.fixture
def answer(job, capsys):
    assert main(["--job", str(job), "--json", "--quiet", "adjust"]) == 0
    return json.loads(capsys.readouterr().out)


def test_the_printed_coordinates_and_their_sd(answer, case):
    """To the last printed digit, a tenth of a millimetre."""
    marks = {mark["station"]: mark for mark in answer["marks"]}
    xyz = {
        name: [mark[key] for key in ("x_m", "y_m", "z_m")]
        for name, mark in marks.items()
    }
    case(NAME).check(xyz=xyz)


def test_the_printed_variance_factor_and_its_limits(answer, case):
    """0.6135; v'Pv lies between 14.573 and 43.195."""
    factor = answer["variance_factor"]
    freedom = factor["degrees_of_freedom"]
    case(NAME).check(
        s0_sq=factor["value"],
        dof=freedom,
        chi2_lower_975=freedom * factor["lower"],
        chi2_upper_025=freedom * factor["upper"],
    )
    assert factor["verdict"] == answer["verdict"] == "meets"


def test_the_printed_residuals(answer, case):
    residuals = {row["name"]: row["residual_m"] for row in answer["observations"]}
    case(NAME).check(residuals=[residuals[f"v{number}"] for number in range(13)])


def test_the_redundancies_of_all_rows_make_the_degrees_of_freedom(answer):
    total = sum(row["redundancy"] or 0 for row in answer["observations"])
    assert total == pytest.approx(27, rel=0, abs=1e-6)


def test_the_text_says_the_same_in_words(job, capsys):
    """The factor to four decimals, the datum, the counts."""
    assert main(["--job", str(job), "adjust"]) == 0
    printed = capsys.readouterr().out
    for words in ("0.6135", "39 observations", "12 unknowns", "27 degrees of freedom"):
        assert words in printed


def test_the_text_prints_the_published_coordinates(job, capsys, case):
    """X, Y, Z of each mark, as the book prints them, four decimals."""
    assert main(["--job", str(job), "adjust"]) == 0
    printed = capsys.readouterr().out.replace("\N{MINUS SIGN}", "-").splitlines()
    for name, xyz in case(NAME)["expected"]["xyz"].items():
        rows = [line.split() for line in printed if line.startswith(f"{name} ")]
        assert [f"{value:.4f}" for value in xyz] in [row[2:5] for row in rows]
