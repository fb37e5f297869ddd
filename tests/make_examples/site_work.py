"""Total station and level: who stood where, and the tables that follow from it."""

from typing import NamedTuple

import numpy as np
from sheets import dms, span, table

ARCSEC = np.pi / 180 / 3600


class Target(NamedTuple):
    """What a pointing goes to: a set-up of its own, or a mark and a height (m)."""

    mark: str
    height: float
    set_up: str = ""


class Station(NamedTuple):
    """One set-up of the instrument; without a mark it is a free station."""

    name: str
    mark: str
    height: str
    """As booked, m; empty for a free station."""
    tripod: str
    """Name of the set-up of the tripod, where instrument and target change places."""
    start: str
    observer: str
    targets: tuple[Target, ...]


class Instrument(NamedTuple):
    """A total station and what it is worth."""

    name: str
    serial: str
    direction: float
    """Standard deviation of the mean of two faces, arcsec."""
    zenith: float
    constant: float
    """mm."""
    ppm: float
    calibrated: str
    collimation: float
    """arcsec; half of face 2 less face 1."""
    index: float
    """arcsec; the same of the vertical circle."""


def instruments(some):
    rows = [
        [i.name, i.serial, i.direction, i.zenith, i.constant, i.ppm, i.calibrated]
        for i in some
    ]
    header = (
        "instrument serial sd_direction_arcsec sd_zenith_arcsec sd_distance_mm "
        "sd_distance_ppm calibrated"
    )
    return table(header, rows)


def total_station(stations, instrument, read, seed, air):
    """Return the pointings: two rounds, each forward in face 1 and back in face 2.

    A reading is the mean that was simulated, parted into two faces by collimation,
    index error and the noise of one face.
    """
    random = np.random.default_rng([seed, 1000])
    rows = []
    for station in stations:
        for one_round in (1, 2):
            rows += one_round_of(station, one_round, instrument, read, random, air)
    header = (
        "pointing set_up target_set_up target_station target_height_m round face "
        "direction_dms zenith_dms slope_distance_m prism prism_constant_mm "
        "prism_constant_applied temperature_degC pressure_hPa atmosphere_applied"
    )
    return table(header, rows)


def one_round_of(station, one_round, instrument, read, random, air):
    count = len(station.targets)
    first = (one_round - 1) * 2 * count
    names = [f"{station.name}-{first + k + 1:02d}" for k in range(2 * count)]
    forward, backward = [], []
    for k, target in enumerate(station.targets):
        pair = names[k], names[-1 - k]
        mean = [read(kind, " + ".join(pair)) for kind in KINDS]
        half = halves(mean[2], instrument, random)
        faces = faces_of(mean, half)
        for face, name, booked, into in (
            (1, pair[0], faces[0], forward),
            (2, pair[1], faces[1], backward),
        ):
            into.append(
                [name, station.name, *named(target), one_round, face, *booked, *air]
            )
    return forward + backward[::-1]


KINDS = ("direction", "zenith angle", "slope distance")


def halves(distance, instrument, random):
    """Return half of face 2 less face 1: direction, zenith angle (rad), distance (m).

    Half of a distance's error is taken as common to both faces: prism, air, scale.
    """
    sd = np.array([instrument.direction, instrument.zenith]) * ARCSEC
    error = np.array([instrument.collimation, instrument.index]) * ARCSEC
    circles = error + random.standard_normal(2) * sd
    worth = np.hypot(instrument.constant / 1000, instrument.ppm * 1e-6 * distance)
    return *circles, random.standard_normal() * worth / 2


def faces_of(mean, half):
    """Return direction, zenith angle and distance as booked in face 1 and face 2."""
    (direction, zenith, distance), (c, i, d) = mean, half
    return (
        [dms(direction - c), dms(zenith - i), f"{distance - d:.4f}"],
        [
            dms(direction + c + np.pi),
            dms(2 * np.pi - zenith - i),
            f"{distance + d:.4f}",
        ],
    )


def named(target):
    if target.set_up:
        return [target.set_up, "", ""]
    return ["", target.mark, f"{target.height:.3f}"]


def set_up_rows(stations, targets, instrument, minutes=40):
    """Return rows of set_ups.csv by column: instruments, and targets on tripods.

    Parameters
    ----------
    stations : sequence of Station
    targets : sequence of tuple of str
        Name, mark, height as booked, tripod.
    instrument : Instrument
    """
    rows = []
    for s in stations:
        start, stop = span(s.start, minutes)
        rows.append(
            {
                "set_up": s.name,
                "station": s.mark,
                "support": "tripod",
                "start_utc": start,
                "stop_utc": stop,
                "observer": s.observer,
                "instrument": instrument.name,
                "height_m": s.height,
                "reading": "vertical" if s.height else "",
                "measured_to": "reference point" if s.height else "",
                "forced_centring": s.tripod,
            }
        )
    for name, mark, height, tripod in targets:
        rows.append(
            {
                "set_up": name,
                "station": mark,
                "support": "tripod",
                "height_m": height,
                "reading": "vertical",
                "measured_to": "reference point",
                "forced_centring": tripod,
            }
        )
    return rows


class Line(NamedTuple):
    """A levelled line."""

    section: str
    start: str
    end: str
    length_km: float
    set_ups: int
    day: str
    """Start of the way out, UTC."""
    runs: tuple[str, ...] = ("out", "back")


def levels(lines, level, staffs, read):
    """Return the levelled runs; the way back is booked from its own start."""
    rows = []
    for line in lines:
        for k, run in enumerate(line.runs):
            name = line.section if run == "single" else f"{line.section} {run}"
            ends = [line.start, line.end]
            rise = read("level difference", name)
            begin, _ = span(line.day, 0)
            _, later = span(line.day, 25)
            rows.append(
                [
                    line.section,
                    *(ends[::-1] if run == "back" else ends),
                    f"{rise:.4f}",
                    run,
                    line.length_km,
                    line.set_ups,
                    level,
                    staffs,
                    later if k else begin,
                ]
            )
    header = (
        "section from_station to_station rise_m run length_km set_ups_count "
        "instrument staff_pair start_utc"
    )
    return table(header, rows)
