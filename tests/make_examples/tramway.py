"""Skerrin Hill tramway: heights alone, levelled in loops between two known heights."""

from sheets import kept, kept_rows, table
from site_work import Line, levels

from brasscap.networks import LocalFrame
from brasscap.networks.simulate import Blunder

SEED = 20260518
FRAME = LocalFrame("Skerrin town datum")
# On section T6, levelled one way only, a staff was read a centimetre too high.
PLANTED = Blunder("level difference", "T6", (0.010, 0.0, 0.0))

MARKS = kept_rows("tramway_marks.csv")
HELD = {"TOLL HOUSE": 1, "DEPOT SILL": 1}  # sd of height, mm

LINES = [
    Line("T1", "TOLL HOUSE", "CHAPEL STEP", 0.31, 5, "2026-05-18T08:30"),
    Line("T2", "CHAPEL STEP", "PUMP", 0.24, 4, "2026-05-18T09:30"),
    Line("T3", "PUMP", "VIADUCT WEST", 0.38, 6, "2026-05-18T10:30"),
    Line("T4", "VIADUCT WEST", "VIADUCT EAST", 0.09, 2, "2026-05-18T11:30"),
    Line("T5", "VIADUCT EAST", "SCHOOL WALL", 0.29, 5, "2026-05-18T13:10"),
    Line("T6", "CHAPEL STEP", "SCHOOL WALL", 0.52, 9, "2026-05-18T14:20", ("single",)),
    Line("T7", "SCHOOL WALL", "FOUNTAIN", 0.27, 5, "2026-05-19T08:30"),
    Line("T8", "FOUNTAIN", "DEPOT SILL", 0.44, 8, "2026-05-19T09:40"),
    Line("T9", "PUMP", "FOUNTAIN", 0.61, 10, "2026-05-19T11:00", ("single",)),
    Line("T10", "VIADUCT WEST", "DEPOT SILL", 0.72, 12, "2026-05-19T13:15"),
]


def truth():
    """Return every mark with its height; nothing here depends on where it lies."""
    return {mark["station"]: (0.0, 0.0, float(mark["height_m"])) for mark in MARKS}


def tables(read):
    return {
        "job.toml": kept("tramway_job.toml"),
        "stations.csv": stations(),
        "control.csv": control(),
        "levels.csv": levels(LINES, "LV3", "S3 S4", read),
    }


def stations():
    columns = "station mark_kind status description access_note"
    rows = [[mark[name] for name in columns.split()] for mark in MARKS]
    return table(columns, rows, "Invented marks of an invented street.")


def control():
    rows = [
        [
            mark["station"],
            "held",
            mark["height_m"],
            HELD[mark["station"]],
            "sd",
            "town bench mark list, 1998 (invented)",
            "1998-06-30",
        ]
        for mark in MARKS
        if mark["station"] in HELD
    ]
    header = "station use_height height_m sd_height_mm stated_at source source_date"
    return table(header, rows)
