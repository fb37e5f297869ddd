"""A group of positions with a shift of its own, through a job folder."""

import numpy as np
import pytest

from brasscap.adjust import estimate
from brasscap.adjust.judge import parameter_estimates
from brasscap.io.tables.blank import blank_files
from brasscap.io.tables.job_file import read_job
from brasscap.io.tables.load import load

SHIFT = (0.040, -0.020, 0.015)
"""North, east, height of every position of the group, m."""
MARKS = {"A": (100.0, 200.0, 10.0), "B": (400.0, 250.0, 12.0), "C": (300.0, 500.0, 9.0)}


def job(folder, group):
    (folder / "job.toml").write_text(
        f'schema = 1\n[frame]\nkind = "local"\n[group.week]\n{group}\n'
    )
    (folder / "control.csv").write_text(
        "station,use_plan,use_height,north_m,east_m,height_m\n"
        "A,held,held,100,200,10\nB,held,held,400,250,12\n"
    )
    rows = [
        f"P{name},{name},week,"
        + ",".join(repr(v + s) for v, s in zip(place, SHIFT, strict=True))
        + ",10,10,20"
        for name, place in MARKS.items()
    ]
    (folder / "positions.csv").write_text(
        "position,station,group,north_m,east_m,height_m,sd_north_mm,sd_east_mm,"
        "sd_height_mm\n" + "\n".join(rows) + "\n"
    )
    return folder


def test_a_group_asks_for_its_shift(tmp_path):
    """Two held marks give it: C stands where its position is, less the shift."""
    loaded = load(job(tmp_path, "free_shift = true"))
    made = estimate(loaded.network)
    found = parameter_estimates(made)
    assert found.name == tuple(
        f"shift {way} of group week" for way in ("east", "north", "up")
    )
    np.testing.assert_allclose(found.value, [-0.020, 0.040, 0.015], rtol=0, atol=1e-9)
    # Two positions of 10 and 20 mm: 10 / √2 and 20 / √2.
    np.testing.assert_allclose(found.sd * 1000, [7.0711, 7.0711, 14.1421], atol=1e-4)
    assert found.needed == ("yes", "yes", "no")
    here = made.nodes.xyz[loaded.network.marks.name.index("C")]
    np.testing.assert_allclose(here, [500, 300, 9], rtol=0, atol=1e-9)


def test_without_it_the_misfit_stays_in_the_positions(tmp_path):
    """A and B, 40² and 20² over 10² mm², 15² over 20² mm², twice: 41.125, by hand."""
    loaded = load(job(tmp_path, ""))
    made = estimate(loaded.network)
    assert loaded.network.positions.parameter is None
    assert made.vtpv == pytest.approx(41.125, rel=1e-9)


@pytest.mark.parametrize("key", ["free_shift", "free_scale", "free_turn"])
def test_the_keys_are_offered_and_checked(key):
    for kind in ("gnss", "mixed", "site"):
        assert f"# {key} = false" in blank_files(kind)["job.toml"]
    head = b'schema = 1\n[frame]\nkind = "local"\n[group.G]\n'
    _, findings = read_job(head + f'{key} = "yes"\n'.encode())
    assert [f.slug for f in findings] == ["wrong-type"]
    job, findings = read_job(head + f"{key} = true\n".encode())
    assert not findings
    assert getattr(job.groups["G"], key) is True


def test_the_offered_section_reads_back():
    text = blank_files("site")["job.toml"]
    start = text.index("# [group.NAME]")
    opened = text[:start] + text[start:].replace("# ", "", 1)
    opened = opened.replace("\n# sd_", "\nsd_").replace("\n# free_", "\nfree_")
    job, findings = read_job(opened.encode())
    assert not findings
    assert job.groups["NAME"].sd_multiplier_plan == 1.0
    assert job.groups["NAME"].free_shift is False


def test_a_key_for_rows_that_the_group_has_not_is_a_query(tmp_path):
    loaded = load(job(tmp_path, "free_shift = true\nfree_scale = true"))
    found = [f for f in loaded.findings if f.slug == "key-without-effect"]
    assert [(f.verdict, f.column) for f in found] == [("query", "free_scale")]
