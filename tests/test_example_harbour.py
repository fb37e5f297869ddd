"""The harbour: its sessions, and the crew's second reading that settles it."""

import csv

import pytest

from brasscap.adjust import estimate
from brasscap.adjust.judge import blunder_tests
from brasscap.io.tables.load import load
from brasscap.networks.example_jobs import example_files

PLANTED, SIZE = "S3-ICE", 0.054


def cells(name):
    text = example_files("harbour")[name].decode()
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return list(csv.reader(lines))


def test_the_blunder_is_in_the_book_and_the_second_reading_has_it_right():
    rows = cells("set_ups.csv")
    (line,) = [line for line in rows if line[0] == PLANTED]
    row = dict(zip(rows[0], line, strict=True))
    booked = float(row["height_m"])
    second = float(row["height_second_reading_ift"]) * 0.3048
    assert booked - second == pytest.approx(SIZE, abs=0.0005)
    assert sorted(row["height_m"]) == sorted("1.617")  # the same digits, exchanged


def test_every_session_is_independent_vectors_with_all_cross_blocks():
    """R receivers give R − 1 vectors, and (R − 1)(R − 2)/2 pairs of nine elements."""
    vectors, cross = cells("baselines.csv")[1:], cells("covariances.csv")[1:]
    session = {row[0]: row[1] for row in vectors}
    receivers = {}
    for row in vectors:
        receivers.setdefault(row[1], set()).update(row[2:4])
    for name, used in receivers.items():
        count = sum(1 for row in vectors if row[1] == name)
        pairs = [row for row in cross if session[row[1]] == name == session[row[3]]]
        assert count == len(used) - 1
        assert len(pairs) == 9 * count * (count - 1) // 2


def network(folder, decisions=""):
    for name, content in example_files("harbour").items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    if decisions:
        (folder / "decisions.csv").write_text(decisions)
    return load(folder).network


def test_the_same_set_up_comes_next(tmp_path):
    """Place and height together after the height alone: nothing else rivals it."""
    tests = blunder_tests(estimate(network(tmp_path)))
    first, second = tests.order()[:2]
    assert tests.name[first] == tests.name[second] == PLANTED


DECISION = """decision,when_utc,who,action,about_kind,about,value,reason
D1,2026-03-13T01:00:00Z,mp,value,set-up,S3-ICE,height_m=1.617,second reading
"""


def test_the_height_by_the_second_reading_settles_it(tmp_path):
    """What the crew's own second reading says leaves nothing that fails."""
    tests = blunder_tests(estimate(network(tmp_path, DECISION)))
    assert set(tests.verdict) == {"meets", "unchecked"}
