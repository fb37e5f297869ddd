"""The words by which others head their columns; common practice, no source."""

UNIT_WORDS = {
    "m": "m metre metres meter meters",
    "mm": "mm millimetre millimetres millimeter millimeters",
    "km": "km kilometre kilometres kilometer kilometers",
    "ift": "ift intft ftint intfeet intfoot",
    "sft": "sft usft ftus surveyft surveyfeet surveyfoot ussurveyft ussurveyfeet "
    "ussurveyfoot",
    "ft": "ft feet foot '",
    "deg": "deg degree degrees dd decdeg decimaldegrees °",
    "dms": "dms",
    "gon": "gon grad grads",
    "arcsec": 'arcsec sec seconds " ″',
    "ppm": "ppm",
    "mm2": "mm2 mm²",
    "m2": "m2 m²",
    "hPa": "hpa mbar",
    "degC": "degc °c celsius",
}
"""Unit to what states it, without blanks; ``ft`` is a foot that is not named."""

_NUMBERS = (
    "pt, pt no, pt nr, pt id, ptid, ptno, point, point id, point no, point nr, "
    "point name, point number, pnt, name, id, number, no, nr"
)
SD_WORDS = ("sd", "std", "std dev", "stddev", "stdev", "standard deviation", "sigma")
_AXES = {
    "north": ("n", "north", "northing"),
    "east": ("e", "east", "easting"),
    "height": ("h", "height", "ht", "elev", "elevation", "up", "u", "vertical"),
    **{axis: (axis,) for axis in "xyz"},
}
PAIRS = ("xx", "xy", "xz", "yy", "yz", "zz")


def _said() -> dict[str, frozenset[str]]:
    said = {
        "station": f"{_NUMBERS}, mark, mark name, station name, stn, monument",
        "shot": f"{_NUMBERS}, shot no, shot nr, shot id",
        "north": "n, northing, northings, nord, grid north",
        "east": "e, easting, eastings, ost, grid east",
        "height": "elev, elevation, rl, reduced level, orthometric height",
        "ellipsoidal_height": "ellipsoid height, ell height, ell ht, ellipsoidal ht",
        "latitude": "lat",
        "longitude": "lon, long, lng",
        "code": "feature code, feature, fc, point code",
        "description": "desc, remark, remarks",
        "height_datum": "vertical datum",
        "from_station": "from, from point, from pt",
        "to_station": "to, to point, to pt",
        "dx": "delta x",
        "dy": "delta y",
        "dz": "delta z",
        "de": "delta e, delta east",
        "dn": "delta n, delta north",
        "du": "delta u, delta up",
        "baseline": "vector, vector id, baseline id",
        "section": "section id, line",
        "rise": "dh, height difference, delta h",
        "direction": "hz, ha, horizontal direction, horizontal circle",
        "zenith": "zenith angle, zenith distance, za",
        "slope_distance": "slope dist, slant distance",
        "horizontal_distance": "horizontal dist, hd",
        "undulation": "geoid height, geoid undulation",
    }
    words = {ours: set(line.split(", ")) for ours, line in said.items()}
    for axis, names in _AXES.items():
        words[f"sd_{axis}"] = {f"{sd} {name}" for sd in SD_WORDS for name in names}
    for pair in PAIRS:
        apart = " ".join(pair)
        words[f"cov_{pair}"] = {f"cov {apart}", f"covariance {pair}"}
        if pair[0] == pair[1]:
            words[f"cov_{pair}"] |= {f"var {pair[0]}", f"variance {pair[0]}"}
        else:
            words[f"corr_{pair}"] = {f"corr {apart}", f"correlation {pair}"}
    return {ours: frozenset(line) for ours, line in words.items()}


SAID = _said()
"""Column of ours to the headers that mean it, beside its own name."""

_WHICH_HEIGHT = "above which surface: height (the datum) or ellipsoidal_height?"
_PROSE = "a feature code, or prose that no column of ours holds?"
DOUBTFUL = {
    **dict.fromkeys(("h", "height", "ht", "hgt"), ("height", _WHICH_HEIGHT)),
    "x": ("", "x is north with some, east with others, or geocentric"),
    "y": ("", "y is east with some, north with others, or geocentric"),
    "z": ("", "a height, and above which surface; or geocentric"),
    "sd": ("", "a slope distance, or a standard deviation (of what)?"),
    **dict.fromkeys(("desc", "description", "remark", "remarks"), ("code", _PROSE)),
}
"""Header to the column that it may be, and what is to be settled first."""

UNCERTAIN = frozenset(
    ("accuracy", "ci", "cq", "error", "hrms", "precision", "quality", "rms", "se")
) | {"uncertainty", "vrms"}
"""Words of an uncertainty that do not say which."""
OF_PLAN = frozenset(("horizontal", "hz", "hrms", "2d", "plan", "circular", "radius"))
"""Words of an uncertainty that is one figure for both axes."""
