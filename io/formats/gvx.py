"""GVX 1.0: GNSS vectors with their correlations, session by session.

The exchange format of the US National Geodetic Survey (schema GVX 1.0, public). It
fixes metres, decimal degrees, GPS time, and vectors from mark to mark in geocentric
axes. The nine figures of a block of correlations run row by row, rows being the
components of the vector named VECTOR_ID_ROW: the schema is silent, and no other
reading gives the covariance of the sample that was made from a known solution.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

import numpy as np

from ...networks import Finding, InputError
from ...networks.covariances import Floats
from .xml_nodes import Node, read_xml

_DELTAS = ("DX", "DY", "DZ")
_SDS = ("SDX", "SDY", "SDZ")
_CORRELATIONS = ("PXY", "PXZ", "PYZ")
_PLACE = ((0, 1), (0, 2), (1, 2))


@dataclass(frozen=True, slots=True)
class GvxVectors:
    """The vectors of a GVX file, one row each, n rows."""

    file: str
    frame: str
    """As the file names it."""
    name: tuple[str, ...]
    session: tuple[str, ...]
    start: tuple[str, ...]
    """Names of the marks."""
    end: tuple[str, ...]
    delta: Floats
    """(n, 3) m, end minus start."""
    sd: Floats
    """(n, 3) m."""
    correlation: Floats
    """(n, 3, 3)."""
    cross: dict[tuple[int, int], Floats]
    """Two rows to their (3, 3) block of correlations."""
    antenna_height: Floats
    """(n, 2) m, of the reference point above the mark, at start and end."""
    epoch: Floats
    """(n,) decimal year of the start's coordinates; NaN without."""
    times: tuple[tuple[str, str], ...]
    """First and last epoch, GPS time, as booked."""
    leap_seconds: tuple[int, ...]
    """GPS minus UTC as the file says; −1 where it does not."""
    solution: tuple[str, ...]
    processor: tuple[str, ...]

    def covariance(self) -> Floats:
        """Return the covariance of all vectors, (3n, 3n) m², x y z each."""
        n = len(self.name)
        full = np.zeros((n, 3, n, 3))
        full[np.arange(n), :, np.arange(n)] = self.correlation
        for (i, j), block in self.cross.items():
            full[i, :, j], full[j, :, i] = block, block.T
        sd = self.sd.ravel()
        return np.asarray(full.reshape(3 * n, 3 * n) * np.outer(sd, sd))


def read_gvx(path: Path) -> GvxVectors:
    """Return the vectors of a GVX file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    GvxVectors

    Raises
    ------
    InputError
        With every fault of the file, and its line.
    OSError
        It cannot be read.
    """
    return parse_gvx(path.read_bytes(), path.name)


def parse_gvx(content: bytes, file: str) -> GvxVectors:
    """Return the vectors that the content of a GVX file holds.

    Parameters
    ----------
    content : bytes
    file : str
        Name for messages.

    Returns
    -------
    GvxVectors

    Raises
    ------
    InputError
        With every fault of the file.
    """
    root = read_xml(content, file)
    if root.tag != "GVX":
        raise InputError([_fault(file, root, f"root element {root.tag}", "GVX")])
    faults: list[Finding] = []
    points = {point.said("ID"): point for point in root.all("POINT")}
    vectors = root.all("GNSS_VECTOR")
    row = {vector.said("ID"): i for i, vector in enumerate(vectors)}
    _check(root, vectors, row, points, file, faults)
    if faults:
        raise InputError(faults)
    made = _vectors(root, vectors, points, file)
    cross, session = _sessions(root, row, made.session, file, faults)
    if faults:
        raise InputError(faults)
    from dataclasses import replace

    whole = replace(made, cross=cross, session=session)
    _check_positive(whole, vectors, faults)
    if faults:
        raise InputError(faults)
    return whole


