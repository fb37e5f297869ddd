"""What the causes of a misfit need from the tables: names, plans, what was booked."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from brasscap.adjust.causes import Labels, Suspects
    from brasscap.adjust.causes.fresh import Candidate
    from brasscap.adjust.causes.parting import Parting
    from brasscap.io.tables.load import Loaded
    from brasscap.io.tables.table import Table
    from brasscap.networks.likeness import Likeness, Named
    from brasscap.networks.likeness_names import HeightBooked
    from brasscap.reports.words_weights import Weighed

_PARTED = 3
"""Groups for which a parting observation is sought."""
_LIKE = 3
"""Likenesses that are told."""
_SINGLE = {"baseline": "baseline", "levelling run": "levelled run"}
"""Proposals of one observation, and what they are called here."""
_HEIGHTS = ("set-up height", "target height")


def labels_of(loaded: "Loaded") -> "Labels":
    """Return the names of instruments, prisms and staffs that the tables book.

    Parameters
    ----------
    loaded : Loaded
    """
    from brasscap.adjust.causes import Labels

    tables = loaded.tables
    instrument: dict[str, str] = {}
    prism: dict[str, str] = {}
    staff: dict[str, str] = {}
    if "total_station" in tables and "set_ups" in tables:
        stood = tables["set_ups"]
        of = dict(zip(stood.word("set_up"), stood.word("instrument"), strict=True))
        rows = tables["total_station"]
        for name, at, seen in zip(
            rows.word("pointing"), rows.word("set_up"), rows.word("prism"), strict=True
        ):
            instrument[str(name)], prism[str(name)] = str(of.get(at, "")), str(seen)
    if "levels" in tables:
        rows = tables["levels"]
        for name, run, pair in zip(
            rows.word("section"), rows.word("run"), rows.word("staff_pair"), strict=True
        ):
            staff[f"{name} {run}".strip()] = staff[str(name)] = str(pair)
    return _of_means(loaded, Labels(instrument, prism, staff))


def _of_means(loaded: "Loaded", labels: "Labels") -> "Labels":
    """Return the labels also under the names of means: "T1-01 + T1-08"."""
    from dataclasses import replace

    instrument, prism = dict(labels.instrument), dict(labels.prism)
    for sights in loaded.network.sights:
        for name in sights.name:
            first = name.split(" + ")[0]
            instrument.setdefault(name, instrument.get(first, ""))
            prism.setdefault(name, prism.get(first, ""))
    return replace(labels, instrument=instrument, prism=prism)


def weighed_of(found: "Suspects", loaded: "Loaded") -> "Weighed":
    """Return standard deviations as they are judged, with the multipliers in force.

    Parameters
    ----------
    found : Suspects
    loaded : Loaded
    """
    from brasscap.adjust.causes.weights import weights
    from brasscap.io.tables.job import Group
    from brasscap.reports.words_weights import Weighed

    made, job = weights(found), loaded.job
    present = {}
    for one in made.components.component:
        kind, name = one.decided_as
        if kind == "support" and name in job.set_up_kinds:
            its = job.set_up_kinds[name]
            values = {"plan": its.multiplier_plan, "height": its.multiplier_height}
        else:
            group = job.groups.get(name, Group())
            apart = group.sd_multiplier_distance
            values = {
                "plan": group.sd_multiplier_plan,
                "height": group.sd_multiplier_height,
                "distance": group.sd_multiplier_plan if apart is None else apart,
            }
        present[kind, name, one.part] = values[one.part]
    return Weighed(made, present, not job.who)


def parted(found: "Suspects", loaded: "Loaded") -> "dict[int, Parting]":
    """Return the observation that parts the causes of a group best, by group.

    One that proposed.csv has comes first where it parts them; else the best of any to
    a neighbouring mark.

    Parameters
    ----------
    found : Suspects
    loaded : Loaded
    """
    from brasscap.adjust.causes.fresh import candidates_near
    from brasscap.adjust.causes.parting import best_parting

    proposed = proposals(found, loaded)
    made = {}
    for n, group in enumerate(found.groups[:_PARTED]):
        if len(group.members) < 2 or not found.test[group.members[0]] > 1:
            continue
        pair = (
            int(found.number[group.members[0]]),
            int(found.number[group.members[1]]),
        )
        causes = found.made.causes
        near = candidates_near(
            found.adjustment, [*causes[pair[0]].marks, *causes[pair[1]].marks]
        )
        best = None
        for some in (proposed, near):
            one = best_parting(found.adjustment, found.made, found.joint, pair, some)
            if one is not None and (best is None or best.after < 1 < one.after):
                best = one
        if best is not None:
            made[n] = best
    return made


def proposals(found: "Suspects", loaded: "Loaded") -> "list[Candidate]":
    """Return the vectors, runs, rounds and second set-ups of proposed.csv.

    Parameters
    ----------
    found : Suspects
    loaded : Loaded
    """
    from dataclasses import replace

    import numpy as np

    from brasscap.adjust.causes.fresh import Candidate, again_from, usual_sds

    table = loaded.tables.get("proposed")
    if table is None:
        return []
    usual = usual_sds(found.adjustment)
    marks = found.adjustment.network.marks.name
    made = []
    for i in np.flatnonzero(table.word("blocked") == "").tolist():
        kind, name = (str(table.word(column)[i]) for column in ("kind", "proposal"))
        start, end = (str(table.word(f"{end}_station")[i]) for end in ("from", "to"))
        minutes = float(table.number("minutes")[i])
        if kind in ("second set-up", "total-station round") and start in marks:
            again = again_from(found.adjustment, marks.index(start), kind, name)
            made += [replace(one, minutes=minutes) for one in again]
        if kind not in _SINGLE or start not in marks or end not in marks:
            continue
        plan, height = (
            _expected(loaded, i, f"sd_{way}", its)
            for way, its in zip(("plan", "height"), usual, strict=True)
        )
        both = marks.index(start), marks.index(end)
        if height > 0 and (kind == "levelling run" or plan > 0):
            made.append(Candidate(name, _SINGLE[kind], *both, plan, height, minutes))
    return made


def _expected(loaded: "Loaded", row: int, column: str, usual: float) -> float:
    """Return an expected sd, m: the row's, else of job.toml, else the job's usual."""
    table = loaded.tables["proposed"]
    own = float(table.number(column)[row])
    if own == own:
        return own
    stated = loaded.job.planned.get(str(table.word("kind")[row]), {})
    return stated.get(f"{column}_mm", usual * 1000) / 1000


def likeness_of(found: "Suspects", loaded: "Loaded") -> "tuple[Likeness, ...]":
    """Return what the size of the first cause is like; nothing where it is in order.

    Parameters
    ----------
    found : Suspects
    loaded : Loaded
    """
    import numpy as np

    from brasscap.networks.likeness import likenesses

    if not len(found) or not found.test[0] > 1:
        return ()
    # A wrong unit has its ratio for a size: its twin has the length.
    if found.kind[0] == "set-up on wrong mark":
        return _wrong_mark(found)
    members = found.groups[0].members
    k = next((m for m in members if found.kind[m] != "unit"), 0)
    if len(found.size[k]) != 1 or (k and found.kind[0] != "unit"):
        return ()
    names = _names(found, loaded, k)
    variance = np.diag(found.sd_size[k] ** 2)
    return likenesses(found.size[k], variance, names)[:_LIKE] if names else ()


def _names(found: "Suspects", loaded: "Loaded", k: int) -> "list[Named]":
    """Return the named sizes that a listed cause could have, by its kind."""
    from brasscap.networks.likeness_names import (
        distance_names,
        height_names,
        known_height_names,
    )

    kind, network = found.kind[k], loaded.network
    name = found.about[k][0] if found.about[k] else ""
    if kind in _HEIGHTS:
        booked = _height(name, loaded)
        return height_names(booked) if booked else []
    if kind == "prism constant":
        return distance_names(float("nan"))
    if kind == "known mark height":
        row = [network.marks.name[m] for m in network.known.mark].index(name)
        height = network.frame.heights(network.known.xyz[row : row + 1])
        return known_height_names(float(height[0]), float("nan"))
    if network.levels is not None and name in network.levels.name:
        rise = float(network.levels.rise[network.levels.name.index(name)])
        return _rise_names(rise, _asked_of_feet(loaded, name))
    for sights in network.sights:
        if "distance" in sights.kind and name in sights.name:
            return distance_names(float(sights.value[sights.name.index(name)]))
    return []


def _rise_names(rise: float, query: str) -> "list[Named]":
    """Return the sizes that a wrong rise has a name for, with the query about it."""
    from brasscap.networks.likeness import one_value
    from brasscap.networks.likeness_names import FOOT

    asked = f" (query {query} asks it)" if query else ""
    return [
        one_value(f"a rise in feet booked as metres{asked}", rise * (1 - FOOT)),
        one_value("a rise in metres booked as feet", rise * (1 - 1 / FOOT)),
        one_value("a rise with the wrong sign", 2 * rise),
    ]


def _asked_of_feet(loaded: "Loaded", name: str) -> str:
    """Return the open query whether a levelled run was read in feet; empty for none."""
    # A finding's mend names the run as decisions and observations do.
    asked = (
        finding.query
        for finding in loaded.findings
        if finding.slug == "rise-looks-like-feet"
        and finding.is_open
        and f"'{name}'" in finding.mend
    )
    return next(asked, "")


def _wrong_mark(found: "Suspects") -> "tuple[Likeness, ...]":
    """Return on which mark a set-up stood, and how near it comes to it in plan."""
    from dataclasses import replace

    import numpy as np

    from brasscap.adjust.causes.standing import NEAR, marks_with
    from brasscap.networks.likeness import likenesses
    from brasscap.networks.likeness_names import other_mark_names

    size = found.size[0][:2]
    if not np.isfinite(size).all():
        return ()
    mark = found.cause[0].marks[0]
    adjustment = found.adjustment
    places = marks_with(adjustment, found.made, found.joint, int(found.number[0]))
    plan = ((places - places[mark]) @ adjustment.nodes.axes[mark].T)[:, :2]
    others = [k for k in range(len(plan)) if k != mark and np.isfinite(plan[k]).all()]
    marks = [adjustment.network.marks.name[k] for k in others]
    far = len(others)
    named = other_mark_names(plan[mark], plan[others], marks, far)
    variance = np.diag(found.sd_size[0][:2] ** 2)
    tried = [replace(one, sd=NEAR / 3) for one in named]
    return likenesses(size, variance, tried)[:1]


def _height(name: str, loaded: "Loaded") -> "HeightBooked | None":
    """Return what is booked of the height of a set-up; None where nothing is."""
    from brasscap.networks.likeness_names import HeightBooked

    table, set_ups = loaded.tables.get("set_ups"), loaded.network.set_ups
    rows = [] if table is None else table.word("set_up").tolist()
    if table is None or name not in rows or name not in set_ups.name:
        return _target_height(name, loaded)
    i = rows.index(name)
    reduced = float(set_ups.height[set_ups.name.index(name)])
    read = float(table.number("height")[i])
    less = read - reduced
    radius, offset = _antenna(str(table.word("antenna")[i]), loaded)
    return HeightBooked(
        read,
        reduced,
        str(table.booked["height"][i]),
        _unit(table, "height"),
        float(table.number("height_second_reading")[i]) - less,
        float(table.number("height_after")[i]) - less,
        _unit(table, "height_second_reading") * 0.0005,
        str(table.word("reading")[i]) == "slant",
        radius,
        offset,
    )


def _target_height(name: str, loaded: "Loaded") -> "HeightBooked | None":
    """Return the booked height of a target that has no set-up in the tables."""
    from brasscap.networks.likeness_names import HeightBooked

    table = loaded.tables.get("total_station")
    if table is None or not name.startswith("target "):
        return None
    mark, _, at = name.removeprefix("target ").rpartition(" from ")
    for i in range(len(table)):
        seen = (str(table.word("target_station")[i]), str(table.word("set_up")[i]))
        if seen == (mark, at):
            read = float(table.number("target_height")[i])
            text = str(table.booked["target_height"][i])
            return HeightBooked(read, read, text, _unit(table, "target_height"))
    return None


def _unit(table: "Table", column: str) -> float:
    """Return the metres in one of the unit that a column is booked in."""
    from brasscap.networks.units import UNITS

    unit = table.header.get(column, "").rpartition("_")[2]
    return float(UNITS[unit].factor) if unit in UNITS else 1.0


def _antenna(name: str, loaded: "Loaded") -> tuple[float, float]:
    """Return slant radius and offset of an antenna, m; NaN where not booked."""
    table = loaded.tables.get("antennas")
    if table is None or name not in table.word("antenna").tolist():
        return float("nan"), float("nan")
    i = table.word("antenna").tolist().index(name)
    return float(table.number("slant_radius")[i]), float(table.number("offset")[i])
