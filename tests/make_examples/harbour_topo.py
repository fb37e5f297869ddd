"""A topographic day at the harbour: a tidal sluice behind the ice house.

Everything is invented, and drawn from a fixed seed. East and north are counted from
the base over ICE HOUSE. What was wrong on that day: initialisation I2 fixed its
ambiguities 0.24 m too high; one pole leaned more than is wise; one shot of the bank's
toe was taken on its crest, so that top and toe cross.
"""

import numpy as np
from harbour_marks import NAME, SEED
from sheets import dms, table
from survey import loaded

from brasscap.adjust import estimate
from brasscap.adjust.precision import orthometric_heights

BASE = "TOPO-ICE"
HUMP = 0.24
"""m, how much too high initialisation I2 came out."""
WORSE = 2.2
"""What the scrub does to the noise that the receiver states."""
OPEN_MM, WALL_MM, SCRUB_MM = (8, 8, 15), (9, 9, 18), (11, 11, 21)
POLE, FACE = 2.0, np.radians(22.0)

# Corners of the pump house, walls of the sluice, east and north of the base, m.
HOUSE = {"H1": (40.0, 55.0), "H2": (52.0, 55.0), "H3": (52.0, 63.5), "H4": (40.0, 63.5)}
WINGS = {
    "W1": (-6.0, 74.0), "W2": (-2.6, 79.1), "W3": (2.6, 79.1), "W4": (6.0, 74.0),
}  # fmt: skip
BASE_HEIGHT = 8.3219
"""m above the geoid, where ICE HOUSE truly is: heights below are above the geoid."""
GATE = (0.0, 82.0)
"""A corner of the sluice gate that no pole reaches: tied, and shot by total station."""
STARTS = {
    "I1": "22:30", "I2": "23:20", "I3": "00:05", "I4": "00:50", "I5": "02:00",
    "I6": "03:10",
}  # fmt: skip


def ground(east, north):
    """Return the height of the ground above the geoid, m."""
    crest, toe, foot = 80.0, 88.0, 5.9
    inland = 8.2 + 0.012 * (north - 40) + 0.004 * east
    top = 9.05 + 0.001 * east
    beyond = foot - 0.008 * (north - toe) + 0.25 * np.sin(east / 19)
    if north <= crest - 3:
        return inland
    if north <= crest:
        return inland + (top - inland) * (north - crest + 3) / 3
    if north <= toe:
        return top + (foot + 0.25 * np.sin(east / 19) - top) * (north - crest) / 8
    return beyond


class Book:
    """The day's shots, as they are written down."""

    def __init__(self, base, stream=7, first=101):
        self.base, self.rows, self.first = base, [], first
        self.random = np.random.default_rng([SEED, stream])
        self.minutes = dict.fromkeys(STARTS, 0.0)

    def shot(self, place, code, init, **more):
        """Write down a shot of a place: east, north and, off the ground, height."""
        east, north, *height = place
        level = height[0] if height else ground(east, north)
        true = np.array([east, north, level - BASE_HEIGHT])
        sky = more.pop("sky", "open")
        sd = {"scrub": SCRUB_MM, "wall": WALL_MM}.get(sky, OPEN_MM)
        noise = self.random.standard_normal(3) * np.array(sd) / 1000
        noise *= WORSE if sky == "scrub" else 1.0
        noise[2] += HUMP if init == "I2" else 0.0
        read = self.base + true + noise + self.lean(more)
        self.minutes[init] += 0.7
        row = {
            "shot": f"{self.first + len(self.rows)}", "code": code, "sky": sky,
            "north_m": f"{read[1]:.3f}", "east_m": f"{read[0]:.3f}",
            "height_m": f"{read[2]:.3f}", "set_up": BASE, "record": 1,
            "initialisation": init, "start_utc": self.time(init),
            "epochs_count": 5, "support": "pole_bipod",
            "antenna_height_m": f"{POLE:.3f}", "sd_north_mm": sd[1],
            "sd_east_mm": sd[0], "sd_height_mm": sd[2],
            "satellites_count": 9 if sky == "scrub" else 17, **more,
        }  # fmt: skip
        self.rows.append(row)
        return row["shot"]

    def lean(self, more):
        """Return the error of a leaning pole's tip: its heading is 0.9° off all day."""
        if "tilt_deg" not in more:
            return np.zeros(3)
        tilt, azimuth = np.radians([float(more["tilt_deg"]), more["tilt_azimuth_deg"]])
        across = POLE * np.sin(tilt) * np.radians(0.9)
        return across * np.array([np.cos(azimuth), -np.sin(azimuth), 0.0])

    def time(self, init):
        hour, minute = STARTS[init].split(":")
        whole = int(hour) * 60 + int(minute) + int(self.minutes[init])
        day = 16 if int(hour) > 12 and whole < 1440 else 17
        return f"2026-03-{day}T{whole // 60 % 24:02d}:{whole % 60:02d}:00Z"


