"""GNSS vectors in a site grid, through job folders: the turn is found, and said.

The geocentric vectors are made by PROJ (its conversion ``topocentric``), which has no
part in how they are read.
"""

import numpy as np
import pytest
from pyproj import Transformer

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge import parameter_estimates
from brasscap.adjust.judge.closures import closures
from brasscap.io.tables.load import load
from brasscap.networks import InputError, NoSolution

LATITUDE, LONGITUDE, HEIGHT = 46.5, 9.25, 400.0
MARKS = {
    "A": (1000.0, 2000.0, 400.0),
    "B": (1180.0, 2090.0, 412.0),
    "C": (1050.0, 2240.0, 405.0),
    "D": (1210.0, 2260.0, 420.0),
}
"""North, east, height of an invented site."""
MIDDLE = (1105.0, 2130.0)
PAIRS = ("AB", "AC", "AD", "BC", "BD", "CD")


def geocentric(turn_deg, radius=None):
    """Return the marks' geocentric places where grid north has an azimuth, by PROJ.

    With a radius the site is curved: distances from the middle are arcs at 400 m.
    """
    to = Transformer.from_pipeline(
        f"+proj=topocentric +ellps=GRS80 +lat_0={LATITUDE} +lon_0={LONGITUDE} "
        f"+h_0={HEIGHT}"
    )
    azimuth = np.radians(turn_deg)
    found = {}
    for name, (north, east, height) in MARKS.items():
        n, e = north - MIDDLE[0], east - MIDDLE[1]
        up = height - HEIGHT
        if radius is not None:
            arc = np.hypot(n, e)
            angle, from_centre = arc / (radius + HEIGHT), radius + height
            n, e = (from_centre * np.sin(angle) * x / arc for x in (n, e))
            up = from_centre * np.cos(angle) - radius - HEIGHT
        true_east = e * np.cos(azimuth) + n * np.sin(azimuth)
        true_north = n * np.cos(azimuth) - e * np.sin(azimuth)
        place = (true_east, true_north, up)
        found[name] = np.array(to.transform(*place, direction="INVERSE"))
    return found


def job(folder, places, frame="", held=("A", "B"), group="", extra=""):
    origin = (
        f"origin_latitude_deg = {LATITUDE}\norigin_longitude_deg = {LONGITUDE}\n"
        if frame is not None
        else ""
    )
    (folder / "job.toml").write_text(
        f'schema = 1\n[frame]\nkind = "local"\n{origin}{frame or ""}\n'
        f"[set_up]\nnone = true\n{group}"
    )
    rows = [
        f"{name},held,held,{north},{east},{height}"
        for name, (north, east, height) in MARKS.items()
        if name in held
    ]
    (folder / "control.csv").write_text(
        "\n".join(["station,use_plan,use_height,north_m,east_m,height_m", *rows, ""])
    )
    lines = ["baseline,from_station,to_station,dx_m,dy_m,dz_m,sd_x_mm,sd_y_mm,sd_z_mm"]
    lines[0] += ",group,frame_epsg"
    for a, b in PAIRS:
        delta = ",".join(repr(float(x)) for x in places[b] - places[a])
        lines.append(f"V{a}{b},{a},{b},{delta},3,3,3,{extra},7912")
    (folder / "baselines.csv").write_text("\n".join([*lines, ""]))
    return folder


@pytest.mark.parametrize("turn", [0.0, 5.0, 90.0, 179.0, -120.0])
def test_marks_come_back_however_the_grid_is_turned(tmp_path, turn):
    """Grid north at an azimuth of t: the vectors are the grid turned clockwise by t.

    The turn is counted against the clock, from the grid to the vectors: −t.
    """
    loaded = load(job(tmp_path, geocentric(turn)))
    made = estimate(loaded.network)
    found = dict(zip(loaded.network.marks.name, made.nodes.xyz, strict=True))
    for name, (north, east, height) in MARKS.items():
        np.testing.assert_allclose(
            found[name], [east, north, height], rtol=0, atol=1e-6, err_msg=name
        )
    estimates = parameter_estimates(made)
    assert estimates.name == ("turn of the vectors without a group",)
    gap = np.mod(np.degrees(estimates.value[0]) + turn + 180, 360) - 180
    assert abs(gap) < 1e-6


