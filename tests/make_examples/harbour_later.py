"""Half a year later at the harbour: a known mark revised, and shots taken since.

The register's surveyors occupied GRAIN SHED again, because the quay wants it to 2 mm.
What they give differs by a few millimetres from the old value, within what was stated
of that, and towards the survey. Invented, as all of it.
"""

import csv

import harbour_topo
from harbour_marks import NAME
from harbour_topo import BASE_HEIGHT, SHOTS, Book, adjusted, ground, padded
from sheets import table
from survey import loaded

from brasscap.adjust import estimate

SHIFT = (-0.0031, 0.0012, 0.0061)
"""North, east, height of GRAIN SHED, revised minus before, m."""
SDS_MM = ("2", "2", "4")
SOURCE = (
    "harbour control register, sheet 4 revision 2 (invented): GRAIN SHED occupied "
    "again for two days, because the new quay wants it to 2 mm"
)
BASE = "TOPO-ICE-2"
ROCKS = [(-44.0 + 11.0 * k, 90.5) for k in range(8)]
"""Rock armour along the toe of the bank, laid in August; from the base, m."""


def later(texts):
    """Return the files that came later: name to text."""
    control = revised(texts["control.csv"])
    network = {name: text for name, text in texts.items() if "/" not in name}
    solution = estimate(loaded(network | {"control.csv": control}), "constrained")
    note = "The base of the second visit."
    base = harbour_topo.set_up(
        BASE, "2026-09-08T22:40:00Z", "2026-09-08T23:50:00Z", "1.602", note
    )
    shots = [padded(row, SHOTS) for row in visit(solution)]
    said = "Invented shots, taken on the revised control."
    return {
        "later/control.csv": control,
        "later/set_ups/september.csv": base,
        "later/topo/september.csv": table(SHOTS, shots, said),
    }


def revised(text):
    """Return control.csv with the new row of GRAIN SHED."""
    header, *rows = csv.reader(text.splitlines())
    for row in rows:
        if row[0] != NAME["SHED"]:
            continue
        for column, by in zip(
            ("north_m", "east_m", "ellipsoidal_height_m"), SHIFT, strict=True
        ):
            place = header.index(column)
            row[place] = f"{float(row[place]) + by:.4f}"
        first = header.index("sd_north_mm")
        row[first : first + 3] = SDS_MM
        row[-2:] = [SOURCE, "2026-08-21"]
    return table(" ".join(header), rows, "Takes the place of control.csv.")


def visit(solution):
    """Return the shots of the second visit: two on known marks, then the rocks."""
    book = Book(adjusted(solution, "ICE"), stream=9, first=401)
    always = {"set_up": BASE, "record": 2}

    def said(minute):
        return always | {"start_utc": f"2026-09-08T22:{minute}:00Z"}

    for short, sky in (("LOFT", "open"), ("SLIP", "wall")):
        place = adjusted(solution, short) - book.base + [0, 0, BASE_HEIGHT]
        more = {"station": NAME[short], "sky": sky, "surface": "no"}
        book.shot(place, "check", "I1", **more, **said(50 + len(book.rows)))
    for east, north in ROCKS:
        place = (east, north, ground(east, north) + 0.4)
        more = {"surface": "no", **said(50 + len(book.rows))}
        book.shot(place, "rock armour", "I1", **more)
    return [row | {"initialisation": "J1"} for row in book.rows]