def topo(texts):
    """Return the files of the topographic day: name to text."""
    control = estimate(loaded(texts), "constrained")
    book = Book(adjusted(control, "ICE"))
    checks(book, control, "I1")
    field(book)
    bank(book)
    scrub(book)
    made, shapes = house(book)
    made += sluice(book) + manholes(book) + tree(book)
    checks(book, control, "I6")
    shots = [padded(row, SHOTS) for row in book.rows]
    return {
        "set_ups/topo.csv": set_up(),
        "total_station/detail.csv": polar(control),
        "topo/sluice.csv": table(SHOTS, shots, "Invented shots of an invented day."),
        "topo/constructions.csv": table(MADE, [padded(row, MADE) for row in made]),
        "topo/checks.csv": table(SHAPES, [padded(row, SHAPES) for row in shapes]),
    }


SHOTS = (
    "shot code line north_m east_m height_m set_up station repeats record "
    "initialisation start_utc epochs_count support antenna_height_m tilt_deg "
    "tilt_azimuth_deg sd_north_mm sd_east_mm sd_height_mm satellites_count sky surface"
)
MADE = (
    "shot kind code line from_shot second_shot third_shot fourth_shot distance_m "
    "second_distance_m side dip_m pipe_m slope_ratio sd_distance_mm sd_dip_mm "
    "sd_pipe_mm sd_slope_ratio"
)
SHAPES = (
    "check kind first_shot second_shot third_shot fourth_shot distance_m "
    "sd_distance_mm sd_built_mm"
)


def padded(row, columns):
    return [row.get(name, "") for name in columns.split()]


def adjusted(control, short):
    """Return grid east, north and height above the geoid of a mark, m."""
    network = control.network
    mark = network.marks.name.index(NAME[short])
    north, east, _ = network.frame.grid(control.nodes.xyz[mark : mark + 1])[0]
    return np.array([east, north, orthometric_heights(control).height[mark]])


def checks(book, control, init):
    """Shots on known marks, at the start and at the end."""
    for short, sky in (("LOFT", "open"), ("SLIP", "wall")):
        place = adjusted(control, short) - book.base + [0, 0, BASE_HEIGHT]
        book.shot(place, "check", init, station=NAME[short], sky=sky, surface="no")


def field(book):
    """The low field beyond the bank, three blocks; a few shots again from others."""
    blocks = {"I1": range(-56, -16, 8), "I2": range(-16, 24, 8), "I3": range(24, 64, 8)}
    named = {}
    for init, easts in blocks.items():
        for east in easts:
            for north in range(92, 132, 8):
                place = (east + 1.5 * np.sin(north), north + 1.3 * np.cos(east))
                named[init, east, north] = place, book.shot(place, "ground", init)
    again = [("I1", -56, 92), ("I1", -40, 108), ("I1", -24, 124), ("I3", 24, 100)]
    again += [("I3", 40, 116), ("I3", 56, 92)]
    for init in ("I4", "I6"):
        for key in again:
            place, shot = named[key]
            book.shot(place, "ground", init, repeats=shot)


