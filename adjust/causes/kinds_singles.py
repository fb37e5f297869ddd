"""Causes in single observations: a vector, a position, a reading, a levelled run."""

from collections.abc import Iterator

import numpy as np

from ..judge.names import about, names
from .cause import Cause, together
from .field import Field

_ANGLES = ("direction", "angle", "azimuth", "zenith angle")


def observations(field: Field) -> Iterator[Cause]:
    """Yield each observation by itself, as it was booked.

    Set-ups and known marks are causes of their own.
    """
    for kind in field.kinds:
        if kind in ("set-up", "known mark"):
            continue
        used = np.array(sorted(field.looked_at(kind)), dtype=np.int64)
        said = about(field.network, kind, used)
        for edge, name, words in zip(
            used.tolist(), names(field.network, kind, used), said, strict=True
        ):
            yield Cause(
                "observation",
                (name,),
                f"{kind} {words}",
                _measure(kind),
                *together([field.rows.edge(kind, edge)]),
                marks=_ends(field, kind, edge),
            )


def _measure(kind: str) -> str:
    if kind in ("baseline", "position"):
        return "enu"
    if kind == "parameter":
        return "own"
    return "rad" if kind in _ANGLES else "m"


def _ends(field: Field, kind: str, edge: int) -> tuple[int, ...]:
    places = len(field.adjustment.nodes.xyz)
    node = field.kinds[kind].node[edge]
    real = node[(node >= 0) & (node < places)]
    return tuple(dict.fromkeys(field.network.mark_of(real).tolist()))


def runs(field: Field) -> Iterator[Cause]:
    """Yield sections levelled out and back with one error, and the staffs' scale."""
    levels = field.network.levels
    if levels is None:
        return
    used = np.flatnonzero(field.used("level difference"))
    sections: dict[str, list[int]] = {}
    for edge in used.tolist():
        section = levels.name[edge].removesuffix(" out").removesuffix(" back")
        sections.setdefault(section, []).append(edge)
    for section, edges in sections.items():
        if len(edges) < 2:
            continue
        start = levels.start[edges[0]]
        signs = [1.0 if levels.start[edge] == start else -1.0 for edge in edges]
        columns = [field.rows.edge("level difference", edge) for edge in edges]
        ends = _ends(field, "level difference", edges[0])
        marks = " – ".join(field.network.marks.name[mark] for mark in ends)
        yield Cause(
            "levelled run",
            (section,),
            f"all runs of section {section} ({marks}) alike",
            "m",
            *together(columns, signs),
            marks=ends,
        )
    yield from _staff_scales(field, used.tolist())


def _staff_scales(field: Field, used: list[int]) -> Iterator[Cause]:
    levels = field.network.levels
    if levels is None:
        return
    pairs: dict[str, list[int]] = {}
    for edge in used:
        pairs.setdefault(field.labels.staff.get(levels.name[edge], ""), []).append(edge)
    for pair, edges in pairs.items():
        columns = [field.rows.edge("level difference", edge) for edge in edges]
        said = f"scale of staffs {pair}" if pair else "scale of the staffs, all runs"
        # Adjusted rises: booked ones hold the misfit itself, which a scale of all
        # runs would then explain by making every run zero.
        off = field.kinds["level difference"].misclosure[edges, 0]
        rises = levels.rise[edges] - off
        if np.any(rises):
            parts = together(columns, rises)
            yield Cause("staff scale", (pair,) if pair else (), said, "ratio", *parts)