def _check(
    root: Node,
    vectors: Sequence[Node],
    row: dict[str, int],
    points: dict[str, Node],
    file: str,
    faults: list[Finding],
) -> None:
    """Add what is wrong with single vectors: names, points, numbers, units."""
    for system in root.all("REFERENCE_SYSTEM"):
        unit = system.said("LINEAR_UNIT/NAME")
        if unit not in ("meters", "metres"):
            faults.append(_fault(file, system, f"LINEAR_UNIT {unit}", "meters"))
    if not vectors:
        faults.append(_fault(file, root, "no GNSS_VECTOR", "at least one"))
    for i, vector in enumerate(vectors):
        name = vector.said("ID")
        if not name or row[name] != i:
            faults.append(_fault(file, vector, f"ID {name!r}", "a name of its own"))
        for end in ("INITIAL_POINT_ID", "TERMINAL_POINT_ID"):
            if vector.said(end) not in points:
                said = f"{end} {vector.said(end)!r}"
                faults.append(_fault(file, vector, said, "the ID of a POINT"))
        needed = [f"ECEF_DELTAS/{key}" for key in _DELTAS]
        needed += [f"CORRELATION_MATRIX/{key}" for key in (*_SDS, *_CORRELATIONS)]
        for key in needed:
            if not isfinite(_number(vector, key)):
                said = f"{key} {vector.said(key) or 'missing'}"
                faults.append(_fault(file, vector, said, "a decimal number"))


def _vectors(
    root: Node, vectors: Sequence[Node], points: dict[str, Node], file: str
) -> GvxVectors:
    """Return the vectors without what they have in common."""
    ends = [
        [points[v.said(f"{end}_POINT_ID")] for end in ("INITIAL", "TERMINAL")]
        for v in vectors
    ]
    setups = {setup.said("ID"): setup for setup in root.all("SURVEY_SETUP")}
    used = [setups.get(v.said("SURVEY_SETUP_ID"), Node("", 0)) for v in vectors]
    systems = [system.said("NAME") for system in root.all("REFERENCE_SYSTEM")]
    leap = [v.said("OBSERVATION_TIME/LEAP_SECONDS") for v in vectors]
    return GvxVectors(
        file=file,
        frame=", ".join(dict.fromkeys(systems)),
        name=tuple(v.said("ID") for v in vectors),
        session=("",) * len(vectors),
        start=tuple(_mark(start) for start, _ in ends),
        end=tuple(_mark(end) for _, end in ends),
        delta=_numbers(vectors, [f"ECEF_DELTAS/{key}" for key in _DELTAS]),
        sd=_numbers(vectors, [f"CORRELATION_MATRIX/{key}" for key in _SDS]),
        correlation=np.array([_correlation(v) for v in vectors]),
        cross={},
        antenna_height=np.array(
            [[_number(point, "ARP_HEIGHT") for point in pair] for pair in ends]
        ),
        epoch=np.array([_number(start, "COORDINATES/EPOCH") for start, _ in ends]),
        times=tuple(
            (v.said("OBSERVATION_TIME/START"), v.said("OBSERVATION_TIME/END"))
            for v in vectors
        ),
        leap_seconds=tuple(int(text) if text.isdigit() else -1 for text in leap),
        solution=tuple(setup.said("SOLUTION_TYPE") for setup in used),
        processor=tuple(
            " ".join(
                filter(
                    None,
                    (
                        setup.said("PROCESSING_SOFTWARE/NAME"),
                        setup.said("PROCESSING_SOFTWARE/VERSION"),
                    ),
                )
            )
            for setup in used
        ),
    )


def _mark(point: Node) -> str:
    return point.said("NAME") or point.said("ID")


def _correlation(vector: Node) -> Floats:
    made = np.eye(3)
    for (a, b), key in zip(_PLACE, _CORRELATIONS, strict=True):
        made[a, b] = made[b, a] = _number(vector, f"CORRELATION_MATRIX/{key}")
    return made


