"""The plots: residual quantiles, smallest blunders, blunder against effect.

By hand where a sum stands in the docstring, identities otherwise; the jobs are invented
and check nothing but that a plot shows what the tests say.
"""

import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest

from brasscap.__main__ import main
from brasscap.adjust import estimate
from brasscap.adjust.judge.standardized import standardized_residuals
from brasscap.io.tables.load import load
from brasscap.networks import example_jobs
from brasscap.plotting import FORMS, NAMES, hidden_in
from brasscap.reports.judged import judge
from brasscap.reports.plot_kinds import KINDS, plot_of
from brasscap.reports.plots import heights_figure
from brasscap.reports.plots_effects import effects_figure
from brasscap.reports.plots_residuals import residuals_figure
from brasscap.reports.plots_smallest import smallest_figure
from brasscap.reports.rounding import Units

EXAMPLES = Path(example_jobs.__file__).parent / "examples"
JOBS = ("harbour", "mill", "tramway")


@pytest.fixture(scope="module")
def solved():
    """Each example once."""
    made = {}

    def solve(name):
        if name not in made:
            network = load(EXAMPLES / name).network
            made[name] = judge(estimate(network, "constrained"))
        return made[name]

    return solve


def test_two_rises_of_one_difference(tmp_path):
    """By hand: 1.000 and 1.004 m, sd 1 mm each, from a held mark.

    The mean is 1.002; v = +2 and −2 mm; each has redundancy 1 − 1/2, so that σ_v =
    √½ mm and v / σ_v = ±2.8284.
    """
    (tmp_path / "job.toml").write_text(
        'schema = 1\n[job]\ntitle = "two"\n[frame]\nkind = "local"\nearth = "flat"\n'
        'height_datum = "d"\n[network]\ndimension = "height"\n'
    )
    (tmp_path / "stations.csv").write_text("station\nA\nB\nC\n")
    (tmp_path / "control.csv").write_text(
        "station,use_height,height_m,height_datum\nA,held,10.0,d\n"
    )
    (tmp_path / "levels.csv").write_text(
        "section,from_station,to_station,rise_m,run,sd_mm\n"
        "V1,A,B,1.000,single,1\nV2,A,B,1.004,single,1\nV3,B,C,0.5,single,1\n"
    )
    adjustment = estimate(load(tmp_path).network, "constrained")
    (levels,) = standardized_residuals(adjustment)
    assert levels.edge.tolist() == [0, 1]
    np.testing.assert_allclose(levels.value, [8**0.5, -(8**0.5)], rtol=1e-9)
    assert levels.unchecked == 1  # V3 hangs loose: no residual, and no 0
    (axes,) = residuals_figure(judge(adjustment)).axes
    assert "without 1 that nothing checks" in axes.get_title()


@pytest.mark.parametrize("name", JOBS)
def test_standardized_residuals_are_those_of_the_whole_at_once(solved, name):
    """Identity: v / √diag(Q − A (AᵀPA)⁻¹ Aᵀ), all rows in one dense matrix."""
    adjustment = solved(name).adjustment
    unknowns = int(adjustment.columns.max()) + 1
    blocks, rows = [], []
    for batch in adjustment.whitened:
        (some,) = (one for one in adjustment.equations if one.kind == batch.kind)
        for c, members in enumerate(batch.members):
            dense = np.zeros((batch.design.shape[1], unknowns + 1))
            np.add.at(dense.T, batch.columns[c], batch.design[c].T)
            blocks.append((batch.lower[c], dense[:, :-1], batch.misclosure[c]))
            each = some.active.shape[1]
            rows += [
                (batch.kind, int(edge), k) for edge in members for k in range(each)
            ]
    design = np.concatenate([lower @ dense for lower, dense, _ in blocks])
    weighted = np.concatenate([dense for _, dense, _ in blocks])
    inverse = np.linalg.inv(weighted.T @ weighted)
    taken = np.einsum("ij,jk,ik->i", design, inverse, design)
    variance = np.concatenate([np.diag(low @ low.T) for low, _, _ in blocks]) - taken
    residual = -np.concatenate([low @ mis for low, _, mis in blocks])
    place = {row: i for i, row in enumerate(rows)}
    count = 0
    for one in standardized_residuals(adjustment):
        for edge, component, value in zip(
            one.edge.tolist(), one.component.tolist(), one.value, strict=True
        ):
            at = place[one.kind, edge, component]
            expected = residual[at] / np.sqrt(variance[at])
            assert value == pytest.approx(expected, rel=1e-4, abs=1e-6)
            count += 1
    assert count > 10


