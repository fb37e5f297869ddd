"""Cormorant Landing: its marks, its frame, and what was booked wrongly there."""

from sheets import kept_rows

from brasscap.networks import GeodeticFrame
from brasscap.networks.simulate import Blunder

SEED = 20260311
FRAME = GeodeticFrame(7843, 2020.0, 7853)
# 1.617 m on the tape, 1.671 m in the book: two digits changed places. The second
# reading, 5.305 international feet, has it right.
PLANTED = Blunder("set-up height", "S3-ICE", (0.0, 0.0, 0.054))

ROWS = kept_rows("harbour_marks.csv")
# Short name, name, north, east, ellipsoidal height (m).
MARKS = [
    (
        row["short"],
        row["station"],
        *(float(row[k]) for k in ("north_m", "east_m", "ellipsoidal_height_m")),
    )
    for row in ROWS
]
NAME = {mark[0]: mark[1] for mark in MARKS}
