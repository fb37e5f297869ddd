"""Shots follow their control, once: identities, and other ways to the prediction."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust.follow.control_issue import ControlIssue
from brasscap.adjust.follow.descent import Descent
from brasscap.adjust.follow.moving import move_shots
from brasscap.adjust.follow.prediction import predicted, signal_variance, similar
from brasscap.networks import GeodeticFrame

RNG = np.random.default_rng(20260402)
PLACES = RNG.uniform(0, 500, (6, 2))
AT = RNG.uniform(0, 500, (5, 2))
SHIFTS = RNG.normal(0.02, 0.03, (6, 3))
FREE = RNG.normal(0, 1e-3, (18, 30))
ERRORS = FREE @ FREE.T / 10
"""Of six marks, all components correlated, m²."""


def test_prediction_solves_the_bordered_system():
    """Another way to the same: least variance of a linear estimate whose weights add
    up to one for the component wanted and to nothing for the others, by Lagrange
    multipliers (ordinary cokriging, Wackernagel 2003, Multivariate Geostatistics, ch.
    24; from memory): [C X; Xᵀ 0] [w; μ] = [c; e], prediction wᵀd, variance
    s² − wᵀc − μᵀe. s² is what ``signal_variance`` gives, tested by hand below."""
    made = predicted(PLACES, SHIFTS, ERRORS, AT, 200.0)
    near = np.exp(-np.hypot(*(PLACES[:, None] - PLACES[None]).T) / 200)
    signal = signal_variance(SHIFTS, ERRORS, near)
    assert (signal > 0).all()
    whole = np.zeros((21, 21))
    for i in range(6):
        for k in range(6):
            block = ERRORS[3 * i : 3 * i + 3, 3 * k : 3 * k + 3].copy()
            block += near[i, k] * np.diag(signal) + (i == k) * 1e-12 * np.eye(3)
            whole[3 * i : 3 * i + 3, 3 * k : 3 * k + 3] = block
        whole[3 * i : 3 * i + 3, 18:] = whole[18:, 3 * i : 3 * i + 3] = np.eye(3)
    for n in range(len(AT)):
        far = np.exp(-np.hypot(*(AT[n] - PLACES).T) / 200)
        for j in range(3):
            right = np.zeros(21)
            right[j:18:3] = signal[j] * far
            right[18 + j] = 1
            weights = np.linalg.solve(whole, right)
            assert made.shift[n, j] == pytest.approx(weights[:18] @ SHIFTS.ravel())
            spread = signal[j] - weights @ right
            assert made.covariance[n, j, j] == pytest.approx(spread)


def test_two_marks_whose_errors_go_together():
    """By hand, in mm: shifts east 0 and 20, errors of 2 each, covariance 2, so far
    apart that neighbours share nothing between them. Scatter 200, of which the errors
    explain (4 + 4) − (4 + 2 + 2 + 4)/2 = 2: s² = 198. C = [202 2; 2 202]; the mean is
    10 by symmetry, its variance 204/2 = 102. (−10, 10) is an eigenvector of C, of 200.
    At the second mark: 10 + 198 · 10/200 = 19.9, variance 198 − 198² · 202/(202² − 2²)
    + (1 − 198/204)² · 102 = 3.9900. Far from both: 10 and 198 + 102 = 300.
    Uncorrelated errors would give 19.8."""
    errors = np.kron([[4e-6, 2e-6], [2e-6, 4e-6]], np.eye(3))
    shifts = np.array([[0, 0, 0], [0.020, 0, 0]])
    places = np.array([[0.0, 0], [1000, 0]])
    at = np.array([[1000.0, 0], [500, 900]])
    made = predicted(places, shifts, errors, at, 1.0)
    np.testing.assert_allclose(1000 * made.shift[:, 0], [19.9, 10], atol=1e-4)
    variance = 1e6 * made.covariance[:, 0, 0]
    np.testing.assert_allclose(variance, [3.9900, 300], atol=1e-3)
    np.testing.assert_allclose(made.shift[:, 1:], 0, atol=1e-12)
    assert "s 14.1, 0.0, 0.0 mm east, north, height, reach 1 m" in made.said


def test_marks_that_moved_alike_move_everything_alike():
    made = predicted(PLACES, np.full((6, 3), 0.04), ERRORS, AT)
    np.testing.assert_allclose(made.shift, 0.04)


def test_prediction_at_an_exact_mark_is_its_own_shift():
    made = predicted(PLACES, SHIFTS, np.zeros((18, 18)), PLACES)
    np.testing.assert_allclose(made.shift, SHIFTS, atol=1e-7)


def test_many_places_at_once_are_as_each_alone(monkeypatch):
    whole = predicted(PLACES, SHIFTS, ERRORS, AT)
    monkeypatch.setattr("brasscap.adjust.follow.prediction.BLOCK", 1)
    alone = predicted(PLACES, SHIFTS, ERRORS, AT)
    np.testing.assert_allclose(alone.shift, whole.shift, rtol=1e-12)
    np.testing.assert_allclose(alone.covariance, whole.covariance, rtol=1e-9)


def test_similarity_is_weighted_least_squares():
    """Against numpy.linalg.lstsq on rows written out one by one, made equally good and
    uncorrelated by the Cholesky factor of their covariance."""
    made = similar(PLACES, SHIFTS, ERRORS, AT)
    rows = []
    for east, north in PLACES:
        rows.append([1, 0, east, -north, 0, 0, 0])
        rows.append([0, 1, north, east, 0, 0, 0])
        rows.append([0, 0, 0, 0, 1, east, north])
    whiten = np.linalg.inv(np.linalg.cholesky(ERRORS + 1e-12 * np.eye(18)))
    whitened = whiten @ np.array(rows)
    fitted = np.linalg.lstsq(whitened, whiten @ SHIFTS.ravel(), rcond=None)[0]
    inverse = np.linalg.inv(whitened.T @ whitened)
    for n, (east, north) in enumerate(AT):
        wanted = np.array(
            [
                [1, 0, east, -north, 0, 0, 0],
                [0, 1, north, east, 0, 0, 0],
                [0, 0, 0, 0, 1, east, north],
            ]
        )
        np.testing.assert_allclose(made.shift[n], wanted @ fitted, rtol=1e-6)
        spread = wanted @ inverse @ wanted.T
        np.testing.assert_allclose(made.covariance[n], spread, rtol=1e-5, atol=1e-12)


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


def test_marks_of_a_network_are_correlated_as_the_new_issue_says(job):
    """By hand, in mm: of B and C, each 3 direct from A and 3 from each other, the
    variance is 6 and the covariance 3. Shifts 20 and 10 scatter by 50, of which the
    errors explain 12 − 18/2 = 3: s² = 47. With a reach of 1 m shot 8 is near nothing:
    it moves by the mean, of variance (6 + 47 + 3)/2 = 28, and has 47 + 28 = 75, with
    its own 8: √(75 + 64) = 11.7898. Uncorrelated it would be √(69 + 64)."""
    revise(job, "V1,A,B,100.000", "V1,A,B,100.030")
    assert say(job, "record", "issue", "--with-open")[0] == 0
    words = ("topo", "move", "--from", "1", "--to", "2", "--reach", "1")
    _, found = say(job, *words)
    moved = {m["shot"]: m for m in found["moved"]}
    variance = moved["8"]["covariance_grid_m2"][0][0]
    assert 1000 * np.sqrt(variance) == pytest.approx(11.7898, abs=1e-3)
    assert "s 6.9, 0.0, 0.0 mm" in moved["8"]["by"]
    assert "marks correlated as issue 2 says" in moved["8"]["by"]


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