@pytest.mark.parametrize("name", JOBS)
def test_the_square_is_the_statistic_of_a_reading_by_itself(solved, name):
    """Identity: T = (v / σ_v)² of one component that stands alone (Baarda 1968)."""
    judged = solved(name)
    tests, compared = judged.tests, 0
    for one in standardized_residuals(judged.adjustment):
        if one.kind not in ("level difference", "slope distance", "zenith angle"):
            continue
        value = dict(zip(one.edge.tolist(), one.value, strict=True))
        for i in np.flatnonzero(np.array(tests.kind) == one.kind):
            if tests.verdict[i] == "unchecked":
                continue
            statistic = tests.tests.stated.statistic[i]
            assert value[int(tests.edge[i])] ** 2 == pytest.approx(
                statistic, rel=1e-6, abs=1e-9
            )
            compared += 1
    assert compared > 5


def test_residuals_are_drawn_once_each_against_normal_quantiles(solved):
    judged = solved("harbour")
    (axes,) = residuals_figure(judged).axes
    kinds = standardized_residuals(judged.adjustment)
    every = np.sort(np.concatenate([one.value for one in kinds]))
    dots = [line for line in axes.lines if line.get_linestyle() == "None"]
    drawn = np.concatenate([line.get_xydata() for line in dots])
    drawn = drawn[np.argsort(drawn[:, 0])]
    np.testing.assert_allclose(drawn[:, 1], every)
    np.testing.assert_allclose(drawn[:, 0], -drawn[::-1, 0], atol=1e-12)
    assert len({line.get_marker() for line in dots}) == len(dots)
    assert "standard deviations" in axes.get_xlabel()
    assert "standard deviations" in axes.get_ylabel()
    names = {text.get_text() for text in axes.texts}
    assert "set-up S3-ICE" in names  # planted: its residual is far over the limit


@pytest.mark.parametrize("name", JOBS)
def test_smallest_blunders_are_those_of_the_tests_and_never_0(solved, name):
    judged = solved(name)
    tests, said = judged.tests, judged.tests.tests.smallest_detectable
    size = {f"{tests.kind[i]} {tests.name[i]}": i for i in range(len(tests))}
    compared = 0
    for axes in smallest_figure(judged, Units()).axes:
        unit = re.search(r"\((\S+)\)", axes.get_xlabel())[1]
        names = [label.get_text() for label in axes.get_yticklabels()]
        (dots,) = [line for line in axes.lines if line.get_marker() == "o"]
        for value, place in dots.get_xydata():
            factor = {"mm": 1000, "″": 3600 * 180 / np.pi}[unit]
            name_ = names[int(place)]
            if name_ in size:
                assert value == pytest.approx(factor * said[size[name_]])
                compared += 1
            assert value > 0
        crosses = [line for line in axes.lines if line.get_marker() == "x"]
        for k, cross in enumerate(crosses):
            assert cross.get_ydata()[0] == k
            assert tests.verdict[size[names[k]]] == "unchecked"
            assert "unchecked" in axes.texts[k].get_text()
    assert compared > 5


@pytest.mark.parametrize("name", JOBS)
def test_effects_are_those_of_reliability(solved, name):
    judged = solved(name)
    hidden = hidden_in(judged.adjustment)
    expected = {"plan": set(), "height": set()}
    for found in hidden.found.values():
        for i, one in enumerate(found.hypotheses):
            if one.measure != "m" or found.unchecked[i]:
                continue
            for k, part in enumerate(expected):
                effect = 1000 * found.worst(k)[0][i]
                if effect > 0:
                    size = 1000 * found.smallest_detectable[i]
                    expected[part].add((round(size, 6), round(effect, 6)))
    axes = effects_figure(hidden, Units()).axes[0]
    assert axes.get_xlabel() == "smallest blunder seen (mm)"
    assert axes.get_ylabel() == "largest move of a mark (mm)"
    for part, marker in (("plan", "o"), ("height", "^")):
        (dots,) = [line for line in axes.lines if line.get_marker() == marker]
        drawn = {(round(x, 6), round(y, 6)) for x, y in dots.get_xydata()}
        assert drawn == expected[part]


def test_heights_of_a_mixed_job_are_those_that_were_levelled(solved):
    judged = solved("harbour")
    (axes,) = heights_figure(judged).axes
    levels = judged.network.levels
    ends = judged.network.mark_of(np.stack([levels.start, levels.end])).ravel()
    names = {judged.network.marks.name[mark] for mark in ends}
    assert {label.get_text() for label in axes.get_xticklabels()} == names