def test_a_curved_site_takes_them_too(tmp_path):
    """Heights bend away by 170² / 2R = 2.3 mm, and that is not lost.

    The radius is the mean one, good to 0.3 %: 0.01 mm of that.
    """
    frame = f'earth = "curved"\nlatitude_deg = {LATITUDE}\nreference_height_m = 400'
    places = geocentric(70.0, radius=6371000.0)
    folder = job(tmp_path, places, frame)
    assert "origin-place-assumed" in {f.slug for f in load(folder).findings}
    frame += f"\norigin_north_m = {MIDDLE[0]}\norigin_east_m = {MIDDLE[1]}"
    loaded = load(job(tmp_path, places, frame))
    made = estimate(loaded.network)
    found = loaded.network.frame.grid(made.nodes.xyz)
    for name, here in zip(loaded.network.marks.name, found, strict=True):
        np.testing.assert_allclose(here, MARKS[name], rtol=0, atol=2e-5, err_msg=name)
    slugs = {f.slug for f in loaded.findings}
    assert not slugs & {"curvature-neglected", "origin-place-assumed"}


def test_a_scale_is_estimated_where_the_group_asks_for_it(tmp_path):
    places = {name: 1.00003 * xyz for name, xyz in geocentric(30.0).items()}
    group = "[group.day]\nfree_scale = true\n"
    loaded = load(job(tmp_path, places, group=group, extra="day"))
    estimates = parameter_estimates(estimate(loaded.network))
    assert estimates.name == ("scale of group day", "turn of group day")
    assert estimates.value[0] == pytest.approx(30e-6, abs=1e-9)


def test_one_known_mark_is_not_enough(tmp_path):
    loaded = load(job(tmp_path, geocentric(30.0), held=("A",)))
    with pytest.raises(NoSolution) as caught:
        estimate(loaded.network)
    assert caught.value.freedoms == ("turn about the vertical",)


def test_without_an_origin_it_is_a_fault_that_asks_for_one(tmp_path):
    with pytest.raises(InputError) as caught:
        load(job(tmp_path, geocentric(30.0), frame=None))
    (fault,) = [f for f in caught.value.findings if f.verdict == "fault"]
    assert fault.slug == "vector-axes"
    assert "origin_latitude_deg" in fault.mend


def test_what_a_flat_site_neglects_is_a_query(tmp_path):
    """A – D is 350 m long: 350² / (2 · 6,371 km) = 9.6 mm, by hand."""
    loaded = load(job(tmp_path, geocentric(30.0)))
    (query,) = [f for f in loaded.findings if f.slug == "curvature-neglected"]
    north, east, height = np.array(MARKS["D"]) - np.array(MARKS["A"])
    length = np.sqrt(north**2 + east**2 + height**2)
    assert f"over {length:.0f} m" in query.against
    assert f"{length**2 / 2 / 6371000 * 1000:.0f} mm" in query.against


def test_covariances_are_turned_with_the_vectors(tmp_path):
    """1, 2 and 5 mm in X, Y, Z at 0° N, 90° E, where X is west, Y up and Z north."""
    folder = job(tmp_path, geocentric(0.0))
    text = (folder / "job.toml").read_text()
    text = text.replace(f"latitude_deg = {LATITUDE}", "latitude_deg = 0")
    text = text.replace(f"longitude_deg = {LONGITUDE}", "longitude_deg = 90")
    (folder / "job.toml").write_text(text)
    table = folder / "baselines.csv"
    table.write_text(table.read_text().replace(",3,3,3,", ",1,2,5,"))
    vectors = load(folder).network.vectors
    (batch,) = vectors.covariances
    diagonal = np.diagonal(batch.matrix, axis1=1, axis2=2)
    np.testing.assert_allclose(diagonal, np.tile([1e-6, 25e-6, 4e-6], (6, 1)))


def test_vectors_in_east_north_up_of_a_flat_site_need_no_horizon(tmp_path):
    """They are in the axes of the site grid, and carry no turn."""
    folder = job(tmp_path, geocentric(30.0), frame=None, held=("A",))
    (folder / "baselines.csv").write_text(
        "baseline,from_station,to_station,de_m,dn_m,du_m,sd_e_mm,sd_n_mm,sd_u_mm\n"
        "V1,A,B,90,180,12,3,3,3\n"
    )
    loaded = load(folder)
    made = estimate(loaded.network)
    np.testing.assert_allclose(made.nodes.xyz[1], [2090, 1180, 412], rtol=0, atol=1e-6)
    assert loaded.network.vectors.parameter is None


