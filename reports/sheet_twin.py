"""The twin of a field sheet: a table for the figures, which `import` reads back."""

import csv
import io

from .sheet import Sheet

TWIN = (
    "set_up", "station", "support", "session", "start_utc", "stop_utc", "observer",
    "second_person", "receiver", "antenna", "tripod", "height_m", "reading",
    "measured_to", "height_second_reading_ift", "height_after_m", "stamping_read",
    "bubble_after", "photo",
)  # fmt: skip
"""Columns of the twin: those of set_ups.csv that the field fills in."""


def sheet_csv(sheet: Sheet) -> str:
    """Return the twin: a row a set-up, names filled in, the rest left to the field.

    `import --as set_ups` reads it back.
    """
    out = io.StringIO()
    writer = csv.DictWriter(out, TWIN, lineterminator="\n")
    writer.writeheader()
    for job in sheet.jobs:
        for end in () if job.run else job.ends:
            writer.writerow(
                {
                    "set_up": end.set_up,
                    "station": end.station,
                    "support": "target"
                    if job.sighted and not end.instrument
                    else "tripod",
                    "session": f"R{job.number}",
                }
            )
    return out.getvalue()
