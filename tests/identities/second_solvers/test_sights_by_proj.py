"""Single sights in space against PROJ's own topocentric conversion.

PROJ's ``topocentric`` (EPSG method 9836, IOGP 373-7-2) gives east, north, up from an
origin; azimuth, zenith angle and distance follow by plane trigonometry. Instrument and
target stand above their marks on the ellipsoid's normal, by PROJ's ``cart``.
"""

from dataclasses import replace

import numpy as np
import pytest
from pyproj import Transformer

from brasscap.adjust.datum import datum
from brasscap.adjust.equations import equations
from brasscap.adjust.nodes import nodes_at

PLACES = np.array(
    [
        [47.0, 8.0, 400.0],
        [47.0003, 8.0002, 402.0],
        [47.003, 8.004, 431.0],
        [46.9985, 7.9975, 980.0],
        [47.01, 7.97, 120.0],
        [47.12, 8.31, 1250.0],
        [46.6, 8.6, 3200.0],
        [47.0, 8.00001, 400.5],
    ]
)
"""Latitude, longitude, height; from 1 m to 60 km, from steep to across a valley."""
HI = 1.623
HT = np.array([0.0, 1.5, 2.0, 0.1, 1.8, 1.45, 3.0, 0.9])


@pytest.fixture
def sighted(mixed):
    """Return what the tool computes for sights from the first place to the others."""
    network, _ = mixed
    to = np.arange(1, len(PLACES))
    some = next(s for s in network.sights if s.kind == "azimuth")
    count = len(to)
    none = np.full(count, -1)
    template = replace(
        some,
        name=tuple(f"s{i}" for i in to),
        at=np.zeros(count, dtype=np.int64),
        to=to,
        back=none,
        at_height=np.full(count, HI),
        to_height=HT[to],
        back_height=np.zeros(count),
        value=np.zeros(count),
        sd=np.ones(count),
        parameter=np.full((count, 2), -1),
        refraction=np.zeros(count),
        used=np.ones(count, dtype=bool),
        row=to,
    )
    kinds = ("azimuth", "zenith angle", "slope distance", "horizontal distance")
    asked = replace(
        network, sights=tuple(replace(template, kind=kind) for kind in kinds)
    )
    xyz = network.frame.cartesian(PLACES)
    made = equations(asked, datum(asked, "constrained"), nodes_at(asked, xyz))
    return {some.kind: -some.misclosure[:, 0] for some in made if some.kind in kinds}


def by_proj():
    """Return azimuth, zenith angle, slope and horizontal distance of each sight."""
    cart = (
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
        "+step +proj=cart +ellps=GRS80"
    )
    latitude, longitude, height = PLACES.T
    raised = height + np.where(np.arange(len(PLACES)) == 0, HI, HT)
    origin = Transformer.from_pipeline(cart).transform(
        longitude[0], latitude[0], raised[0]
    )
    at = " ".join(f"+{axis}_0={v!r}" for axis, v in zip("XYZ", origin, strict=True))
    level = Transformer.from_pipeline(
        f"{cart} +step +proj=topocentric +ellps=GRS80 {at}"
    )
    east, north, up = level.transform(longitude[1:], latitude[1:], raised[1:])
    flat = np.hypot(east, north)
    return {
        "azimuth": np.arctan2(east, north),
        "zenith angle": np.arctan2(flat, up),
        "slope distance": np.sqrt(flat**2 + up**2),
        "horizontal distance": flat,
    }


def test_a_sight_is_what_proj_makes_of_it(sighted):
    """Distances to a rounding of coordinates (4 nm), angles to it over the distance."""
    theirs = by_proj()
    near = 4e-9
    for kind, computed in sighted.items():
        difference = computed - theirs[kind]
        if kind in ("azimuth", "zenith angle"):
            turns = np.mod(difference + np.pi, 2 * np.pi) - np.pi
            difference = turns * theirs["horizontal distance"]
        np.testing.assert_allclose(difference, 0, rtol=0, atol=near, err_msg=kind)
