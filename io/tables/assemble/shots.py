"""topo/*.csv: shots become columns, each with the set-up or service it came from."""

import numpy as np

from ....networks.covariances import Bools, Floats, Ints
from ....networks.findings import Finding
from ....networks.network import Network
from ....networks.observations import Names
from ....networks.shots import Labels, Shots, TopoOptions, labels
from ..job import Job
from ..spelling import nearest
from ..table import Table
from .bases import Stood, job_bases
from .stated import stated_frames
from .surroundings import Surroundings


def build_shots(
    table: Table, around: Surroundings, findings: list[Finding]
) -> tuple[Shots, Stood]:
    """Return the shots of a job, and the set-ups that they name.

    Parameters
    ----------
    table : Table
        All of topo/ but constructions and checks.
    around : Surroundings
    findings : list of Finding
        Every fault and query is added here.

    Returns
    -------
    shots : Shots
    stood : Stood
        The set-ups, as ``Bases`` and as booked.
    """
    options = around.job.topo
    stated_frames(table, around.job.frame, findings, epochs=True)
    height, above = _heights(table, around.network, findings)
    service = labels(table.word("network_service"))
    stood = job_bases(table, around, findings)
    _unattached(table, service, findings)
    length = table.number("pole_length")
    length = np.where(np.isnan(length), table.number("antenna_height"), length)
    tilt = table.number("tilt")
    coordinates = np.stack(
        [table.number("east"), table.number("north"), height], axis=1
    )
    shots = Shots(
        name=tuple(table.word("shot")),
        code=labels(table.word("code")),
        line=labels(table.word("line")),
        coordinates=coordinates,
        above_geoid=above,
        base=stood.of_row,
        base_booked=tuple(table.word("set_up")),
        service=service,
        station=_stations(table, around, findings),
        repeats=_repeats(table, findings),
        record=np.nan_to_num(table.number("record")).astype(np.int64),
        initialisation=labels(table.word("initialisation")),
        start=table.instant("start"),
        sd=_sds(table, options),
        sky=labels(table.word("sky")),
        support=labels(table.word("support")),
        sd_hold=_held(table, around.job, findings),
        length=length,
        tilt=np.nan_to_num(tilt),
        azimuth=table.number("tilt_azimuth"),
        sd_tilt=_or(table.number("sd_tilt"), options.sd_tilt),
        sd_azimuth=_or(table.number("sd_tilt_azimuth"), options.sd_azimuth),
        surface=np.asarray(table.word("surface") != "no", dtype=bool),
        file=tuple(table.file),
        row=table.row,
    )
    return shots, stood


def no_shots() -> Shots:
    """Return the shots of a job that has polar ones alone."""
    zero, whole = np.zeros(0), np.zeros(0, dtype=np.int64)
    none, never = labels(()), np.zeros(0, dtype="datetime64[ms]")
    no = np.zeros(0, dtype=bool)
    three = np.zeros((0, 3))
    return Shots(
        (), none, none, three, no, whole, (), none, whole, whole, whole, none, never,
        three, none, none, np.zeros((0, 2)), zero, zero, zero, zero, zero, no, (),
        whole,
    )  # fmt: skip


def _or(values: Floats, otherwise: float | None) -> Floats:
    if otherwise is None:
        return values
    return np.where(np.isnan(values), otherwise, values)


def _sds(table: Table, options: TopoOptions) -> Floats:
    """Return (n, 3) sd east, north, up as stated by row or job, m."""
    plan = options.sd_plan
    return np.stack(
        [
            _or(table.number("sd_east"), plan),
            _or(table.number("sd_north"), plan),
            _or(table.number("sd_height"), options.sd_height),
        ],
        axis=1,
    )


