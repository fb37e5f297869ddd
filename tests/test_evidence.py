"""Evidence is copied under a name that tells when it was changed; what is left out
comes back one by one, held against a second adjustment made here."""

import csv
import json
import re
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.io.tables.load import load
from brasscap.reports.judged import brought_back

LEAVE = ["decide", "leave-out", "level difference"]


@pytest.fixture
def job(tmp_path, monkeypatch):
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "tramway", "--quiet"]) == 0
    monkeypatch.chdir(folder)
    return folder


def findings(capsys):
    capsys.readouterr()
    main(["check", "--json"])
    return json.loads(capsys.readouterr().out)["findings"]


def rows():
    return list(csv.DictReader(Path("decisions.csv").read_text().splitlines()))


def test_a_copy_is_kept_and_never_overwritten(job, tmp_path, capsys):
    photo = tmp_path / "page 12.jpg"
    photo.write_bytes(b"first")
    line = [*LEAVE, "T6", "--reason", "misread", "--evidence", str(photo)]
    assert main(line) == 0
    digits = sha256(b"first").hexdigest()[:12]
    kept = job / "evidence" / f"page 12-{digits}.jpg"
    assert rows()[0]["evidence"] == f"evidence/{kept.name}"
    assert kept.read_bytes() == b"first"
    photo.write_bytes(b"second")
    assert main([*LEAVE, "T9", "--reason", "x", "--evidence", str(photo)]) == 0
    assert kept.read_bytes() == b"first"
    assert len(list((job / "evidence").iterdir())) == 2
    # A piece that is kept already is named again, and not copied again.
    again = [*LEAVE, "T1 out", "--reason", "x", "--evidence", kept.name]
    assert main(again) == 0
    assert rows()[2]["evidence"] == rows()[0]["evidence"]
    assert findings(capsys) == []


def test_check_says_what_was_changed_or_is_missing(job, tmp_path, capsys):
    note = tmp_path / "note.txt"
    note.write_text("1.617 m")
    main([*LEAVE, "T6", "--reason", "misread", "--evidence", str(note)])
    (kept,) = (job / "evidence").iterdir()
    kept.write_text("1.671 m")
    (found,) = findings(capsys)
    assert found["slug"] == "evidence-changed"
    assert re.fullmatch(r"[2-9A-HJKMNP-Z]{4}", found["query"])
    assert found["about"] == f"evidence of decision {rows()[0]['decision']}"
    # Nor is the changed piece taken for the one that is given again.
    line = [*LEAVE, "T9", "--reason", "x", "--evidence", str(note)]
    assert main(line) == 7
    assert kept.read_text() == "1.671 m"
    kept.unlink()
    assert [f["slug"] for f in findings(capsys)] == ["evidence-missing"]


def test_no_such_evidence(job, capsys):
    line = [*LEAVE, "T6", "--reason", "x", "--evidence", "nowhere.jpg"]
    assert main(line) == 2
    assert "nothing was written" in re.sub(r"\s+", " ", capsys.readouterr().err)
    assert not Path("decisions.csv").exists()


def levelled(network, used):
    """Return heights of all marks and vᵀPv, by least squares written here: rows of
    rise = height at the end − height at the start, held heights taken over."""
    levels, known = network.levels, network.known
    fixed = dict(
        zip(known.mark.tolist(), network.frame.heights(known.xyz), strict=True)
    )
    free = [m for m in range(len(network.marks)) if m not in fixed]
    at = np.flatnonzero(used)
    design, value = np.zeros((len(at), len(free))), levels.rise[at].copy()
    mark = network.mark_of
    ends = np.stack([mark(levels.start[at]), mark(levels.end[at])], axis=1)
    for row, pair in enumerate(ends.tolist()):
        for sign, m in zip((-1, 1), pair, strict=True):
            if m in fixed:
                value[row] -= sign * fixed[m]
            else:
                design[row, free.index(m)] += sign
    weight = 1 / levels.sd[at]
    solved, *_ = np.linalg.lstsq(design * weight[:, None], value * weight, rcond=None)
    residuals = (value - design @ solved) * weight
    heights = fixed | dict(zip(free, solved.tolist(), strict=True))
    return heights, float(residuals @ residuals), len(at) - len(free)


def test_what_is_brought_back_is_what_a_second_adjustment_says(job):
    """Each run that is left out: booked minus what the others say, and the variance
    factor with it back alone."""
    for name in ("T6", "T9", "T1 out"):
        assert main([*LEAVE, name, "--reason", "to try"]) == 0
    network = load(job).network
    levels = network.levels
    without, _, _ = levelled(network, levels.used)
    back = brought_back(estimate(network, "constrained"))
    assert [one.name for one in back] == ["T1 out", "T6", "T9"]
    for one in back:
        i = levels.name.index(one.name)
        used = levels.used.copy()
        used[i] = True
        _, vtpv, freedom = levelled(network, used)
        start, end = network.mark_of(np.array([levels.start[i], levels.end[i]]))
        shift = levels.rise[i] - (without[int(end)] - without[int(start)])
        assert one.shift[0] == pytest.approx(shift, abs=1e-7)
        assert one.variance_factor == pytest.approx(vtpv / freedom, rel=1e-6)


def test_a_known_mark_is_brought_back_too(job):
    """With one benchmark left out the other carries all heights: the one that comes
    back is booked minus what the levels carry over to it."""
    main(["decide", "leave-out", "known mark", "DEPOT SILL", "--reason", "to try"])
    network = load(job).network
    (one,) = brought_back(estimate(network, "constrained"))
    assert (one.kind, one.name) == ("known mark height", "DEPOT SILL")
    known = network.known
    at = int(np.flatnonzero(~known.used)[0])
    booked = float(network.frame.heights(known.xyz)[at])
    only = replace(network, known=_taken(known, known.used))
    carried, _, _ = levelled(only, network.levels.used)
    assert one.shift[2] == pytest.approx(
        booked - carried[int(known.mark[at])], abs=1e-7
    )
    _, vtpv, freedom = levelled(network, network.levels.used)
    assert one.variance_factor == pytest.approx(vtpv / freedom, rel=1e-6)


def _taken(known, rows):
    """Return some rows of the known marks."""
    return replace(known, mark=known.mark[rows], xyz=known.xyz[rows])
