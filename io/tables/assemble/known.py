"""control.csv: known coordinates, and what they may be used for."""

import numpy as np

from ....networks.covariances import Bools, Covariances, Floats, Ints, clustered
from ....networks.covariances import keep as in_use
from ....networks.findings import Finding
from ....networks.frames import Frame
from ....networks.observations import KnownMarks
from ..table import Table, Words
from .cross import Blocks, Correlations, cross_blocks, in_axes, own_blocks
from .definite import not_positive
from .places import Places, to_cartesian, to_natural
from .uncertainty import note_95, place_covariance, stated_parts


def empty_known() -> KnownMarks:
    """Return a network's known marks where there are none."""
    none, used = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=bool)
    nowhere = np.zeros((0, 3))
    return KnownMarks(none, nowhere, nowhere.astype(bool), (), (), (), (), used, none)


def completed(frame: Frame, places: Places, rough: Floats) -> Floats:
    """Return (n, 3) cartesian positions, completed by the marks' rough positions, m.

    A height alone is put at the mark, and a plan alone at the mark's height; where
    nothing is known, at the middle of what is. Only the known parts are ever used.

    Parameters
    ----------
    frame : Frame
    places : Places
    rough : ndarray, shape (n, 3)
        Rough position of each row's mark, m; NaN where not known.
    """
    natural = places.natural.copy()
    at_marks = to_natural(frame, rough)
    for source in (at_marks, _middle(natural, at_marks)):
        natural = np.where(np.isnan(natural), source, natural)
    whole: Bools = np.all(np.isfinite(places.xyz), axis=1)
    return np.where(whole[:, None], places.xyz, to_cartesian(frame, natural))


def _middle(natural: Floats, rough: Floats) -> Floats:
    """Return one stand-in place: the first that is known, else the origin."""
    stand_in = np.zeros(3)
    for axis in range(3):
        values = np.concatenate([rough[:, axis], natural[:, axis]])
        known = values[np.isfinite(values)]
        stand_in[axis] = known[0] if len(known) else 0.0
    return stand_in


def components(places: Places) -> Bools:
    """Return (n, 3): whether east, north, up are known."""
    height = np.isfinite(places.natural[:, 2])
    return np.stack([places.has_plan, places.has_plan, height], axis=-1)


def build_known(
    table: Table,
    mark: Ints,
    places: Places,
    sd_undulation: Floats,
    frame: Frame,
    rough: Floats,
    correlations: Correlations,
    above_geoid: Bools,
    left_out: Bools,
    findings: list[Finding],
) -> KnownMarks:
    """Return the known marks, with every use that has no ground named.

    Parameters
    ----------
    table : Table
    mark : ndarray of int, shape (n,)
    places : Places
        With ellipsoidal heights.
    sd_undulation : ndarray, shape (n,)
        Added to the height's, m.
    frame : Frame
    rough : ndarray, shape (m, 3)
        Rough positions of the marks, m.
    correlations : Correlations
    above_geoid : ndarray of bool, shape (n,)
        Rows whose height is one above the geoid.
    left_out : ndarray of bool, shape (n,)
    findings : list of Finding
        Extended here.
    """
    known = components(places)
    xyz = completed(frame, places, rough[mark])
    own = place_covariance(table, frame, xyz)
    axes = frame.axes(xyz)
    rows = _rows_by_axis(table, known)
    blocks = cross_blocks(correlations, "control", rows, findings)
    findings.extend(own_blocks(own, blocks, axes, table, level=True))
    plan, height = table.word("use_plan").copy(), table.word("use_height").copy()
    exact = _exact_unstated(own)
    _add_undulation(table, own, height, sd_undulation, findings)
    _uses(table, known, plan, height, findings)
    _without_sd(table, own, known, exact, (plan, height), findings)
    findings.extend(note_95(table))
    keep = np.flatnonzero((mark >= 0) & known.any(axis=1))
    covariances = clusters(keep, own, blocks, axes)
    used = ~left_out[keep]
    findings.extend(not_positive(in_use(covariances, used, 3), table, keep))
    return KnownMarks(
        mark=mark[keep],
        xyz=xyz[keep],
        components=known[keep],
        use_plan=tuple(plan[keep]),
        use_height=tuple(height[keep]),
        covariances=covariances,
        source=tuple(table.word("source")[keep]),
        used=used,
        row=table.row[keep],
        orthometric=above_geoid[keep] if above_geoid[keep].any() else None,
    )


