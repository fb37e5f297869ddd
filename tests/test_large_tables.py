"""Tables read as columns: the same as read one by one, and no more memory than said."""

import csv
import io
import sys
import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from brasscap.io.tables import grid, lines
from brasscap.io.tables.decimals import plain_decimals
from brasscap.io.tables.grid import grid_of
from brasscap.io.tables.load import MOST_TOLD, load
from brasscap.io.tables.reading import read_folder
from brasscap.io.tables.rows import read_table
from brasscap.io.tables.schema import schemas
from brasscap.io.tables.sheet import read_sheet
from brasscap.io.tables.spelling import MOST_SPELLINGS, nearest
from brasscap.networks.errors import InputError
from brasscap.networks.units import UNITS, convert

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))
from large_job import write_job

ROWS = 20_000
LOCAL = 'schema = 1\n[frame]\nkind = "local"\nearth = "flat"\n'
HEADER = "section,from_station,to_station,rise_m,run,length_km,set_ups_count,sd_mm"


def levels(count, seed=1):
    """Return rows of levels.csv as texts, some cells empty, some names not ASCII."""
    rng = np.random.default_rng(seed)
    rises, lengths = rng.normal(0, 3, count), rng.uniform(0.1, 2, count)
    return [
        [
            f"V{i}",
            f"Mark {i}" if i % 7 else f"Höhe {i}",
            f"Mark {i + 1}",
            f"{rises[i]:.5f}" if i % 11 else "",
            ("out", "back", "")[i % 3],
            f"{lengths[i]:.3f}",
            str(i % 9),
            f"{lengths[i]:.1f}",
        ]
        for i in range(count)
    ]


def as_csv(rows, separator=",", end="\n"):
    body = end.join(separator.join(row) for row in rows)
    return (HEADER.replace(",", separator) + end + body + end).encode()


def read(content, name="levels"):
    sheet, findings = read_sheet(f"{name}.csv", content)
    table, more = read_table([sheet], schemas()[name])
    return table, findings + more


def small_blocks(monkeypatch):
    monkeypatch.setattr(grid, "BLOCK", 500)
    monkeypatch.setattr(lines, "PIECE", 700)


@pytest.mark.parametrize(
    "unit", ["m", "mm", "km", "ift", "sft", "mm2", "gon", "arcsec"]
)
def test_decimals_are_those_of_exact_fractions_to_the_last_bit(unit):
    """Reference: ``convert`` rounds a quotient of whole numbers of any size once."""
    rng = np.random.default_rng(3)
    texts = ["", "0", "-0.0", "+1.", ".5", "-.25", "9007199254740993", "1e5", "x", "-"]
    for _ in range(2000):
        digits = "".join(str(d) for d in rng.integers(0, 10, rng.integers(1, 17)))
        at = int(rng.integers(0, len(digits) + 1))
        sign = ("", "-", "+")[rng.integers(0, 3)]
        texts.append(sign + digits[:at] + ("." + digits[at:] if at % 3 else ""))
    (block,) = grid_of([[text] for text in texts]).blocks()
    values, was_read = plain_decimals(block.column(0), UNITS[unit].factor)
    assert was_read.mean() > 0.6
    for text, value, known in zip(texts, values.tolist(), was_read, strict=True):
        if known and text:
            assert value == convert(text, unit), text
    assert not was_read[texts.index("x")]
    assert not was_read[texts.index("-")]
    assert not was_read[texts.index("1e5")]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("quoted", [False, True])
def test_columns_are_the_cells_that_the_standard_library_reads(
    separator, quoted, monkeypatch
):
    small_blocks(monkeypatch)
    rows = levels(300)
    content = as_csv(rows, separator)
    if quoted:
        buffer = io.StringIO()
        writer = csv.writer(
            buffer, delimiter=separator, quoting=csv.QUOTE_ALL, lineterminator="\r\n"
        )
        writer.writerows([HEADER.split(","), *rows])
        content = buffer.getvalue().encode("utf-8-sig")
    table, findings = read(content)
    assert {f.slug for f in findings} == {"missing-value"}
    assert len(findings) == 300 // 11 + 1
    cells = list(zip(*rows, strict=True))
    assert table.word("from_station").tolist() == list(cells[1])
    assert table.word("run").tolist() == list(cells[4])
    assert table.booked["rise"].tolist() == list(cells[3])
    expected = [float(text) if text else np.nan for text in cells[3]]
    np.testing.assert_array_equal(table.number("rise"), expected)
    np.testing.assert_array_equal(table.has("rise"), [bool(text) for text in cells[3]])
    assert table.row.tolist() == list(range(2, 302))
    assert table.booked["length"][17] == cells[5][17]


