"""Shots follow their control, once: identities, and other ways to the prediction."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust.follow.descent import Descent
from brasscap.adjust.follow.moving import ControlIssue, move_shots
from brasscap.adjust.follow.prediction import predicted, similar
from brasscap.networks import GeodeticFrame

RNG = np.random.default_rng(20260402)
PLACES = RNG.uniform(0, 500, (6, 2))
AT = RNG.uniform(0, 500, (5, 2))
SHIFTS = RNG.normal(0.02, 0.03, (6, 3))
VARIANCES = RNG.uniform(1e-6, 9e-6, (6, 3))


def test_prediction_solves_the_bordered_system():
    """Another way to the same: min variance with the sum of weights held at one, by a
    Lagrange multiplier (ordinary kriging): [C 1; 1ᵀ 0] [w; μ] = [c; 1], prediction
    wᵀd, variance s² − wᵀc − μ."""
    made = predicted(PLACES, SHIFTS, VARIANCES, AT, 200.0)
    for j in range(3):
        signal = max(SHIFTS[:, j].var(ddof=1) - VARIANCES[:, j].mean(), 0)
        near = np.hypot(*(PLACES[:, None] - PLACES[None]).T)
        far = np.hypot(*(AT[:, None] - PLACES[None]).T).T
        whole = np.zeros((7, 7))
        whole[:6, :6] = signal * np.exp(-near / 200) + np.diag(VARIANCES[:, j] + 1e-12)
        whole[:6, 6] = whole[6, :6] = 1
        for k in range(len(AT)):
            right = np.append(signal * np.exp(-far[k] / 200), 1)
            weights = np.linalg.solve(whole, right)
            assert made.shift[k, j] == pytest.approx(weights[:6] @ SHIFTS[:, j])
            spread = signal - weights[:6] @ right[:6] - weights[6]
            assert made.variance[k, j] == pytest.approx(spread)


def test_marks_that_moved_alike_move_everything_alike():
    made = predicted(PLACES, np.full((6, 3), 0.04), VARIANCES, AT)
    np.testing.assert_allclose(made.shift, 0.04)


def test_prediction_at_an_exact_mark_is_its_own_shift():
    made = predicted(PLACES, SHIFTS, np.zeros((6, 3)), PLACES)
    np.testing.assert_allclose(made.shift, SHIFTS, atol=1e-7)


def test_similarity_is_weighted_least_squares():
    """Against numpy.linalg.lstsq on rows written out one by one."""
    made = similar(PLACES, SHIFTS, VARIANCES, AT)
    rows, values = [], []
    for (east, north), shift, variance in zip(PLACES, SHIFTS, VARIANCES, strict=True):
        for row, value, sq in (
            ([1, 0, east, -north], shift[0], variance[0]),
            ([0, 1, north, east], shift[1], variance[1]),
        ):
            rows.append(np.array(row) / np.sqrt(sq + 1e-12))
            values.append(value / np.sqrt(sq + 1e-12))
    a, b, c, d = np.linalg.lstsq(np.array(rows), np.array(values), rcond=None)[0]
    east, north = AT.T
    np.testing.assert_allclose(made.shift[:, 0], a + c * east - d * north)
    np.testing.assert_allclose(made.shift[:, 1], b + c * north + d * east)


def test_a_shot_of_a_base_moves_by_the_base_vector_in_space(shots_of):
    """Geodetic job: the chord from base to shot is the same before and after, to the
    0.1 µm of the geocentric coordinates."""
    frame = GeodeticFrame(4979, 2020.0, 32613)
    base = frame.cartesian(np.array([[40.0, -104.9, 1600.0]]))
    moved_base = base + np.array([0.31, -0.18, 0.22])
    grid = frame.grid(base)[0][[1, 0, 2]]
    shots = shots_of(grid + np.array([[800.0, 350.0, 12.0], [-2000.0, 10.0, -40.0]]))
    none = np.zeros((1, 3, 3))
    old, new = (
        ControlIssue(k, ("B",), xyz, frame.heights(xyz), none)
        for k, xyz in ((1, base), (2, moved_base))
    )
    found = Descent(np.zeros(2, dtype=int), (), ("", ""), np.array([1, 1]))
    made = move_shots(shots, found, ("B",), frame, old, new)
    before, after = (
        frame.place(c[:, 1], c[:, 0], c[:, 2]) for c in (made.before, made.after)
    )
    np.testing.assert_allclose(
        after - before, moved_base - base + 0 * before, atol=1e-6
    )
    assert made.moved.all()


@pytest.fixture
def shots_of():
    """Return shots at coordinates; nothing else of them matters here."""
    from types import SimpleNamespace

    def make(coordinates):
        return SimpleNamespace(
            coordinates=coordinates, service=SimpleNamespace(number=np.full(2, -1))
        )

    return make


@pytest.fixture
def job(topo_job) -> Path:
    """A small job with two bases and a real-time network, issued once."""
    network = {"set_up": "", "network_service": "RTN"}
    at_b = {"station": "B", "north_m": "1000.003", "east_m": "1100.002"}
    at_c = {"station": "C", "north_m": "1099.998", "east_m": "1000.001"}
    folder = topo_job(
        {},
        {"set_up": "BASE-A"},
        {"record": ""},
        {"record": "3"},
        {"set_up": "BASE-X"},
        network | at_b,
        network | at_c,
        network,
    )
    with (folder / "set_ups.csv").open("a", encoding="utf-8") as file:
        file.write("BASE-A,A,tripod,,,1.500,0,0\n")
    assert say(folder, "record", "issue", "--with-open")[0] == 0
    return folder


def say(folder: Path, *words: str):
    import contextlib
    import io

    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        code = main([*words, "--json", "--quiet", "--job", str(folder)])
    return code, json.loads(out.getvalue())


def revise(folder: Path, old: str, new: str) -> None:
    table = folder / "baselines.csv"
    table.write_text(table.read_text("utf-8").replace(old, new), "utf-8")


def table_of(folder: Path) -> dict[str, dict[str, str]]:
    text = (folder / "results/topo/moved_1_to_2.csv").read_text("utf-8")
    return {row["shot"]: row for row in csv.DictReader(text.splitlines())}


def test_only_what_hangs_on_revised_control_moves_and_once(job):
    """By hand: V1 longer by 30 mm east; of B, weights 1 direct and ½ round by C, so B
    moves 20 mm and C, by V3, 10 mm east. A is held: its shots stay."""
    booked = (job / "topo" / "day1.csv").read_bytes()
    revise(job, "V1,A,B,100.000", "V1,A,B,100.030")
    assert say(job, "record", "issue", "--with-open")[0] == 0
    code, found = say(job, "topo", "move", "--from", "1", "--to", "2")
    assert code == 0
    assert [m["shot"] for m in found["moved"]] == ["1", "6", "7", "8"]
    one = found["moved"][0]
    before, after = (
        np.array(one[k + "_east_north_height_m"]) for k in ("before", "after")
    )
    np.testing.assert_allclose(after - before, [0.020, 0, 0], atol=1e-6)
    why = {u["shot"]: u["why"] for u in found["untouched"]}
    assert why == {
        "2": "its control did not move",
        "3": "it is not yet in a record",
        "4": "it hangs on issue 3, not on 1",
        "5": "it hangs on nothing",
    }
    network = {m["shot"]: m for m in found["moved"] if m["shot"] in "678"}
    for shot in network.values():
        east = (
            shot["after_east_north_height_m"][0] - shot["before_east_north_height_m"][0]
        )
        assert 0.010 - 1e-6 <= east <= 0.020 + 1e-6
        assert "least-squares prediction from 2 marks" in shot["by"]
    rows = table_of(job)
    assert rows["1"]["east_m"] == "1050.0200"
    assert rows["1"]["east_issue_1_m"] == "1050.0000"
    assert rows["1"]["record"] == "2"
    assert rows["2"]["record"] == ""
    written = (job / "results/topo/moved_1_to_2.csv").read_bytes()
    _, again = say(job, "topo", "move", "--from", "1", "--to", "2")
    assert again["already_there"]
    assert again["moved"] == found["moved"]
    assert (job / "results/topo/moved_1_to_2.csv").read_bytes() == written
    assert (job / "topo" / "day1.csv").read_bytes() == booked


def test_a_network_goes_by_similarity_where_that_is_asked_for(job):
    """By hand: B moved 20 mm east, C 10 mm east (see above), 100 m east of A and 100 m
    north. Two marks fix a similarity exactly: shift = t + c (east, north) + d (−north,
    east). From C to B, (100, −100): Δ(10, 0) mm = (100 c + 100 d, −100 c + 100 d), so
    c = d = 0.05 mm/m. At C itself, the check shot, the shift is C's; and 100 m north
    of B, which is (100, 0) from C, it is C's + 100 (0.05, 0.05) = (15, 5) mm."""
    revise(job, "V1,A,B,100.000", "V1,A,B,100.030")
    assert say(job, "record", "issue", "--with-open")[0] == 0
    at = job / "topo" / "day1.csv"
    rows = list(csv.DictReader(at.read_text("utf-8").splitlines()))
    rows[7] |= {"east_m": "1100.000", "north_m": "1100.000"}
    with at.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    words = ("topo", "move", "--from", "1", "--to", "2", "--between", "similarity")
    code, found = say(job, *words)
    assert code == 0
    moved = {m["shot"]: m for m in found["moved"]}
    assert "similarity" in moved["8"]["by"]
    keys = ("before_east_north_height_m", "after_east_north_height_m")
    before, after = (np.array(moved["8"][key]) for key in keys)
    np.testing.assert_allclose((after - before)[:2], [0.015, 0.005], atol=2e-6)


