"""Options and fixtures shared by all tests."""

import csv
import io
import json
import os
import shutil
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

# As the command does: idle threads of BLAS slow small matrices down tenfold.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import pytest

from brasscap.adjust import Adjustment
from brasscap.adjust.judge import blunder_tests, variance_factor_test

TESTS = Path(__file__).parent


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--update-golden", action="store_true", help="rewrite tests/golden"
    )


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Callable[[str, str], None]:
    """Compare text with the file of that name in tests/golden."""

    def compare(name: str, text: str) -> None:
        path = TESTS / "golden" / name
        if request.config.getoption("--update-golden"):
            path.write_text(text, "utf-8")
        assert text == path.read_text("utf-8")

    return compare


class Case:
    """A problem of tests/cases, with the answers that others gave and their source."""

    def __init__(self, name: str) -> None:
        self.content = json.loads((TESTS / "cases" / f"{name}.json").read_text("utf-8"))

    def __getitem__(self, key: str) -> Any:
        return self.content[key]

    def check(self, **found: Any) -> None:
        """Compare with the published answers, each within its own tolerance."""
        tolerances = self.content["tolerance"]
        for key, value in found.items():
            allowed = tolerances.get(key, tolerances.get("default"))
            assert allowed is not None, f"the case states no tolerance for {key}"
            _compare(value, self.content["expected"][key], allowed, key)

    def check_computed(self, *, absolute: float = 0.0, **found: Any) -> None:
        """Compare with the 12 digits of an independent solver, relative 1e-6."""
        for key, value in found.items():
            other = np.asarray(self.content["computed"][key], dtype=float)
            size = max(np.abs(other).max() * 1e-6, 1e-15)
            np.testing.assert_allclose(
                np.asarray(value, dtype=float),
                other,
                rtol=0,
                atol=absolute or size,
                err_msg=key,
            )


def _compare(found: Any, expected: Any, allowed: Any, where: str) -> None:
    """Walk lists and names side by side; null = the source does not print it."""
    if expected is None:
        return
    if isinstance(expected, dict):
        for key, value in expected.items():
            its = allowed.get(key, allowed) if isinstance(allowed, dict) else allowed
            _compare(found[key], value, its, f"{where}.{key}")
    elif isinstance(expected, list):
        assert len(found) == len(expected), where
        for number, value in enumerate(expected):
            its = allowed[number] if isinstance(allowed, list) else allowed
            _compare(found[number], value, its, f"{where}[{number}]")
    else:
        near = _band(expected, allowed)
        assert abs(float(found) - expected) <= near, f"{where}: {found} not {expected}"


def _band(expected: float, allowed: float | Mapping[str, float]) -> float:
    if isinstance(allowed, Mapping):
        return abs(expected) * allowed["relative"]
    return allowed


@pytest.fixture
def case() -> Callable[[str], Case]:
    """Return a problem of tests/cases by its name."""
    return Case


ARCSEC = np.pi / 180 / 3600


@pytest.fixture
def said_of_readings() -> Callable[[Adjustment, Sequence[tuple[str, str]]], Any]:
    """Return what is said of observations of one row, under the names of a case."""
    return _said_of_readings


def _said_of_readings(
    adjustment: Adjustment, order: Sequence[tuple[str, str]]
) -> dict[str, Any]:
    """Return residuals, redundancies and tests, in m and arcseconds.

    ``order`` is kind and name of each. The w of a reading is the signed root of its
    statistic: booked too large is a negative residual. Its tau follows from the
    statistic F of the estimated basis, τ² = r F / (r − 1 + F) (Pope 1976; from
    memory); with one degree of freedom there is none.
    """
    tests = blunder_tests(adjustment)
    number = {key: i for i, key in enumerate(zip(tests.kind, tests.name, strict=True))}
    rows = [number[key] for key in order]
    unit = np.array([ARCSEC if tests.measure[i] == "rad" else 1.0 for i in rows])
    edges = [(kind, tests.edge[i]) for (kind, _), i in zip(order, rows, strict=True)]
    residuals = [np.nansum(adjustment.residuals[kind][edge]) for kind, edge in edges]
    sign = -np.sign(np.nansum(tests.tests.shift[rows], axis=1))
    freedom = adjustment.degrees_of_freedom
    ratio = tests.tests.estimated.statistic[rows]
    factor = variance_factor_test(adjustment)
    said = {
        "dof": freedom,
        "vtpv": adjustment.vtpv,
        "s0_sq": factor.value,
        "s0": np.sqrt(factor.value),
        "chi2_lower_975": factor.lower * freedom,
        "chi2_upper_025": factor.upper * freedom,
        "residuals": np.array(residuals) / unit,
        "redundancy": tests.redundancy[rows],
        "w": sign * np.sqrt(tests.tests.stated.statistic[rows]),
        "mdb": tests.tests.smallest_detectable[rows] / unit,
    }
    if freedom > 1:
        said["tau"] = sign * np.sqrt(freedom * ratio / (freedom - 1 + ratio))
    else:
        assert np.isnan(ratio).all()
    return said


# Three marks, B and C tied to A by vectors of 3 mm in plan and 6 mm in height, so that
# (by hand) each of B and C is worth 3 mm · √(2/3) = 2.449 mm and 6 mm · √(2/3) =
# 4.899 mm: a direct vector of weight 1 and a way round of weight 1/2.
TOPO_JOB = TESTS / "topo_job"
_SHOT = {
    "shot": "",
    "code": "ground",
    "north_m": "1050.000",
    "east_m": "1050.000",
    "height_m": "11.000",
    "set_up": "BASE-B",
    "network_service": "",
    "station": "",
    "repeats": "",
    "record": "1",
    "initialisation": "I1",
    "start_utc": "2026-04-01T09:00:00Z",
    "support": "",
    "antenna_height_m": "2.000",
    "tilt_deg": "",
    "tilt_azimuth_deg": "",
    "sd_north_mm": "8",
    "sd_east_mm": "8",
    "sd_height_mm": "15",
    "sky": "open",
    "line": "",
    "surface": "",
    "frame_epsg": "",
}


@pytest.fixture
def shots_csv() -> Callable[..., str]:
    """Return a table of shots from what is special about each."""

    def make(*rows: Mapping[str, str]) -> str:
        out = io.StringIO()
        writer = csv.DictWriter(out, list(_SHOT), lineterminator="\n")
        writer.writeheader()
        for number, row in enumerate(rows, 1):
            writer.writerow(_SHOT | {"shot": str(number)} | dict(row))
        return out.getvalue()

    return make


@pytest.fixture
def topo_job(tmp_path: Path, shots_csv: Callable[..., str]) -> Callable[..., Path]:
    """Return a maker of a small job with shots: their rows, more tables of topo/."""

    def make(*rows: Mapping[str, str], **more: str) -> Path:
        shutil.copytree(TOPO_JOB, tmp_path, dirs_exist_ok=True)
        (tmp_path / "topo").mkdir(exist_ok=True)
        (tmp_path / "topo" / "day1.csv").write_text(shots_csv(*rows), "utf-8")
        for name, text in more.items():
            (tmp_path / "topo" / f"{name}.csv").write_text(text, "utf-8")
        return tmp_path

    return make