def _heights(
    table: Table, network: Network, findings: list[Finding]
) -> tuple[Floats, Bools]:
    """Return heights, and whether each is above the geoid or of the site."""
    ellipsoidal = table.number("ellipsoidal_height")
    height = table.number("height")
    site = network.frame.kind == "local"
    has = np.isfinite(height)
    if not site and network.undulations is None and has.any():
        findings.append(
            table.finding_of(
                "geoid-not-stated",
                "fault",
                np.flatnonzero(has),
                "shots with height_m",
                table.header.get("height", "height_m"),
                "heights above a height datum",
                against='a job with geoid = "none" has ellipsoidal heights',
                mend="head the column ellipsoidal_height_m if that is what they are, "
                'or state the geoid: [frame] geoid = "table"',
            )
        )
    only = ~has & np.isfinite(ellipsoidal)
    if only.any() and has.any():
        findings.append(
            table.finding_of(
                "shot-heights-mixed",
                "fault",
                np.flatnonzero(only),
                "shots with an ellipsoidal height alone",
                table.header.get("ellipsoidal_height", "ellipsoidal_height_m"),
                f"{int(has.sum())} other shots have height_m",
                against="one kind of height for all shots of a job",
                mend="write height_m for all of them, or ellipsoidal_height_m",
            )
        )
    return np.where(has, height, ellipsoidal), has


def _stations(table: Table, around: Surroundings, findings: list[Finding]) -> Ints:
    """Return the mark of each check shot; a name that nothing knows is a fault."""
    words = table.word("station")
    found = np.full(len(table), -1, dtype=np.int64)
    for i in np.flatnonzero(words != "").tolist():
        found[i] = around.mark.get(words[i], -1)
        if found[i] < 0:
            near = nearest(str(words[i]), tuple(around.mark))
            findings.append(
                table.finding(
                    "unknown-name",
                    "fault",
                    i,
                    ("station",),
                    against="the marks of the job",
                    likely=near,
                    mend="write the mark as in stations.csv; a shot of detail has an "
                    "empty station",
                )
            )
    return found


def _repeats(table: Table, findings: list[Finding]) -> Ints:
    """Return the shot that each one takes again; −1 for none."""
    words = table.word("repeats")
    found = np.full(len(table), -1, dtype=np.int64)
    asked = np.flatnonzero(words != "")
    if not len(asked):
        return found
    number = {name: k for k, name in enumerate(table.word("shot"))}
    for i in asked.tolist():
        found[i] = number.get(words[i], -1)
        if found[i] < 0 or found[i] == i:
            found[i] = -1
            findings.append(
                table.finding(
                    "unknown-shot",
                    "fault",
                    i,
                    ("repeats",),
                    against="another shot of topo/",
                    likely=nearest(str(words[i]), tuple(number)),
                    mend="name the shot that was taken first",
                )
            )
    return found


def _held(table: Table, job: Job, findings: list[Finding]) -> Floats:
    """Return (n, 2) sd of the pole in plan, per axis, and in height, m."""
    support = labels(table.word("support"))
    kinds = job.set_up_kinds
    of_name = []
    for k, name in enumerate(support.names):
        if name in kinds:
            of_name.append((kinds[name].sd_centring, kinds[name].sd_height))
            continue
        of_name.append((np.nan, np.nan))
        findings.append(_no_support(table, support, k, tuple(kinds)))
    of_name.append((0.0, 0.0))
    return np.array(of_name)[support.number]


def _no_support(table: Table, support: Labels, k: int, kinds: Names) -> Finding:
    rows = np.flatnonzero(support.number == k)
    return table.finding(
        "support-not-known",
        "fault",
        int(rows[0]),
        ("support",),
        against=f"one of {', '.join(kinds)}; in {len(rows)} row(s)",
        likely=nearest(support.names[k], kinds),
        mend="say what carried it",
    )


def _unattached(table: Table, service: Labels, findings: list[Finding]) -> None:
    """Tell shots that name two sources."""
    both = table.has("set_up") & (service.number >= 0)
    for i in np.flatnonzero(both).tolist():
        findings.append(
            table.finding(
                "two-sources",
                "fault",
                i,
                ("set_up", "network_service"),
                against="a shot hangs on a base or on a real-time network, not on both",
                mend="empty one of the two cells",
            )
        )
