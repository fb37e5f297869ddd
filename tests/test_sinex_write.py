"""SINEX written: read back by our reader, and by the columns of the description."""

import json

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.io.formats import SolutionPoints, read_sinex, write_sinex
from brasscap.io.formats.sinex import parse_sinex
from brasscap.io.tables.load import load


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("snx") / "harbour"
    assert main(["new", str(folder), "--example", "harbour", "--quiet"]) == 0
    assert main(["export", "--sinex", "--job", str(folder), "--quiet"]) == 1
    return folder, folder / "reports" / "control.snx"


def test_what_is_read_back_is_what_was_adjusted(written):
    """Coordinates to 10 nm and covariances to 1e-13, the digits of the format."""
    folder, path = written
    found = read_sinex(path)
    made = estimate(load(folder).network, "constrained")
    names = made.network.marks.name
    by = dict(zip(found.code, found.description, strict=True))
    at = np.array([names.index(by[code]) for code in found.code])
    assert "SIGNAL HILL" not in by.values()  # held
    assert found.xyz == pytest.approx(made.nodes.xyz[at], abs=1e-8)
    axes = made.nodes.axes
    for i, j in ((0, 0), (0, 3), (5, 2)):
        block = made.covariance(at[[i]], at[[j]])[0]
        turned = axes[at[i]].T @ block @ axes[at[j]]
        read = found.covariance[3 * i : 3 * i + 3, 3 * j : 3 * j + 3]
        assert read == pytest.approx(turned, rel=1e-9, abs=1e-18)
    assert found.epoch == pytest.approx(2020.0, abs=1e-6)
    assert not [f for f in found.notes if f.verdict == "fault"]


def test_the_columns_are_those_of_the_description(written):
    """SOLUTION/ESTIMATE: index 2–6, type 8–13, code 15–18, point 20–21, solution
    23–26, epoch 28–39, unit 41–44, constraint 46, value 48–68, sd 70–80."""
    text = written[1].read_text("ascii").splitlines()
    start = text.index("+SOLUTION/ESTIMATE") + 1
    line = text[start]
    assert line[1:6].strip() == "1"
    assert line[7:13].strip() == "STAX"
    assert line[27:39] == "20:001:00000"
    assert line[40:44].strip() == "m"
    assert abs(float(line[47:68])) > 1e5
    assert 0 < float(line[69:80]) < 1
    assert max(map(len, text)) <= 80
    assert text[0].startswith("%=SNX 2.02 ")
    assert text[-1] == "%ENDSNX"


def test_any_solution_comes_back():
    """Random places and a random covariance, five marks with awkward names."""
    draw = np.random.default_rng(5)
    root = draw.normal(size=(15, 15)) * 0.01
    points = SolutionPoints(
        ("Å 1", "A 1", "A 1b", "A 1bc", "…"),
        draw.normal(size=(5, 3)) * 4e6,
        root @ root.T,
        np.column_stack(
            [[-0.4, 89, 12, -33, 5], [-0.1, 359.99999, 7, 151, 1], [0] * 5]
        ),
        2016.9999,
    )
    found = parse_sinex(write_sinex(points), "a.snx")
    assert len(set(found.code)) == 5
    assert found.xyz == pytest.approx(points.xyz, abs=1e-8)
    assert found.covariance == pytest.approx(points.covariance, rel=1e-12)
    assert found.epoch == pytest.approx(2016.9999, abs=1e-7)


def test_a_local_job_has_none(tmp_path, capsys):
    assert main(["new", str(tmp_path / "m"), "--example", "mill", "--quiet"]) == 0
    assert main(["export", "--sinex", "--job", str(tmp_path / "m")]) == 2
    assert "no geocentric places" in " ".join(capsys.readouterr().err.split())


def test_the_export_says_what_it_wrote(written, capsys):
    folder, path = written
    capsys.readouterr()
    main(["export", "--sinex", "--json", "--job", str(folder)])
    found = json.loads(capsys.readouterr().out)
    assert found["files"] == {"sinex": path.as_posix()}
