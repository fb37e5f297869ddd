"""The next step of ``check``: the mend of the gravest query, never to accept it."""

import pytest

from brasscap.__main__ import main
from brasscap.networks.findings import Finding
from brasscap.reports.content_check import check_next

LOOSE = Finding(
    "hangs-loose",
    "query",
    "mark P1",
    mend="observe one more vector, or accept",
    query="C3ZB",
)
FEET = Finding(
    "rise-looks-like-feet",
    "query",
    "levelled run L3",
    mend="brasscap decide unit 'levelled run' 'L3; north, 2' 'rise=ift', or accept",
    query="AAAA",
)
PLACES = Finding(
    "name-two-places",
    "query",
    "mark P2",
    mend="compare stamping and photograph of each set-up, then rename the station",
    query="BBBB",
)
ALL = [LOOSE, FEET, PLACES]


@pytest.mark.parametrize(
    ("queries", "said"),
    [
        (
            [LOOSE, FEET],
            "brasscap decide unit 'levelled run' 'L3; north, 2' 'rise=ift' --reason …",
        ),
        (
            [LOOSE],
            "query C3ZB, mark P1 (hangs-loose): observe one more vector; "
            "then  brasscap check",
        ),
        ([], "brasscap adjust minimal"),
    ],
)
def test_the_mend_is_said(queries, said):
    assert check_next(0, queries) == said


def test_a_name_at_two_places_comes_before_all():
    for queries in (ALL, ALL[::-1]):
        said = check_next(0, queries)
        assert said.startswith("query BBBB, mark P2 (name-two-places): compare")


def test_to_accept_is_never_the_first_advice():
    for mend in ("accept, or take one of the two out", "accept it, or take it out"):
        said = check_next(0, [Finding("x", "query", "y", mend=mend, query="Q")])
        assert ": take " in said
        assert "accept" not in said
    for mend in ("x; accept, or decide value", "add it to geoid.csv, or accept", ""):
        said = check_next(0, [Finding("x", "query", "y", mend=mend, query="Q")])
        assert "accept" not in said


def test_faults_come_first():
    assert check_next(2, ALL) == "mend the faults above, then  brasscap check"


def test_check_says_that_no_mark_is_known(tmp_path, capsys):
    """A note, with the mend; and nothing where control.csv is there."""
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "tramway", "--quiet"]) == 0
    assert main(["check", "--job", str(folder)]) == 0
    assert "no-known-mark" not in capsys.readouterr().out
    (folder / "control.csv").unlink()
    assert main(["check", "--job", str(folder)]) == 0
    said = capsys.readouterr().out
    assert "no-known-mark" in said
    assert "book the known marks in control.csv" in said