def bank(book):
    """The bank: its crest whole, its toe as far as it can be walked."""
    # One shot of the toe was taken on the crest, and so the lines cross.
    for k, east in enumerate(range(-56, 64, 10)):
        init = "I3" if k % 2 else "I4"
        book.shot((east, 80.0), "bank top", init, line="CREST")
    for k, east in enumerate(range(-56, 4, 10)):
        north = 79.2 if k == 4 else 88.0
        book.shot((east, north), "bank toe", "I3", line="TOE")
    for east in range(-52, 60, 14):
        book.shot((east, 60.0 + 0.1 * east), "ground", "I4")
        book.shot((east, 46.0), "ground", "I3")


def scrub(book):
    """Scrub on the landward side: everything twice, from two initialisations."""
    first = []
    for k in range(14):
        place = (-50.0 + 3.1 * k, 66.0 + 2.0 * np.sin(2.1 * k))
        first.append((place, book.shot(place, "bush line", "I4", sky="scrub")))
    for place, shot in first:
        book.shot(place, "bush line", "I5", sky="scrub", repeats=shot)


def house(book):
    """The pump house: every corner twice, the pole leaning opposite ways."""
    made = []
    for k, (name, (east, north)) in enumerate(HOUSE.items()):
        place = (east, north, ground(east, north) + 0.3)
        towards = 45 + 90 * k
        lean = {"tilt_deg": f"{np.degrees(FACE):.1f}", "sky": "wall", "surface": "no"}
        one = book.shot(
            place, "corner", "I5", tilt_azimuth_deg=towards, support="", **lean
        )
        other = book.shot(
            place, "corner", "I6", tilt_azimuth_deg=(towards + 180) % 360, support="",
            repeats=one, **lean,
        )  # fmt: skip
        made.append(
            {"shot": name, "kind": "two leans", "code": "corner", "line": "HOUSE",
             "from_shot": one, "second_shot": other}
        )  # fmt: skip
    book.shot(
        (46.0, 54.6), "door sill", "I5", tilt_deg="38.0", tilt_azimuth_deg=180,
        sky="wall", support="", surface="no",
    )  # fmt: skip
    tape = {"kind": "taped distance", "sd_distance_mm": 5}
    square = {"kind": "right angle", "sd_built_mm": 10}
    shapes = [
        {"check": "front", "first_shot": "H1", "second_shot": "H2",
         "distance_m": "12.004", **tape},
        {"check": "side", "first_shot": "H2", "second_shot": "H3",
         "distance_m": "8.497", **tape},
        {"check": "corner H2", "first_shot": "H1", "second_shot": "H2",
         "third_shot": "H3", **square},
        {"check": "corner H4", "first_shot": "H3", "second_shot": "H4",
         "third_shot": "H1", **square},
        {"check": "front and back", "kind": "parallel", "first_shot": "H1",
         "second_shot": "H2", "third_shot": "H4", "fourth_shot": "H3",
         "sd_built_mm": 15},
    ]  # fmt: skip
    return made, shapes


def sluice(book):
    """The sluice: wing walls, the corner inside them, the gate's corner by ties."""
    shots = {
        name: book.shot((*place, 8.6), "wing wall", "I5", surface="no", sky="wall")
        for name, place in WINGS.items()
    }
    ties = [np.hypot(*np.subtract(GATE, WINGS[name])) for name in ("W1", "W4")]
    return [
        {"shot": "SX", "kind": "inside corner", "code": "wing wall",
         "from_shot": shots["W1"], "second_shot": shots["W2"],
         "third_shot": shots["W4"], "fourth_shot": shots["W3"]},
        {"shot": "GATE-T", "kind": "two ties", "code": "gate", "from_shot": shots["W1"],
         "second_shot": shots["W4"], "distance_m": f"{ties[0] + 0.004:.3f}",
         "second_distance_m": f"{ties[1] - 0.003:.3f}", "side": "left",
         "sd_distance_mm": 6},
        {"shot": "WW5", "kind": "wall line", "code": "wing wall",
         "from_shot": shots["W1"], "second_shot": shots["W2"], "distance_m": "3.250",
         "sd_distance_mm": 5},
    ]  # fmt: skip