def clusters(keep: Ints, own: Floats, blocks: Blocks, axes: Floats) -> Covariances:
    """Return covariances of the rows kept in east, north, up, with cross blocks."""
    place = {int(i): k for k, i in enumerate(keep)}
    cross = {}
    for (i, j), block in blocks.items():
        if i != j and i in place and j in place:
            turned = in_axes(block, axes[i], axes[j], level=True)
            # What is not given is none: heights alone may be correlated.
            cross[place[i], place[j]] = np.nan_to_num(turned)
    return clustered(own[keep], cross)[0]


def _rows_by_axis(table: Table, known: Bools) -> dict[tuple[str, int], int]:
    rows: dict[tuple[str, int], int] = {}
    for i, name in enumerate(table.word("station")):
        for axis in range(3):
            if name and known[i, axis]:
                rows.setdefault((str(name), axis), i)
    return rows


def _add_undulation(
    table: Table,
    own: Floats,
    use_height: Words,
    sd: Floats,
    findings: list[Finding],
) -> None:
    """Add the undulation's variance to the heights, in place.

    A held orthometric height is then known only as well as the undulation: it becomes
    weighted, and that is said.
    """
    rows = np.flatnonzero(sd > 0)
    softened = rows[use_height[rows] == "held"]
    own[softened, 2, :], own[softened, :, 2] = 0.0, 0.0
    own[rows, 2, 2] += sd[rows] ** 2
    use_height[softened] = "weighted"
    for i in softened.tolist():
        findings.append(
            table.finding(
                "held-height-weighted",
                "note",
                i,
                ("height", "use_height"),
                against=f"the undulation's own standard deviation, "
                f"{sd[i] * 1000:.1f} mm: the ellipsoidal height is weighted with it",
            )
        )


def _uses(
    table: Table,
    known: Bools,
    plan: Words,
    height: Words,
    findings: list[Finding],
) -> None:
    for i in range(len(table)):
        for use, column, axis in ((plan, "use_plan", 0), (height, "use_height", 2)):
            if known[i, axis] and not use[i]:
                findings.append(
                    table.finding(
                        "use-not-stated",
                        "query",
                        i,
                        (column,),
                        against="held, weighted or check-only; until it is answered, "
                        "check-only",
                        mend=f"brasscap decide hold 'known mark "
                        f"{'plan' if axis == 0 else 'height'}' "
                        f"'{table.word('station')[i]}', or weight or check-only in "
                        "the place of hold",
                    )
                )
            elif use[i] in ("held", "weighted") and not known[i, axis]:
                findings.append(
                    table.finding(
                        "use-without-value",
                        "fault",
                        i,
                        (column,),
                        against=f"no {'position' if axis == 0 else 'height'} is booked",
                        mend="book it, or leave the use empty",
                    )
                )


def _exact_unstated(own: Floats) -> Bools:
    """Take standard deviations of 0 for none, in place; return where they were, (n, 3).

    A mark that was held where it comes from is written with sd 0: it may be held again,
    or only compared, but 0 is no weight.
    """
    exact: Bools = np.diagonal(own, axis1=1, axis2=2) == 0
    own[exact[:, :, None] | exact[:, None, :]] = np.nan
    return exact


def _without_sd(
    table: Table,
    own: Floats,
    known: Bools,
    exact: Bools,
    uses: tuple[Words, Words],
    findings: list[Finding],
) -> None:
    """Add the faults of weighted parts without a standard deviation."""
    stated = stated_parts(own)
    names = (("plan", "sd_north, sd_east"), ("height", "sd_height"))
    for part, (word, columns) in enumerate(names):
        weighted: Bools = uses[part] == "weighted"
        weighted = weighted & known[:, 2 * part] & ~stated[:, part]
        columns_here = slice(0, 2) if part == 0 else slice(2, 3)
        zero = np.asarray(exact[:, columns_here].any(axis=1))
        for i in np.flatnonzero(weighted).tolist():
            findings.append(
                table.finding(
                    "sd-is-zero" if zero[i] else "sd-missing",
                    "fault",
                    i,
                    (f"use_{word}", *columns.split(", ")),
                    against=f"{columns} (mm), or a full covariance: a weighted {word} "
                    "has a standard deviation",
                    mend="take it from the source of the coordinates, or hold the "
                    "mark, or make it check-only",
                )
            )
