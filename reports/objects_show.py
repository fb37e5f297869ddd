"""One thing of a solution as a plain object for JSON."""

from math import degrees

from .content_readings import ANGLES, ends_of, readings_of, value_of
from .content_show import family_of
from .content_show_groups import members
from .content_show_observation import readings_named
from .judged import Judged
from .objects import marks_objects
from .objects_figures import ANGLE, POSITION, Object, rounded
from .objects_tests import observations_objects


def show_object(judged: Judged, kind: str, name: str) -> Object:
    """Return a mark, set-up or observation as the object of `brasscap/show/1`.

    Parameters
    ----------
    judged : Judged
    kind : str
        ``mark``, ``known mark``, ``set-up``, ``tripod``, ``session``, ``observation``
        or a kind of observation.
    name : str
    """
    made: Object = {
        "schema": "brasscap/show/1",
        "kind": kind,
        "name": name,
        "datum": judged.adjustment.datum.mode,
        "observations": _observations(judged, kind, name),
    }
    if kind in ("mark", "known mark"):
        at = judged.network.marks.name.index(name)
        made["mark"] = marks_objects(judged)[at]
    readings = readings_named(judged, kind, name)
    if readings:
        made["readings"] = [_reading(judged, one, i) for one, i in readings]
    return made


def _observations(judged: Judged, kind: str, name: str) -> list[Object]:
    every = observations_objects(judged)
    if kind in ("session", "tripod"):
        of = members(judged, kind, name)
        return [o for o in every if o["name"] in of.get(family_of(str(o["kind"])), ())]
    return [
        one
        for one in every
        if _is_named(str(one["name"]), name) and _is_of(str(one["kind"]), kind)
    ]


def _is_named(said: str, name: str) -> bool:
    """Return whether a name is meant, or that of a pointing it is the mean of."""
    return name == said or name in said.split(" + ")


def _is_of(of: str, kind: str) -> bool:
    if kind == "observation":
        return not of.startswith(("set-up", "known mark", "parameter"))
    if kind in ("mark", "known mark", "set-up"):
        return of.startswith({"mark": "known mark"}.get(kind, kind))
    return of == kind


def _reading(judged: Judged, kind: str, i: int) -> Object:
    some = readings_of(judged, kind)
    first, *back, last = (judged.network.node_name(n) for n in ends_of(some, i))
    made: Object = {
        "kind": kind,
        "name": some.name[i],
        "at": first,
        "to": last,
        "used": bool(some.used[i]),
        "row": int(some.row[i]),
    }
    if back:
        made["back"] = back[0]
    value = value_of(some, i)
    if kind in ANGLES:
        made["booked_deg"] = rounded(degrees(value), ANGLE)
    else:
        made["booked_m"] = rounded(value, POSITION)
    return made
