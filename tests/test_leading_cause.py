"""A cause that explains clearly more than any single test comes first."""

import csv
import re

import pytest

from brasscap.__main__ import main
from brasscap.networks.queries import Query, leading_cause


def test_the_cause_leads_only_where_its_test_is_clearly_larger():
    cause = Query("cause-suspected", "prism constant of A", "fails", test=6.0)
    smaller = Query("cause-suspected", "set-up B", "query", test=2.0)
    assert leading_cause([smaller, cause], 4.0) is cause
    assert leading_cause([smaller, cause], 5.9) is None
    assert leading_cause([], 0.0) is None
    low = Query("cause-suspected", "set-up B", "query", test=0.9)
    assert leading_cause([low], 0.0) is None


@pytest.fixture(scope="module")
def prisms(tmp_path_factory):
    """The invented yard, every distance 40 mm too long: a wrong prism constant."""
    folder = tmp_path_factory.mktemp("prism") / "mill"
    assert main(["new", str(folder), "--example", "mill", "--quiet"]) == 0
    path = folder / "total_station.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        if row["slope_distance_m"]:
            row["slope_distance_m"] = f"{float(row['slope_distance_m']) + 0.04:.4f}"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    return folder


def test_run_and_report_name_the_cause_first(prisms, capsys):
    assert main(["run", "--job", str(prisms), "--quiet"]) == 1
    said = re.sub(r"\s+", " ", capsys.readouterr().out)
    headline = said.split("largest finding: ")[1]
    assert headline.startswith("prism constant")
    assert "booked too large by" in headline
    assert "the largest single test" in headline
    page = (prisms / "reports" / "report.html").read_text("utf-8")
    assert page.index("suspected cause") < page.index("largest test")