def test_a_reach_is_a_length_and_is_said(job):
    """With 1 m, at C and 100 m from both marks: nearer to C's 10 mm where C is, and
    the mean of both, weighted by what they are worth, where nothing is near."""
    revise(job, "V1,A,B,100.000", "V1,A,B,100.030")
    assert say(job, "record", "issue", "--with-open")[0] == 0
    words = ("topo", "move", "--from", "1", "--to", "2", "--reach", "1")
    _, found = say(job, *words)
    moved = {m["shot"]: m for m in found["moved"]}
    assert "reach 1 m" in moved["8"]["by"]
    keys = ("before_east_north_height_m", "after_east_north_height_m")
    at_c, far = (
        moved[shot][keys[1]][0] - moved[shot][keys[0]][0] for shot in ("7", "8")
    )
    assert 0.010 <= at_c < far < 0.020
    for reach in ("0", "far", "-5"):
        assert say(job, *words[:-1], reach)[0] == 2


def test_a_shot_already_on_the_new_issue_stays(job, shots_csv):
    revise(job, "V1,A,B,100.000", "V1,A,B,100.030")
    assert say(job, "record", "issue", "--with-open")[0] == 0
    topo = job / "topo" / "day1.csv"
    topo.write_text(shots_csv({"record": "2"}, {"record": "1"}), "utf-8")
    _, found = say(job, "topo", "move", "--from", "1", "--to", "2")
    assert [m["shot"] for m in found["moved"]] == ["2"]
    assert found["untouched"] == [
        {"shot": "1", "kind": "shot", "why": "already on issue 2"}
    ]