@pytest.mark.parametrize("kind", NAMES)
def test_an_svg_is_titled_asks_for_nothing_and_follows_the_theme(solved, kind):
    judged = solved("harbour")
    hidden = hidden_in(judged.adjustment) if kind == "effects" else None
    made = plot_of(kind, judged, "svg", hidden=hidden)
    assert made == plot_of(kind, judged, "svg", hidden=hidden)
    said = made.decode()
    root = ET.fromstring(said)
    assert root.get("role") == "img"
    space = "{http://www.w3.org/2000/svg}"
    ids = {part.get("id"): part.tag for part in root if part.get("id")}
    assert ids["title"] == f"{space}title"
    assert ids["about"] == f"{space}desc"
    assert root.get("aria-labelledby") == "title about"
    assert root.find(f"{space}desc").text == KINDS[kind]
    assert set(re.findall(r"https?://[^\"]+", said)) <= {
        "http://www.w3.org/2000/svg",
        "http://www.w3.org/1999/xlink",
    }
    assert not re.search(r"<(!DOCTYPE|script|image|metadata)|url\((?!#)|@import", said)
    assert "prefers-color-scheme:dark" in said
    body = re.sub(r"<style.*?</style>", "", said, flags=re.DOTALL)
    # A colour that is written out would be dark on dark.
    assert not re.search(r"(fill|stroke): ?#[0-9a-fA-F]{3,6}", body)
    assert [text for text in root.iter(f"{space}text") if text.text]


@pytest.mark.parametrize("form", FORMS)
def test_plots_are_the_same_bytes_every_time(solved, form):
    judged = solved("tramway")
    for kind in ("residuals", "smallest"):
        assert plot_of(kind, judged, form) == plot_of(kind, judged, form)


def test_the_names_of_the_command_are_those_of_the_plots():
    assert set(NAMES) == set(KINDS)


@pytest.fixture
def job(tmp_path):
    folder = tmp_path / "job"
    assert main(["new", str(folder), "--example", "tramway", "--quiet"]) == 0
    return folder


def test_report_writes_the_plot_that_is_asked_for(job, capsys):
    capsys.readouterr()
    main(["--job", str(job), "--quiet", "--json", "report", "--plot-of", "residuals"])
    files = json.loads(capsys.readouterr().out)["files"]
    assert files == {"plot": (job / "reports" / "residuals.png").as_posix()}
    assert Path(files["plot"]).read_bytes().startswith(b"\x89PNG")


def test_report_writes_all_plots(job, capsys):
    capsys.readouterr()
    words = ["report", f"--plot={job}/p.pdf", "--plot-of", "all"]
    main(["--job", str(job), "--quiet", "--json", *words])
    files = json.loads(capsys.readouterr().out)["files"]
    assert set(files) == {f"plot-{name}" for name in NAMES}
    assert Path(files["plot-effects"]).name == "p-effects.pdf"
    assert all(Path(path).read_bytes()[:5] == b"%PDF-" for path in files.values())


def test_a_form_that_there_is_not_is_said_before_anything_is_read(tmp_path, capsys):
    words = ["report", "--plot=x.gif", "--plot-of", "smallest"]
    assert main(["--job", str(tmp_path / "none"), *words]) == 2
    assert ".png, .svg or .pdf" in capsys.readouterr().err


def test_of_very_many_residuals_the_tails_are_drawn_whole(solved, monkeypatch):
    from brasscap.reports import plots_residuals

    judged = solved("harbour")
    monkeypatch.setattr(plots_residuals, "_MANY", 50)
    (axes,) = residuals_figure(judged).axes
    dots = [line for line in axes.lines if line.get_linestyle() == "None"]
    drawn = np.concatenate([line.get_ydata() for line in dots])
    kinds = standardized_residuals(judged.adjustment)
    every = np.sort(np.concatenate([one.value for one in kinds]))
    assert len(drawn) < len(every) / 4
    assert {every[0], every[-1]} <= set(drawn)
    assert "one in 5 is drawn" in axes.get_title()


@pytest.mark.parametrize("kind", ["residuals", "smallest", "effects"])
def test_plots_in_feet_and_gon_say_so(solved, kind):
    judged = solved("mill")
    hidden = hidden_in(judged.adjustment) if kind == "effects" else None
    said = plot_of(kind, judged, "svg", Units("ift", "gon"), hidden).decode()
    words = " ".join(text.text or "" for text in ET.fromstring(said).iter())
    assert "mm" not in words
    assert "″" not in words
    if kind != "residuals":
        assert "(ift)" in words
        assert "(mgon)" in words