def manholes(book):
    """Two manholes on the culvert: rim shots, and dips to invert and to crown."""
    rims = [
        book.shot((east, 70.0, 8.75), "manhole", "I6", surface="no")
        for east in (0.4, 14.2)
    ]
    return [
        {"shot": "INV1", "kind": "dip", "code": "invert", "from_shot": rims[0],
         "dip_m": "2.435", "sd_dip_mm": 8},
        {"shot": "INV2", "kind": "dip", "code": "invert", "from_shot": rims[1],
         "dip_m": "1.810", "pipe_m": "0.450", "sd_dip_mm": 8, "sd_pipe_mm": 5},
    ]  # fmt: skip


def tree(book):
    """A tree by its near side and its girth, and a toe hidden by scrub."""
    near = book.shot((-30.0, 52.0), "tree", "I6")
    far = book.shot((-33.0, 48.0), "ground", "I6")
    top = book.shot((34.0, 80.0), "bank top", "I6")
    behind = book.shot((34.0, 72.0), "ground", "I6")
    return [
        {"shot": "TREE1", "kind": "offset", "code": "tree", "from_shot": near,
         "second_shot": far, "distance_m": "-0.310", "sd_distance_mm": 20},
        {"shot": "TOE-S", "kind": "slope", "code": "bank toe", "from_shot": top,
         "second_shot": behind, "distance_m": "8.000", "slope_ratio": "2.5",
         "sd_distance_mm": 50, "sd_slope_ratio": "0.1"},
    ]  # fmt: skip


def set_up(
    name=BASE,
    start="2026-03-16T22:10:00Z",
    stop="2026-03-17T04:20:00Z",
    height="1.655",
    note="The base of the topographic day.",
):
    row = [
        name, "ICE HOUSE", "tripod", start, stop, "J. Tallow", "R1", "A1", "T1", height,
        "slant", "slant mark", "ICE HOUSE", "in the circle",
    ]  # fmt: skip
    header = (
        "set_up station support start_utc stop_utc observer receiver antenna tripod "
        "height_m reading measured_to stamping_read bubble_after"
    )
    return table(header, [row], note)


def polar(control):
    """Shots of the total station, from the first round of TS-ICE: gate and quay."""
    random = np.random.default_rng([SEED, 8])
    network, nodes = control.network, control.nodes
    node = len(network.marks) + network.set_ups.name.index("ICE HOUSE tripod")
    circle = nodes.values[
        network.parameters.name.index("orientation of TS-ICE, round 1")
    ]
    ice = network.marks.name.index(NAME["ICE"])
    rise = adjusted(control, "ICE")[2] - network.frame.heights(nodes.xyz[[ice]])[0]
    start = nodes.xyz[node] + 1.492 * nodes.axes[node, 2]
    points = {
        "T1": ("gate", (*GATE, 8.9)), "T2": ("quay edge", (18.0, -25.0, 8.05)),
        "T3": ("quay edge", (31.0, -27.5, 8.02)), "T4": ("bollard", (24.5, -27.2, 8.6)),
    }  # fmt: skip
    rows = []
    for name, (code, place) in points.items():
        there = adjusted(control, "ICE") + place - [0, 0, BASE_HEIGHT]
        top = network.frame.place(there[1], there[0], there[2] - rise + 1.5)
        line = nodes.axes[node] @ (top - start)
        slope = float(np.linalg.norm(line))
        bearing = np.arctan2(line[0], line[1]) - circle
        noise = random.standard_normal(3) * [1.5 / 206265, 2.0 / 206265, 0.001]
        zenith = np.arccos(line[2] / slope) + noise[1]
        rows.append(
            [f"TS-{name}", "TS-ICE", "1.500", 1, dms(bearing + noise[0]), dms(zenith),
             f"{slope + noise[2]:.4f}", "round prism 1", "-34.4", "yes", 18, 1014,
             "yes", code, "no"]
        )  # fmt: skip
    header = (
        "pointing set_up target_height_m round direction_dms zenith_dms "
        "slope_distance_m prism prism_constant_mm prism_constant_applied "
        "temperature_degC pressure_hPa atmosphere_applied code surface"
    )
    return table(header, rows, "Shots of detail: their code says so.")
