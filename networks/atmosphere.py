"""The first velocity correction: light is slower in dense air.

Group refractivity after the resolution of the International Association of Geodesy,
1999 (closed formula for air with 0.0375 % carbon dioxide; from memory). It holds for
visible and near infrared light.
"""

import numpy as np

from .covariances import Floats


def group_refractivity(
    wavelength: Floats, pressure: Floats, temperature: Floats, vapour: Floats
) -> Floats:
    """Return (n − 1)·10⁶ of the group of waves, ppm.

    Ng = 287.6155 + 4.8866/λ² + 0.0680/λ⁴ in standard air, and
    N = (273.15/1013.25)·Ng·p/T − 11.27·e/T.

    Parameters
    ----------
    wavelength : ndarray, shape (n,)
        Of the carrier in vacuum, micrometres.
    pressure : ndarray, shape (n,)
        Of the air where the instrument stands (not reduced to the sea), hPa.
    temperature : ndarray, shape (n,)
        Of the air, °C.
    vapour : ndarray, shape (n,)
        Partial pressure of water vapour, hPa.

    Returns
    -------
    ndarray, shape (n,)

    Examples
    --------
    Standard air has no vapour, 0 °C and 1013.25 hPa, and leaves Ng itself:

    >>> one = np.ones(1)
    >>> air = group_refractivity(0.85 * one, 1013.25 * one, 0 * one, 0 * one)
    >>> round(float(air[0]), 3)
    294.509
    """
    square = wavelength**2
    standard = 287.6155 + 4.8866 / square + 0.0680 / square**2
    kelvin = temperature + 273.15
    density: Floats = (273.15 / 1013.25) * pressure / kelvin
    return np.asarray(standard * density - 11.27 * vapour / kelvin)


def velocity_correction(
    distance: Floats, reference: Floats, refractivity: Floats
) -> Floats:
    """Return what is added to a distance measured at a reference index of air, m.

    D·(n_ref − n)/n: denser air than the reference makes a distance read too long.

    Parameters
    ----------
    distance : ndarray, shape (n,)
        As measured, m.
    reference, refractivity : ndarray, shape (n,)
        (n − 1)·10⁶ to which the instrument refers, and of the air, ppm.

    Examples
    --------
    1 km in air 10 ppm denser than the reference reads 10 mm too long:

    >>> one = np.ones(1)
    >>> round(float(velocity_correction(1000 * one, 280 * one, 290 * one)[0]), 5)
    -0.01
    """
    index = 1 + refractivity * 1e-6
    return np.asarray(distance * (reference - refractivity) * 1e-6 / index)
