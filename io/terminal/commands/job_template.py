"""The job.toml that ``new`` writes: every choice stated, every default written out."""

KINDS = {
    "gnss": ("stations", "control", "set_ups", "antennas", "baselines"),
    "site": ("stations", "control", "set_ups", "antennas", "baselines", "positions"),
}
"""Kind of job to the tables it starts with."""

_FRAME = {
    "gnss": """\
kind = "geodetic"
# The frame of the coordinates by its EPSG code (three-dimensional geographic), and
# the epoch as a decimal year. Both must be stated; there is no default.
# geographic_epsg = 
# epoch = 
# The map grid of north_m and east_m, if there is one.
# grid_epsg = 
geoid = "none"
""",
    "site": """\
kind = "local"
# A site grid: north, east and height of the site, parallel verticals.
earth = "flat"
# The name of what the heights count from, such as "site datum, bolt in pier 2".
height_datum = ""
""",
}


def job_toml(kind: str) -> str:
    """Return the text of a new job's job.toml.

    Parameters
    ----------
    kind : "gnss" or "site"

    Examples
    --------
    >>> 'kind = "local"' in job_toml("site")
    True
    """
    return f"""\
schema = 1

[job]
title = ""
surveyor_in_charge = ""
licence = ""
# Initials that are written into decisions.
who = ""

[frame]
{_FRAME[kind]}
[units]
# Of what is printed: m, ift (0.3048 m) or sft (1200/3937 m).
length = "m"
angle = "dms"

[tests]
confidence = 0.95
outlier_alpha = 0.001
power = 0.80
# larger (of stated and estimated), stated, estimated
ellipses_from = "larger"
# stated, estimated
tests_from = "stated"

# How well a support stands over its mark: centring for each axis, and height, one
# standard deviation. Common practice; put your own in. 0 means exact.
[set_up.tripod]
sd_centring_mm = 1.0
sd_height_mm = 1.5
[set_up.pole_bipod]
sd_centring_mm = 2.5
sd_height_mm = 1.0
[set_up.pole_hand]
sd_centring_mm = 7.0
sd_height_mm = 1.0
[set_up.pillar]
sd_centring_mm = 0.2
sd_height_mm = 0.5
"""
