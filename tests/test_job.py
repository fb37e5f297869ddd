"""job.toml is read whole: no default hides behind a slip of the pen."""

from pathlib import Path

import pytest

from brasscap.io.tables.job import SET_UP_KINDS
from brasscap.io.tables.job_file import read_job
from brasscap.io.tables.job_keys import NAMED_SECTIONS, SECTIONS
from brasscap.networks.options import Options

LOCAL = 'schema = 1\n[frame]\nkind = "local"\n'
GEODETIC = 'schema = 1\n[frame]\nkind = "geodetic"\n'


def read(text):
    return read_job(text.encode())


def only(text):
    """Return the one finding of a job that has one fault."""
    job, findings = read(text)
    assert job is None
    (finding,) = findings
    assert finding.verdict == "fault"
    assert finding.mend
    assert finding.file == "job.toml"
    return finding


def test_every_key_of_the_contract_is_read():
    """Lengths in metres, latitudes in degrees, times of day as texts."""
    job, findings = read(
        """schema = 1
[job]
title = "Ford bridge"
surveyor_in_charge = "R. Example"
licence = "none"
who = "RE"
utc_offset_h = -6
[frame]
kind = "geodetic"
geographic_epsg = 6319
epoch = 2010
grid_epsg = 6427
geoid = "table"
undulation = "shift"
combined_factor = 0.9998
combined_factor_origin_north_m = 1000
combined_factor_origin_east_m = 2000.5
transformations = [{from_epsg = 4979, from_epoch = 2020.0, operation = "a way"}]
[network]
dimension = "space"
minimal_station = "BRIDGE 1"
minimal_azimuth_to = "T103"
[units]
length = "ift"
angle = "gon"
[tests]
confidence = 0.99
outlier_alpha = 0.01
power = 0.9
ellipses_from = "stated"
tests_from = "estimated"
[set_up]
none = true
[set_up.tripod]
sd_centring_mm = 1.1
[set_up.pillar]
sd_centring_mm = 0
sd_height_mm = 0
[refraction]
coefficient = 0.2
sd = 0.05
unknown_per = "day"
[group.north]
sd_multiplier_plan = 2
[levels]
sd_mm_per_sqrt_km = 1.5
[planned.baseline]
sd_plan_mm = 5
sd_plan_ppm = 1
[spec.site]
kind = "relative positional precision"
constant_mm = 20
ppm = 50
confidence = 0.95
pairs = "adjacent"
also_stated_as = "0.07 ift"
[crew]
receivers = 3
people = 2
start = "14:00"
hours = 4.5
sunset = 20:31:00
drive_speed_km_h = 40
set_up_min = 12
[crew.log_min]
baseline = 45
"""
    )
    assert findings == []
    assert (job.title, job.utc_offset_h, job.who) == ("Ford bridge", -6.0, "RE")
    frame = job.frame
    assert (frame.geographic_epsg, frame.epoch, frame.grid_epsg) == (6319, 2010.0, 6427)
    assert frame.combined_factor_origin == (1000.0, 2000.5)
    assert frame.transformations[0].from_epoch == 2020.0
    assert (job.length_unit, job.angle_unit) == ("ift", "gon")
    assert job.options == Options(0.99, 0.01, 0.9, "stated", "estimated")
    assert job.set_up_kinds["tripod"].sd_centring == 0.0011
    assert job.set_up_kinds["tripod"].sd_height == SET_UP_KINDS["tripod"].sd_height
    assert job.set_up_kinds["pillar"].sd_height == 0
    assert job.stated_kinds == ("tripod", "pillar")
    assert job.no_set_ups
    assert (job.refraction.coefficient, job.refraction.unknown_per) == (0.2, "day")
    assert job.groups["north"].sd_multiplier_plan == 2
    assert job.groups["north"].sd_multiplier_height == 1
    assert job.levels.sd_per_sqrt_km == 0.0015
    assert job.levels.sd_per_set_up is None
    assert job.planned["baseline"]["sd_plan_ppm"] == 1
    assert job.specifications["site"]["constant_mm"] == 20
    assert (job.crew["sunset"], job.crew["log_min"]) == ("20:31", {"baseline": 45})


def test_a_curved_site_grid():
    job, findings = read(
        LOCAL + 'earth = "curved"\nlatitude_deg = 47.5\nreference_height_m = 400\n'
        'origin_latitude_deg = 47.5\norigin_longitude_deg = 8\nheight_datum = "site"\n'
    )
    assert findings == []
    assert (job.frame.latitude, job.frame.reference_height) == (47.5, 400)
    assert (job.frame.origin_latitude, job.frame.origin_longitude) == (47.5, 8)


def test_silent_keys_have_the_defaults_that_are_written_down():
    """95 %, α 0.1 %, power 80 %; tripod 1.0 and 1.5 mm … target 1.0 and 1.0 mm."""
    job, findings = read(LOCAL)
    assert findings == []
    assert job.options == Options(0.95, 0.001, 0.80, "larger", "stated")
    millimetres = {
        kind: (1000 * its.sd_centring, 1000 * its.sd_height)
        for kind, its in job.set_up_kinds.items()
    }
    assert millimetres == {
        "tripod": (1.0, 1.5),
        "pole_bipod": (2.5, 1.0),
        "pole_hand": (7.0, 1.0),
        "pillar": (0.2, 0.5),
        "target": (1.0, 1.0),
    }


KEYS = [
    (section, key)
    for section, keys in [*SECTIONS.items(), *NAMED_SECTIONS.items()]
    for key in keys
]


