"""Orrin Mill: a site grid with a traverse, a free station and levels, no GNSS."""

from sheets import kept, kept_rows, table
from site_work import (
    Instrument,
    Line,
    Station,
    Target,
    instruments,
    levels,
    set_up_rows,
    total_station,
)

from brasscap.networks import LocalFrame
from brasscap.networks.simulate import Blunder

SEED = 20260420
FRAME = LocalFrame("Orrin Mill site datum")
# 1.537 m on the pole, 1.573 m in the book: two digits changed places.
PLANTED = Blunder("set-up height", "target LOADING DOCK from T2", (0.0, 0.0, 0.036))
BOOKED = 1.573

MARKS = kept_rows("mill_marks.csv")
FREE = (1086.4, 5079.6, 101.4)  # where the free station F1 stood

# use_plan, use_height, sd north, east, height in mm; a height where it is known.
CONTROL = {
    "GATE PIER": ("held", "weighted", 2, 2, 2),
    "CHIMNEY FOOT": ("held", "", 2, 2, ""),
    "WEIR WALL": ("weighted", "", 3, 3, ""),
    "COUNTING HOUSE": ("", "held", "", "", 1),
}
INSTRUMENT = Instrument("TS4", "80417", 2, 3, 1.0, 1.5, "2026-02-03", 3.1, -4.4)
AIR = ["round prism 2", -34.4, "yes", 14, 1009, "yes"]
PEOPLE = ("A. Corrie", "L. Brandreth")

# Targets on tripods that stay where they are: name, mark, height, tripod.
ON_TRIPODS = [
    ("P-GATE", "GATE PIER", "1.482", ""),
    ("P-Y1", "YARD 1", "1.549", "YARD 1 tripod"),
    ("P-Y2", "YARD 2", "1.611", "YARD 2 tripod"),
    ("P-Y3", "YARD 3", "1.507", "YARD 3 tripod"),
    ("P-Y4", "YARD 4", "1.574", "YARD 4 tripod"),
    ("P-Y5", "YARD 5", "1.530", "YARD 5 tripod"),
    ("P-CHIM", "CHIMNEY FOOT", "1.466", ""),
]


def on_tripod(name):
    mark, height = next(row[1:3] for row in ON_TRIPODS if row[0] == name)
    return Target(mark, float(height), name)


def station(number, day, *targets, height):
    mark = f"YARD {number}"
    person = PEOPLE[number % 2]
    seen = tuple(on_tripod(t) if isinstance(t, str) else t for t in targets)
    return Station(f"T{number}", mark, height, f"{mark} tripod", day, person, seen)


STATIONS = [
    station(
        1, "2026-04-20T07:10", "P-GATE", "P-Y2", Target("LOADING DOCK", 1.520),
        "P-CHIM", height="1.551",
    ),
    station(
        2, "2026-04-20T08:05", "P-Y1", "P-Y3", Target("LOADING DOCK", BOOKED),
        Target("WEIR WALL", 1.500), height="1.613",
    ),
    station(
        3, "2026-04-20T09:20", "P-Y2", "P-Y4", Target("WEIR WALL", 1.500),
        height="1.509",
    ),
    station(
        4, "2026-04-20T10:15", "P-Y3", "P-Y5", Target("LOADING DOCK", 1.520),
        height="1.576",
    ),
    station(
        5, "2026-04-20T12:30", "P-Y4", "P-CHIM", Target("LOADING DOCK", 1.520),
        "P-GATE", height="1.532",
    ),
    Station(
        "F1", "", "", "", "2026-04-20T13:40", PEOPLE[0],
        (
            Target("GATE PIER", 1.500), Target("CHIMNEY FOOT", 1.500),
            Target("YARD 4", 1.500), Target("WEIR WALL", 1.500),
            Target("YARD 2", 1.500), Target("LOADING DOCK", 1.500),
            Target("YARD 1", 1.500), Target("YARD 5", 1.500),
        ),
    ),
]  # fmt: skip

LINES = [
    Line("L1", "COUNTING HOUSE", "GATE PIER", 0.07, 2, "2026-04-21T07:05"),
    Line("L2", "COUNTING HOUSE", "YARD 1", 0.04, 1, "2026-04-21T08:00"),
    Line("L3", "YARD 1", "YARD 2", 0.05, 1, "2026-04-21T08:55"),
    Line("L4", "YARD 2", "YARD 3", 0.06, 2, "2026-04-21T09:50"),
    Line("L5", "YARD 3", "YARD 4", 0.05, 1, "2026-04-21T10:45"),
    Line("L6", "YARD 4", "YARD 5", 0.05, 1, "2026-04-21T12:30"),
    Line("L7", "YARD 5", "LOADING DOCK", 0.05, 2, "2026-04-21T13:25"),
    Line("L8", "LOADING DOCK", "YARD 1", 0.05, 2, "2026-04-21T14:20"),
]


def truth():
    places = {
        mark["station"]: [float(mark[k]) for k in ("north_m", "east_m", "height_m")]
        for mark in MARKS
    }
    return places | {"free station F1": FREE}


def tables(read):
    return {
        "job.toml": kept("mill_job.toml"),
        "stations.csv": stations(),
        "control.csv": control(),
        "set_ups.csv": set_ups(),
        "instruments.csv": instruments([INSTRUMENT]),
        "total_station.csv": total_station(STATIONS, INSTRUMENT, read, SEED, AIR),
        "levels.csv": levels(LINES, "LV1", "S7 S8", read),
    }


def stations():
    columns = "station mark_kind status description access_note"
    rows = [[mark[name] for name in columns.split()] for mark in MARKS]
    return table(columns, rows, "Invented marks of an invented mill yard.")


def control():
    rows = []
    for mark in MARKS:
        if mark["station"] not in CONTROL:
            continue
        plan, height, *sds = CONTROL[mark["station"]]
        rows.append(
            [
                mark["station"],
                plan,
                height,
                mark["north_m"] if plan else "",
                mark["east_m"] if plan else "",
                mark["height_m"] if height else "",
                *sds,
                "sd",
                "site register, sheet 2 (invented)",
                "2026-01-12",
            ]
        )
    header = (
        "station use_plan use_height north_m east_m height_m sd_north_mm sd_east_mm "
        "sd_height_mm stated_at source source_date"
    )
    return table(header, rows)


def set_ups():
    header = (
        "set_up station support start_utc stop_utc observer instrument height_m "
        "reading measured_to forced_centring"
    )
    rows = set_up_rows(STATIONS, ON_TRIPODS, INSTRUMENT)
    return table(header, [[row.get(k, "") for k in header.split()] for row in rows])
