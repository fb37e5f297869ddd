"""Tables as text, and readings as they are booked."""

import csv
import io
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent


def table(header, rows, comment=""):
    """Return a table as text; ``header`` has its columns parted by blanks."""
    out = io.StringIO()
    if comment:
        out.write(f"# {comment}\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header.split())
    writer.writerows(rows)
    return out.getvalue()


def kept(name):
    """Return a text that is kept beside this program."""
    return (HERE / name).read_text("utf-8")


def kept_rows(name):
    """Return the rows of a kept table as dicts."""
    return list(csv.DictReader(kept(name).splitlines()))


def dms(angle):
    """Return an angle as degrees, minutes, seconds to 0.1″."""
    tenths = round(float(np.degrees(angle)) % 360 * 36000) % 12960000
    minutes, seconds = divmod(tenths, 600)
    return f"{minutes // 60} {minutes % 60:02d} {seconds / 10:04.1f}"


def span(start, minutes):
    """Return start and end of some work, in UTC."""
    begin = datetime.fromisoformat(start)
    end = begin + timedelta(minutes=minutes)
    return [f"{moment:%Y-%m-%dT%H:%M}:00Z" for moment in (begin, end)]