def test_odd_lines_between_are_told_where_they_are(monkeypatch):
    """Comments, blank rows, short and long rows, wherever the blocks end."""
    small_blocks(monkeypatch)
    rows = [",".join(row) for row in levels(100)]
    rows[10] = "# a remark"
    rows[20] = ""
    rows[30] = rows[30] + ",,"
    rows[40] = rows[40] + ",more"
    rows[50] = "V50,Mark 50"
    rows[60] = " " + rows[60]
    rows[70] = "# " + rows[70]
    table, findings = read((HEADER + "\n" + "\n".join(rows)).encode())
    left = [i + 2 for i in range(100) if i not in (10, 20, 40, 50, 70)]
    assert table.row.tolist() == left
    told = {(f.slug, f.row) for f in findings if f.slug != "missing-value"}
    assert {("ragged-row", 42), ("ragged-row", 52), ("row-commented-out", 72)} <= told
    assert ("name-has-blanks-around", 62) in told


def test_a_fault_says_row_line_column_and_what_was_booked_in_any_block(monkeypatch):
    small_blocks(monkeypatch)
    rows = levels(200)
    rows[150][3] = "1,5".replace(",", "·")
    rows[180][5] = "-3"
    _, findings = read(as_csv(rows))
    (bad,) = (f for f in findings if f.slug == "not-a-number")
    assert (bad.row, bad.line, bad.column) == (152, 152, "rise_m")
    assert bad.booked == "rise_m 1·5"
    (low,) = (f for f in findings if f.slug == "out-of-range")
    assert (low.row, low.booked) == (182, "length_km -3")


def test_memory_is_the_file_and_a_little_for_each_row(tmp_path):
    """Texts of numbers are not kept: 8 bytes a number, and one text for each name.

    A name is an object of 49 bytes and its letters (CPython 3.11) with 8 for its place;
    a number takes 8 bytes and one for whether it was booked; a row two places in the
    file, its row and its line, 32 bytes. Three names, four numbers and a word a row
    make 3 · 70 + 4 · 9 + 8 + 32 = 286 bytes. The file itself stays in memory.
    """
    (tmp_path / "job.toml").write_text(LOCAL)
    content = as_csv([row for row in levels(ROWS) if row[3]])
    (tmp_path / "levels.csv").write_bytes(content)
    read_folder(tmp_path)
    tracemalloc.start()
    reading = read_folder(tmp_path)
    kept, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    count = len(reading.tables["levels"])
    assert count > 18_000
    assert kept < len(content) + 300 * count
    # Blocks pass by: what is at work does not grow with the file without end.
    assert peak < kept + 40 * grid.BLOCK


def test_a_text_as_wide_as_a_book_does_not_widen_all_others():
    rows = levels(2000)
    rows[3][4] = "x" * 300_000
    table, findings = read(as_csv(rows))
    assert table.word("run")[3] == rows[3][4]
    assert table.word("run")[4] == rows[4][4]
    assert "word-not-known" in {f.slug for f in findings}


def test_the_nearest_of_many_names_is_that_of_few():
    """The letters of a word cut many names down; the comparison itself is the same."""
    few = [f"GROVE {k} {w}" for k in range(30) for w in ("NORTH", "SOUTH", "QUAY")]
    many = few + [f"M{k:06d}" for k in range(4000)]
    for wrong in ("GROVE 7 NORTF", "GRVOE 12 QUAY", "grove-3-south", "GROV 21 QUAY"):
        assert nearest(wrong, many) == nearest(wrong, few) != ""
    assert nearest("banana", many) == ""


@pytest.mark.parametrize("table", ["set_ups", "baselines"])
def test_when_every_name_is_wrong_the_first_are_told_and_the_rest_is_counted(
    table, tmp_path
):
    write_job(tmp_path, 400)
    path = tmp_path / f"{table}.csv"
    # Stations, or set-ups, that no other table knows.
    old, new = {"set_ups": (",M", ",N"), "baselines": (",S", ",Q")}[table]
    path.write_text(path.read_text().replace(old, new))
    with pytest.raises(InputError) as error:
        load(tmp_path)
    told = [f for f in error.value.findings if f.file == path.name]
    assert len(told) == MOST_TOLD + 1
    assert {f.slug for f in told[:-1]} == {"unknown-name"}
    assert told[0].row == 2
    assert told[-1].slug == "more-findings"
    assert int(told[-1].booked.split()[0]) > 500
    assert sum(bool(f.likely) for f in told) <= 2 * MOST_SPELLINGS
