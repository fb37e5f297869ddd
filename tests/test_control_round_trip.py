"""What export writes is read back as control: held marks stay where they were."""

import csv
import io
import shutil

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.io.tables.load import load
from brasscap.networks import InputError

HEAD = "station,use_plan,use_height,north_m,east_m,height_m,"
SDS = "sd_north_mm,sd_east_mm,sd_height_mm\n"
LEVELS = "section,from_station,to_station,rise_m,sd_mm\nL1,A,B,2.0,1\nL2,A,B,2.002,1\n"


def exported(folder):
    """Return the example's exported control, beside the same job without decisions."""
    assert main(["new", "--example", "harbour", str(folder), "--quiet"]) == 0
    main(["export", "--csv", "--job", str(folder), "--quiet"])
    return (folder / "reports" / "control.csv").read_text("utf-8")


def used_as_control(text):
    """Return the rows as a person fills the uses in: held where the sd is 0."""
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    out = io.StringIO()
    names = [*rows[0], "use_plan", "use_height"]
    writer = csv.DictWriter(out, names, lineterminator="\n")
    writer.writeheader()
    for row in rows:
        plan = "held" if row["sd_north_mm"] == row["sd_east_mm"] == "0.0" else ""
        height = "held" if row["sd_height_mm"] == "0.0" else ""
        writer.writerow(row | {"use_plan": plan, "use_height": height})
    return out.getvalue()


def test_export_is_read_back_as_control(tmp_path, capsys):
    """As it comes: no fault, and every use is for a person to decide."""
    folder = tmp_path / "job"
    text = exported(folder)
    first = load(folder).network
    held = {first.marks.name[m] for m in first.known.mark}
    shutil.copy(folder / "reports" / "control.csv", folder / "control.csv")
    loaded = load(folder)
    open_uses = [f for f in loaded.findings if f.slug == "use-not-stated"]
    assert len(open_uses) == 2 * len(loaded.network.known)
    assert "SIGNAL HILL" in text
    capsys.readouterr()
    (folder / "control.csv").write_text(used_as_control(text))
    again = load(folder).network
    use = again.known.in_use("held")
    assert {again.marks.name[m] for m in again.known.mark[use[:, 0]]} == held
    made, before = estimate(again), estimate(first)
    for name in held:
        place = made.nodes.xyz[again.marks.name.index(name)]
        was = before.nodes.xyz[first.marks.name.index(name)]
        # Written to 0.1 mm: each of three coordinates within half of that.
        np.testing.assert_allclose(place, was, rtol=0, atol=0.5e-4 * np.sqrt(3))


def folder_with(tmp_path, rows):
    (tmp_path / "job.toml").write_text('schema = 1\n[frame]\nkind = "local"\n')
    (tmp_path / "control.csv").write_text(HEAD + SDS + rows)
    (tmp_path / "levels.csv").write_text(LEVELS)
    return tmp_path


def test_zero_is_no_statement_where_a_mark_is_held(tmp_path):
    loaded = load(folder_with(tmp_path, "A,held,held,1,2,10,0,0,0\n"))
    (batch,) = loaded.network.known.covariances
    assert np.isnan(batch.matrix).all()
    assert not [f for f in loaded.findings if f.verdict == "fault"]


def test_zero_is_no_weight(tmp_path):
    with pytest.raises(InputError) as caught:
        load(folder_with(tmp_path, "A,weighted,held,1,2,10,0,3,0\n"))
    (fault,) = [f for f in caught.value.findings if f.verdict == "fault"]
    assert fault.slug == "sd-is-zero"
    assert "sd_north_mm 0" in fault.booked
    assert "hold the mark" in fault.mend


def test_a_held_plan_beside_a_weighted_height(tmp_path):
    loaded = load(folder_with(tmp_path, "A,held,weighted,1,2,10,0,0,4\n"))
    (batch,) = loaded.network.known.covariances
    assert batch.matrix[0, 2, 2] == pytest.approx(16e-6, rel=1e-12)
    assert np.isnan(batch.matrix[0, :2]).all()
