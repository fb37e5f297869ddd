"""The first velocity correction, against figures that are not ours."""

import numpy as np
import pytest

from brasscap.networks.atmosphere import group_refractivity, velocity_correction


def refractivity(wavelength, pressure, temperature, vapour=0.0):
    given = (wavelength, pressure, temperature, vapour)
    return float(group_refractivity(*(np.array([value]) for value in given))[0])


def test_the_printed_reference_index_of_an_infrared_instrument():
    """281.8 ppm at 0.850 µm, 12 °C, 1013.25 hPa and 60 % relative humidity.

    A data sheet's figure, from memory. The vapour is 60 % of 14.02 hPa, the
    saturation pressure at 12 °C (steam tables: 14.02 hPa).
    """
    index = refractivity(0.850, 1013.25, 12.0, 0.60 * 14.02)
    assert index == pytest.approx(281.8, abs=0.05)


@pytest.mark.parametrize(("pressure", "temperature"), [(1013.25, 0), (900, 25)])
def test_the_printed_formula_of_an_infrared_instrument(pressure, temperature):
    """0.29065 p / (1 + t/273.15) ppm in dry air at 0.850 µm (a data sheet, from
    memory); five digits of its factor allow 0.01 ppm."""
    printed = 0.29065 * pressure / (1 + temperature / 273.15)
    index = refractivity(0.850, pressure, temperature)
    assert index == pytest.approx(printed, abs=0.01)


def test_about_one_ppm_for_a_degree_or_for_3_6_hectopascal():
    """Common practice: 1 ppm per 1 °C, or per 3.6 hPa."""
    here = refractivity(0.850, 1013.25, 12.0)
    assert here - refractivity(0.850, 1013.25, 13.0) == pytest.approx(1.0, abs=0.05)
    assert refractivity(0.850, 1016.85, 12.0) - here == pytest.approx(1.0, abs=0.05)


def test_thin_air_makes_the_corrected_distance_longer():
    """By hand: 1500 m, air 40 ppm thinner than the reference: + 60 mm."""
    change = velocity_correction(
        np.array([1500.0]), np.array([281.8]), np.array([241.8])
    )
    assert change[0] == pytest.approx(0.060, abs=1e-4)
