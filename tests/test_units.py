"""Units are exact: a booked number is rounded once, and never guessed."""

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brasscap.io.tables.cells import read_numbers
from brasscap.io.tables.schema import Column, split_header
from brasscap.networks.units import UNITS, convert, dms, exact, format_dms

quick = settings(max_examples=200, derandomize=True, deadline=None)


def test_feet_are_the_feet_of_the_standards():
    """International foot 0.3048 m exactly, US survey foot 1200/3937 m exactly.

    Federal Register 24 FR 5348 (1959), and NIST Special Publication 811 (2008),
    appendix B.6, footnote 9, which gives both.
    """
    assert UNITS["ift"].factor == Fraction(3048, 10000)
    assert UNITS["sft"].factor == Fraction(1200, 3937)
    # The two differ by 2 parts in a million (the same footnote).
    ratio = UNITS["sft"].factor / UNITS["ift"].factor
    assert float(ratio - 1) == pytest.approx(2e-6, rel=0.01)


def test_angles_by_definition():
    """A right angle is 90°, 100 gon, 324 000 seconds of arc."""
    assert convert("100", "gon") == 90
    assert convert("324000", "arcsec") == 90
    assert dms("90 00 00") == 90


@quick
@given(
    st.decimals(-(10**7), 10**7, allow_nan=False, places=5),
    st.sampled_from(
        ["m", "mm", "km", "ift", "sft", "deg", "gon", "arcsec", "mm2", "m2"]
    ),
)
def test_a_number_is_rounded_once(number, unit):
    """The float nearest to the exact product, whichever way it was taken."""
    text = f"{number:f}"
    truth = float(Fraction(text) * UNITS[unit].factor)
    assert convert(text, unit) == truth
    column = Column(f"latitude_{unit}", "")  # a latitude stays in degrees
    values, _ = read_numbers([text], column, unit)
    assert abs(truth) > 1e4 or values[0] == truth


@quick
@given(st.integers(-359 * 36000, 359 * 36000))
def test_degrees_minutes_seconds_go_round(tenths):
    """Written to a tenth of a second and read again, an angle is the same."""
    text = format_dms(math.radians(tenths / 36000))
    assert round(dms(text) * 36000) == tenths


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("123 45 06.7", 123 + 45 / 60 + 6.7 / 3600),
        ("-0 30 00", -0.5),
        ("+12:30:00", 12.5),
        ("12-30-00", 12.5),
        ("12° 30' 00\"", 12.5),
        ("12°30′36″", 12.51),
        ("  7 00 00 ".strip(), 7.0),
    ],
)
def test_dms_takes_separated_parts(text, degrees):
    assert dms(text) == pytest.approx(degrees, rel=1e-15)


@pytest.mark.parametrize(
    "text",
    [
        "1234506.7",
        "123.45067",
        "123 45",
        "12 60 00",
        "12 30 60",
        "",
        "a b c",
        "1 2 3 4",
    ],
)
def test_dms_refuses_everything_else(text):
    with pytest.raises(ValueError, match=r"."):
        dms(text)


@pytest.mark.parametrize(
    "text",
    ["1e400", "-1e999", "1e-999", "nan", "inf", "1_000", "1,5", "", "٣", "9" * 5000],
)
def test_exact_refuses_what_is_no_decimal_number(text):
    with pytest.raises(ValueError, match=r"."):
        exact(text)


def test_the_last_word_of_a_header_is_its_unit():
    assert split_header("sd_distance_ppm") == ("sd_distance", "ppm")
    assert split_header("drive_speed_km_h") == ("drive_speed", "km_h")
    for words in ("horizon_at", "frame_epsg", "vector_between", "m", "year"):
        assert split_header(words) == (words, "")


def test_one_length_in_five_units():
    """2 m by hand: 2000 mm, 0.002 km, 2/0.3048 ift, 2·3937/1200 sft."""
    column = Column("height_m", "")
    booked = {
        "m": "2",
        "mm": "2000",
        "km": "0.002",
        "ift": "6.56167979002625",
        "sft": "6.56166666666667",
    }
    for unit, text in booked.items():
        values, problems = read_numbers([text], column, unit)
        assert not problems
        np.testing.assert_allclose(values, [2.0], rtol=1e-14)
