"""DXF: read back by its group codes, and by GDAL where it is installed."""

import json

import pytest

from brasscap.__main__ import main


@pytest.fixture
def drawn(tmp_path, capsys):
    folder = tmp_path / "mill"
    assert main(["new", str(folder), "--example", "mill", "--quiet"]) == 0
    assert main(["export", "--dxf", "--job", str(folder), "--quiet"]) == 1
    capsys.readouterr()
    main(["adjust", "--json", "--job", str(folder)])
    marks = json.loads(capsys.readouterr().out)["marks"]
    placed = {m["station"]: m for m in marks if m["east_m"] is not None}
    return folder / "reports" / "control.dxf", placed


def entities(path):
    """Return the entities as (type, {code: value}), from pairs of lines."""
    lines = path.read_text("ascii").splitlines()
    pairs = list(zip(map(int, lines[::2]), lines[1::2], strict=True))
    start = pairs.index((2, "ENTITIES")) + 1
    made = []
    for code, value in pairs[start:]:
        if code == 0:
            made.append((value, {}))
        else:
            made[-1][1][code] = value
    return [one for one in made if one[0] not in ("ENDSEC", "EOF")]


def test_points_and_names(drawn):
    path, marks = drawn
    found = entities(path)
    points = [e for kind, e in found if kind == "POINT"]
    names = [e[1] for kind, e in found if e[8] == "CONTROL_NAMES"]
    assert set(names) == set(marks)
    for name, point in zip(names, points, strict=True):
        at = [float(point[code]) for code in (10, 20)]
        expected = [marks[name]["east_m"], marks[name]["north_m"]]
        assert at == pytest.approx(expected, abs=1e-5)
        if marks[name]["height_m"] is not None:
            assert float(point[30]) == pytest.approx(marks[name]["height_m"], abs=1e-5)


def test_unit_and_frame_are_said(drawn):
    head = drawn[0].read_text("ascii").splitlines()[:8]
    assert head[::2] == ["999"] * 4
    assert "metres" in head[1]
    noted = [e[1] for _, e in entities(drawn[0]) if e[8] == "CONTROL_NOTE"]
    assert len(noted) == 4


def test_gdal_reads_it(drawn):
    pyogrio = pytest.importorskip("pyogrio")
    path, marks = drawn
    meta, _, geometry, values = pyogrio.raw.read(path)
    assert len(geometry) == 2 * len(marks) + 4
    words = values[list(meta["fields"]).index("Text")].tolist()
    assert set(marks) <= set(words)


def test_heights_alone_have_no_drawing(tmp_path, capsys):
    assert main(["new", str(tmp_path / "t"), "--example", "tramway", "--quiet"]) == 0
    assert main(["export", "--dxf", "--job", str(tmp_path / "t")]) == 2
    assert "north and east" in " ".join(capsys.readouterr().err.split())