def _sessions(
    root: Node,
    row: dict[str, int],
    unnamed: tuple[str, ...],
    file: str,
    faults: list[Finding],
) -> tuple[dict[tuple[int, int], Floats], tuple[str, ...]]:
    """Return the blocks between vectors, and each vector's session.

    A vector that no block names belongs to the only session of the file, if there is
    one; else it stands alone.
    """
    cross: dict[tuple[int, int], Floats] = {}
    session = list(unnamed)
    sessions = root.all("SESSION")
    for one in sessions:
        inside: set[int] = set()
        blocks = one.find("CROSS_CORRELATION_MATRIX")
        for block in blocks.all("CCM_BLOCK") if blocks else ():
            names = [block.attributes.get(f"VECTOR_ID_{k}", "") for k in ("ROW", "COL")]
            matrix = _block(block)
            if any(name not in row for name in names) or names[0] == names[1]:
                said = f"block of {names[0]!r} and {names[1]!r}"
                faults.append(_fault(file, block, said, "two vectors of the file"))
            elif matrix is None:
                said = f"CORRELATIONS of {names[0]} and {names[1]}"
                faults.append(_fault(file, block, said, "nine numbers, commas between"))
            else:
                i, j = row[names[0]], row[names[1]]
                cross[min(i, j), max(i, j)] = matrix if i < j else matrix.T
                inside |= {i, j}
        for i in inside:
            session[i] = one.attributes.get("ID", "")
        _count(one, len(inside), cross, inside, file, faults)
    if len(sessions) == 1:
        session = [sessions[0].attributes.get("ID", "") for _ in session]
    return cross, tuple(session)


def _block(block: Node) -> Floats | None:
    try:
        made = np.array([float(x) for x in block.said("CORRELATIONS").split(",")])
    except ValueError:
        return None
    sound = len(made) == 9 and bool((np.abs(made) <= 1).all())
    return made.reshape(3, 3) if sound else None


def _count(
    one: Node,
    vectors: int,
    cross: dict[tuple[int, int], Floats],
    inside: set[int],
    file: str,
    faults: list[Finding],
) -> None:
    """Add a fault where a session lacks blocks: half a covariance is none."""
    blocks = sum(i in inside and j in inside for i, j in cross)
    wanted = vectors * (vectors - 1) // 2
    total = one.attributes.get("TOTAL_VECTORS", "")
    if blocks != wanted or (vectors and total.isdigit() and int(total) != vectors):
        said = f"{blocks} blocks over {vectors} vectors, TOTAL_VECTORS {total}"
        against = "n(n − 1)/2 blocks of the n vectors of the session"
        faults.append(_fault(file, one, said, against))


def _check_positive(
    made: GvxVectors, nodes: Sequence[Node], faults: list[Finding]
) -> None:
    """Add a fault for each session whose correlations belong to no covariance."""
    for name in dict.fromkeys(made.session):
        rows = [i for i, own in enumerate(made.session) if own == name]
        groups = [[i] for i in rows] if not name else [rows]
        for group in groups:
            at = [3 * i + axis for i in group for axis in range(3)]
            sd = made.sd.ravel()[at]
            if (sd <= 0).any():
                faults.append(_fault(made.file, nodes[group[0]], "sd of 0", "over 0"))
                continue
            matrix = made.covariance()[np.ix_(at, at)] / np.outer(sd, sd)
            least = float(np.linalg.eigvalsh(matrix)[0])
            if least <= 0:
                what = f"session {name}" if name else made.name[group[0]]
                said = f"correlations of {what}: smallest eigenvalue {least:.2e}"
                faults.append(_fault(made.file, nodes[group[0]], said, "over 0"))


def _numbers(nodes: Sequence[Node], paths: Sequence[str]) -> Floats:
    return np.array([[_number(node, path) for path in paths] for node in nodes])


def _number(node: Node, path: str) -> float:
    try:
        return float(node.said(path))
    except ValueError:
        return float("nan")


def _fault(file: str, node: Node, booked: str, against: str) -> Finding:
    name = node.said("ID") or node.attributes.get("ID", "")
    return Finding(
        "not-gvx",
        "fault",
        f"{node.tag.lower().replace('_', ' ')} {name}".strip(),
        file=file,
        line=node.line,
        booked=booked,
        against=against,
        mend="write the file anew where it comes from; nothing was imported",
    )