def test_the_covariance_is_that_of_the_new_control(job):
    """By hand: with V1 at half its sd, weight 4, B is worth 3/√4.5 = 1.4142 mm; with
    the shot's 8 mm √(2 + 64) = 8.1240 mm per axis."""
    revise(
        job, "V1,A,B,100.000,0.000,1.000,3,3,6", "V1,A,B,100.030,0.000,1.0,1.5,1.5,3"
    )
    assert say(job, "record", "issue", "--with-open")[0] == 0
    _, found = say(job, "topo", "move", "--from", "1", "--to", "2")
    variance = found["moved"][0]["covariance_grid_m2"][0][0]
    assert 1000 * np.sqrt(variance) == pytest.approx(8.1240, abs=1e-3)


def test_a_changed_byte_of_a_record_moves_nothing(job):
    revise(job, "V1,A,B,100.000", "V1,A,B,100.030")
    assert say(job, "record", "issue", "--with-open")[0] == 0
    inside = job / "records/1/input/baselines.csv"
    inside.chmod(0o644)
    inside.write_text(inside.read_text("utf-8").replace("100.000", "100.001"), "utf-8")
    code, found = say(job, "topo", "move", "--from", "1", "--to", "2")
    assert code == 5
    assert "nothing was moved" in found["error"]
    assert not (job / "results/topo").exists()


def test_attach_looks_whether_the_record_is_there_and_sound(job):
    """One shot of the job hangs on issue 3, which is not there."""
    code, found = say(job, "topo", "attach")
    assert (code, found["verdict"]) == (0, "query")
    told = {f["slug"]: f for f in found["findings"]}
    assert told["record-not-there"]["about"] == "issue 3"
    assert say(job, "topo", "attach", "--strict")[0] == 1
    inside = job / "records/1/input/baselines.csv"
    inside.write_bytes(inside.read_bytes().replace(b"100.000", b"100.001", 1))
    code, found = say(job, "topo", "attach")
    assert (code, found["verdict"]) == (5, "fails")
    told = {f["slug"]: f for f in found["findings"]}
    assert "input/baselines.csv" in told["record-changed"]["against"]


def test_records_of_two_frames_are_not_mixed(job):
    text = (job / "job.toml").read_text("utf-8")
    (job / "job.toml").write_text(text.replace('"site"', '"other datum"'), "utf-8")
    assert say(job, "record", "issue", "--with-open")[0] == 0
    code, found = say(job, "topo", "move", "--from", "1", "--to", "2")
    assert code == 2
    assert "another frame" in found["error"]
    code, found = say(job, "record", "compare", "1", "2")
    assert code == 0
    assert found["coordinates_refused"].startswith("other frames")
    assert found["coordinates"] == []
    assert all(p["east_mm"] is None for p in found["topo"]["points"])


@pytest.mark.parametrize(
    "words",
    [(), ("--from", "1"), ("--from", "1", "--to", "1"), ("--from", "1", "--to", "9")],
)
def test_two_issues_must_be_named(job, words):
    assert say(job, "topo", "move", *words)[0] == 2


def test_options_of_move_belong_to_move(job):
    assert say(job, "topo", "check", "--from", "1")[0] == 2
