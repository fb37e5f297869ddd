"""Cormorant Landing: vectors, a total-station traverse and levels in one network."""

import numpy as np
from harbour_marks import FRAME, MARKS, NAME, PLANTED, ROWS, SEED
from harbour_vectors import (
    SHARED,
    antennas,
    baselines,
    covariances,
    occupations,
)
from harbour_vectors import set_up_rows as vector_set_ups
from sheets import kept, table
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

__all__ = ["FRAME", "PLANTED", "SEED", "tables", "truth"]

HELD = {"SIG": (3, 3, 6), "SHED": (4, 4, 8), "PIL": (4, 4, 8)}  # sds, mm

INSTRUMENT = Instrument("TS2", "61120", 1.5, 2.0, 1.0, 1.5, "2025-11-19", -2.2, 5.1)
AIR = ["round prism 1", -34.4, "yes", 19, 1014, "yes"]
# Targets on tripods that stay where they are: name, mark, height, tripod.
ON_TRIPODS = [
    ("P-DOCK", "DOCK", "1.604", SHARED),
    ("P-SLIP", "SLIP", "1.537", "SLIPWAY tripod"),
    ("P-ICE", "ICE", "1.489", "ICE HOUSE tripod"),
]


def tripod_target(short):
    mark, height = next(row[1:3] for row in ON_TRIPODS if row[1] == short)
    return Target(NAME[mark], float(height), f"P-{short}")


def pole(short, height):
    return Target(NAME[short], height)


STATIONS = [
    Station(
        "TS-DOCK", NAME["DOCK"], "1.607", SHARED, "2026-03-11T23:50", "R. Okonedo",
        (
            tripod_target("SLIP"), tripod_target("ICE"), pole("BW1", 1.800),
            pole("RAMP", 1.600),
        ),
    ),
    Station(
        "TS-SLIP", NAME["SLIP"], "1.540", "SLIPWAY tripod", "2026-03-12T01:10",
        "J. Tallow",
        (
            tripod_target("DOCK"), tripod_target("ICE"), pole("LEAD", 1.600),
            pole("BW1", 1.800),
        ),
    ),
    Station(
        "TS-ICE", NAME["ICE"], "1.492", "ICE HOUSE tripod", "2026-03-12T02:25",
        "R. Okonedo",
        (
            tripod_target("SLIP"), tripod_target("DOCK"), pole("LOFT", 1.600),
            pole("LEAD", 1.600),
        ),
    ),
]  # fmt: skip

LINES = [
    Line("V1", NAME["ICE"], NAME["SLIP"], 0.34, 6, "2026-03-12T22:40"),
    Line("V2", NAME["SLIP"], NAME["DOCK"], 0.31, 6, "2026-03-12T23:40"),
    Line("V3", NAME["DOCK"], NAME["ICE"], 0.42, 8, "2026-03-13T00:40"),
    Line("V4", NAME["ICE"], NAME["LOFT"], 0.33, 6, "2026-03-13T02:10"),
    Line("V5", NAME["DOCK"], NAME["RAMP"], 0.63, 11, "2026-03-13T03:15"),
]
# Undulation, m, of an invented geoid that rises gently to the north-east.
GEOID = {
    "ICE": -3.4162,
    "SLIP": -3.4129,
    "DOCK": -3.4171,
    "LOFT": -3.4168,
    "RAMP": -3.4236,
}
SD_UNDULATION_MM = 1.0


def truth():
    """Return every mark with its north, east (grid) and ellipsoidal height, m."""
    return {mark[1]: mark[2:5] for mark in MARKS}


def tables(read):
    return {
        "job.toml": kept("harbour_job.toml"),
        "stations.csv": stations(),
        "control.csv": control(),
        "antennas.csv": antennas(),
        "set_ups.csv": set_ups(),
        "baselines.csv": baselines(read),
        "covariances.csv": covariances(),
        "instruments.csv": instruments([INSTRUMENT]),
        "total_station.csv": total_station(STATIONS, INSTRUMENT, read, SEED, AIR),
        "levels.csv": levels(LINES, "LV2", "S1 S2", read),
        "geoid.csv": geoid(),
        "proposed.csv": proposed(),
    }


def stations():
    columns = "station mark_kind status description access_note sky"
    rows = [[row[name] for name in columns.split()] for row in ROWS]
    return table(columns, rows, "Invented marks of an invented harbour.")


def control():
    rows = [
        [
            name,
            "held",
            "held",
            *(f"{value:.4f}" for value in place),
            *HELD[short],
            "sd",
            7843,
            2020,
            "harbour control register, sheet 4 (invented)",
            "2023-08-14",
        ]
        for short, name, *place in MARKS
        if short in HELD
    ]
    header = (
        "station use_plan use_height north_m east_m ellipsoidal_height_m sd_north_mm "
        "sd_east_mm sd_height_mm stated_at frame_epsg epoch_year source source_date"
    )
    return table(header, rows)


def set_ups():
    rows = vector_set_ups(occupations(np.random.default_rng(SEED)))
    targets = [(name, NAME[mark], *rest) for name, mark, *rest in ON_TRIPODS]
    rows += set_up_rows(STATIONS, targets, INSTRUMENT)
    header = (
        "set_up station support session start_utc stop_utc observer receiver antenna "
        "instrument tripod height_m reading measured_to height_second_reading_ift "
        "height_after_m stamping_read bubble_after forced_centring"
    )
    return table(header, [[row.get(k, "") for k in header.split()] for row in rows])


def geoid():
    rows = [
        [NAME[short], f"{value:.4f}", SD_UNDULATION_MM, "invented model", "invented"]
        for short, value in GEOID.items()
    ]
    header = "station undulation_m sd_undulation_mm model source"
    return table(header, rows)


def proposed():
    onto = "a second vector to a mark that hangs on one"
    quiet = "after the fork-lifts"
    rows = [
        ["P1", "baseline", "DUNE TRACK", "BOAT RAMP", 45, "", "", onto],
        ["P2", "baseline", "DUNE TRACK", "FISH DOCK", 45, "", "", ""],
        ["P3", "baseline", "ICE HOUSE", "NET LOFT", 45, "12:30", "", quiet],
        ["P4", "baseline", "SLIPWAY", "BREAKWATER 1", 45, "", "", ""],
    ]
    header = "proposal kind from_station to_station minutes earliest latest note"
    return table(header, rows)