@pytest.mark.parametrize(("section", "key"), KEYS)
def test_a_slip_in_any_key_is_a_fault_with_its_spelling(section, key):
    name = {"set_up": "set_up.tripod", "frame": "frame"}.get(section, section)
    if section in NAMED_SECTIONS and section != "set_up":
        name = f"{section}.one"
    slip = key[:-1] + "q" + key[-1]
    head = "" if section == "frame" else f"[{name}]\n"
    finding = only(f"{LOCAL}{head}{slip} = 1\n")
    assert finding.slug == "unknown-key"
    assert finding.line == (4 if section == "frame" else 5)
    # Of a short word there is nothing left to compare.
    assert finding.likely == key or len(key) < 4


@pytest.mark.parametrize(
    ("text", "slug", "line", "likely"),
    [
        (LOCAL + "[tets]\npower = 0.8\n", "unknown-section", 4, "tests"),
        (LOCAL + "[set_up.tripot]\nsd_height_mm = 1\n", "unknown-key", 4, "tripod"),
        (LOCAL + "[set_up]\nnone = 1\n", "wrong-type", 5, ""),
        (LOCAL + "[tests]\n\nconfidence = 1.5\n", "out-of-range", 6, ""),
        (LOCAL + "[tests]\nconfidence = 95\n", "out-of-range", 5, ""),
        (LOCAL + "[tests]\npower = nan\n", "out-of-range", 5, ""),
        (LOCAL + "[tests]\npower = 1.0\n", "out-of-range", 5, ""),
        (LOCAL + '[tests]\nconfidence = "0.95"\n', "wrong-type", 5, ""),
        (LOCAL + "[tests]\nconfidence = true\n", "wrong-type", 5, ""),
        (LOCAL + '[tests]\nellipses_from = "Stated"\n', "word-not-known", 5, "stated"),
        (LOCAL + '[units]\nlength = "ft"\n', "foot-not-named", 5, ""),
        (LOCAL + "[job]\ntitle = 5\n", "wrong-type", 5, ""),
        (LOCAL + "[set_up.tripod]\nsd_height_mm = -1\n", "out-of-range", 5, ""),
        (LOCAL + "[refraction]\nsd = inf\n", "out-of-range", 5, ""),
        (LOCAL + '[crew]\nstart = "25:00"\n', "wrong-type", 5, ""),
        (LOCAL + "[crew.log_min]\nbaseline = -3\n", "out-of-range", 5, ""),
        (LOCAL + "[group]\nnorth = 2\n", "wrong-type", 5, ""),
        (LOCAL + "transformations = [1]\n", "wrong-type", 4, ""),
        (LOCAL + "transformations = [{operation = 'x'}]\n", "key-missing", 4, ""),
        ("tests = 1\n" + LOCAL, "wrong-type", 1, ""),
        ("[frame]\nkind = 'local'\n", "key-missing", 0, ""),
        ("schema = 2\n[frame]\nkind = 'local'\n", "schema-not-known", 1, ""),
        ("schema = true\n[frame]\nkind = 'local'\n", "schema-not-known", 1, ""),
        ("schema = 1\n", "key-missing", 0, ""),
        ("schema = 1\n[frame]\nkind = 'grid'\n", "word-not-known", 3, ""),
        (GEODETIC + "epoch = 2010\n", "key-missing", 2, ""),
        (GEODETIC + "geographic_epsg = 6319\n", "key-missing", 2, ""),
        (GEODETIC + "geographic_epsg = 6319.0\nepoch = 2010\n", "wrong-type", 4, ""),
        (GEODETIC + "geographic_epsg = 6319\nepoch = 10\n", "out-of-range", 5, ""),
        (LOCAL + 'earth = "curved"\nlatitude_deg = 5\n', "key-missing", 2, ""),
        (LOCAL + 'geoid = "model.tif"\n', "key-missing", 2, ""),
        (LOCAL + "origin_latitude_deg = 5\n", "key-missing", 2, ""),
        (LOCAL + "[tests]\npower = 0.8\npower = 0.9\n", "toml-not-understood", 6, ""),
        (LOCAL + "[job]\ntitle = Ford bridge\n", "toml-not-understood", 5, ""),
        (LOCAL + "[job]\ntitle = 'Ford\n", "toml-not-understood", 5, ""),
        (LOCAL + "x = " + "[" * 5000, "toml-not-understood", 4, ""),
        (LOCAL + "x = " + "9" * 5000, "toml-not-understood", 4, ""),
    ],
)
def test_what_cannot_be_is_a_fault_with_its_line(text, slug, line, likely):
    finding = only(text)
    assert (finding.slug, finding.line, finding.likely) == (slug, line, likely)


def test_all_faults_are_told_at_once():
    _, findings = read("[tets]\n[tests]\npower = 2\nconfidnce = 1\n")
    assert [f.slug for f in findings] == [
        "key-missing",
        "unknown-section",
        "out-of-range",
        "unknown-key",
        "key-missing",
    ]


def test_a_key_of_the_other_kind_of_frame_is_asked_about():
    job, (finding,) = read(LOCAL + "epoch = 2010.0\n")
    assert job is not None
    assert (finding.slug, finding.verdict) == ("key-without-effect", "query")


def test_no_job_and_no_text():
    assert [f.slug for f in read_job(None)[1]] == ["job-missing"]
    assert [f.slug for f in read_job(b"\xff\xfeschema")[1]] == ["wrong-encoding"]
    marked = b"\xef\xbb\xbf" + LOCAL.replace("\n", "\r\n").encode()
    assert read_job(marked)[1] == []


def test_the_job_folders_state_all_they_need():
    for path in sorted((Path(__file__).parent / "jobs").glob("*/job.toml")):
        job, findings = read_job(path.read_bytes())
        assert findings == []
        assert job.title == path.parent.name
        assert job.options == Options(ellipses_from="stated")
        assert job.set_up_kinds["tripod"].sd_centring == 0