def test_elsewhere_they_need_one(tmp_path):
    frame = f'earth = "curved"\nlatitude_deg = {LATITUDE}\nreference_height_m = 400'
    folder = job(tmp_path, geocentric(30.0), frame=frame, held=("A",))
    (folder / "baselines.csv").write_text(
        "baseline,from_station,to_station,de_m,dn_m,du_m,sd_e_mm,sd_n_mm,sd_u_mm\n"
        "V1,A,B,90,180,12,3,3,3\n"
    )
    with pytest.raises(InputError) as caught:
        load(folder)
    (fault,) = [f for f in caught.value.findings if f.verdict == "fault"]
    assert (fault.slug, fault.column) == ("missing-value", "horizon_at")


def test_loops_close_whatever_the_turn_of_their_group(tmp_path):
    """Four marks, six vectors: three loops of one group, and none across groups."""
    folder = job(tmp_path, geocentric(75.0), extra="day")
    with (folder / "baselines.csv").open("a") as table:
        # The same line in the axes of the site: it closes with none of the others.
        table.write("X1,A,C,,,,3,3,3,site,\n")
    text = (folder / "baselines.csv").read_text()
    text = text.replace(",group,frame_epsg", ",group,frame_epsg,de_m,dn_m,du_m")
    text = text.replace(",7912\n", ",7912,,,\n")
    text = text.replace("X1,A,C,,,,3,3,3,site,", "X1,A,C,,,,3,3,3,site,,240,50,5")
    (folder / "baselines.csv").write_text(text)
    network = load(folder).network
    found = closures(network)
    assert len(found.loops) == 3
    for loop in found.loops:
        assert "X1" not in {network.vectors.name[v] for v in loop.members}
        np.testing.assert_allclose(loop.misclosure, 0.0, rtol=0, atol=1e-6)
    assert estimate(network).vtpv < 1e-6


def test_the_whole_command_goes_through(tmp_path, capsys):
    folder = job(tmp_path, geocentric(-120.0))
    assert main(["run", "--job", str(folder)]) == 0
    assert "1 open query" in capsys.readouterr().out
    report = (folder / "reports" / "report.html").read_text("utf-8")
    assert "turn of the vectors without a group" in report


def test_a_sessions_cross_covariance_is_turned_too(tmp_path):
    """4 mm² between the X of two vectors; at 0° N, 90° E X is west: east and east."""
    folder = job(tmp_path, geocentric(0.0))
    text = (folder / "job.toml").read_text()
    text = text.replace(f"latitude_deg = {LATITUDE}", "latitude_deg = 0")
    text = text.replace(f"longitude_deg = {LONGITUDE}", "longitude_deg = 90")
    (folder / "job.toml").write_text(text)
    rows = [
        f"baselines,VAB,{i},VAC,{j},{4 if i == j == 'x' else 1 if i == j else 0}"
        for i in "xyz"
        for j in "xyz"
    ]
    head = "table,row,row_axis,column,column_axis,cov_mm2\n"
    (folder / "covariances.csv").write_text(head + "\n".join(rows) + "\n")
    vectors = load(folder).network.vectors
    (cluster,) = [b for b in vectors.covariances if b.members.shape[1] == 2]
    assert [vectors.name[v] for v in cluster.members[0]] == ["VAB", "VAC"]
    cross = cluster.matrix[0][:3, 3:]
    np.testing.assert_allclose(cross, np.diag([4e-6, 1e-6, 1e-6]), rtol=0, atol=1e-18)


def test_a_small_turn_in_site_axes_is_asked_of_the_group(tmp_path):
    """East, north, up turned by 1e-4 against the clock: e' = e cos t − n sin t."""
    turn = 1e-4
    group = "[group.day]\nfree_turn = true\n"
    folder = job(tmp_path, geocentric(0.0), frame=None, group=group)
    lines = [
        "baseline,from_station,to_station,group,de_m,dn_m,du_m,sd_e_mm,sd_n_mm,sd_u_mm"
    ]
    for a, b in PAIRS:
        north, east, up = np.subtract(MARKS[b], MARKS[a])
        e = east * np.cos(turn) - north * np.sin(turn)
        n = east * np.sin(turn) + north * np.cos(turn)
        lines.append(f"V{a}{b},{a},{b},day,{e:.9f},{n:.9f},{up},3,3,3")
    (folder / "baselines.csv").write_text("\n".join([*lines, ""]))
    loaded = load(folder)
    made = estimate(loaded.network)
    found = parameter_estimates(made)
    assert found.name == ("small turn of group day",)
    assert found.value[0] == pytest.approx(turn, abs=1e-9)
    assert found.needed == ("yes",)
    place = made.nodes.xyz[loaded.network.marks.name.index("D")]
    np.testing.assert_allclose(place, [2260, 1210, 420], rtol=0, atol=1e-6)
