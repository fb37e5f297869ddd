"""Work that is planned: proposals, drive times and the crew's clock."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from ....networks.errors import InputError
from ....networks.findings import Finding
from ....networks.neighbours import observed_pairs
from ....networks.network import Network
from ..job import Job
from ..job_specifications import specification_of
from ..pairs_file import read_pairs
from ..spelling import nearest
from ..table import Table

_CLOCK = re.compile(r"([01]?\d|2[0-3]):[0-5]\d")
_ALONE = ("position", "second set-up")
"""Kinds of work that one mark is enough for."""


def check_work(
    network: Network, tables: Mapping[str, Table], job: Job
) -> list[Finding]:
    """Return what is wrong with planned work; it never stops an adjustment.

    Except a clock time that is none: like a number that is none, it is a fault.
    """
    found: list[Finding] = []
    names = network.marks.name
    if "proposed" in tables:
        found += _proposed(tables["proposed"], names)
    if "drive_times" in tables:
        found += _driven(tables["drive_times"], names)
    return found + list(_crew(job.crew))


def _proposed(table: Table, names: Sequence[str]) -> Iterator[Finding]:
    known = set(names)
    sessions = [str(name) for name in table.word("session")]
    for i in range(len(table)):
        yield from _marks(table, i, names, known)
        ends = [str(table.word(f"{end}_station")[i]) for end in ("from", "to")]
        kind = str(table.word("kind")[i])
        shared = sessions[i] and sessions.count(sessions[i]) > 1
        if not all(ends) and not (any(ends) and (kind in _ALONE or shared)):
            yield table.finding(
                "proposal-incomplete",
                "query",
                i,
                ("kind", "from_station", "to_station"),
                against=f"a {kind} between two marks" if kind not in _ALONE
                else "the mark it is about",
                mend="fill in the marks; until then it is not considered",
            )  # fmt: skip
        yield from _window(table, i)


def _marks(
    table: Table, i: int, names: Sequence[str], known: set[str]
) -> Iterator[Finding]:
    """Yield a query for each mark that the network does not have."""
    ends = [str(table.word(f"{end}_station")[i]) for end in ("from", "to")]
    for end, name in zip(("from", "to"), ends, strict=True):
        if name and name not in known:
            yield table.finding(
                "proposal-mark",
                "query",
                i,
                (f"{end}_station",),
                against="no mark of the job has this name",
                likely=nearest(name, list(names)),
                mend="name it as in stations.csv; a new mark needs a row there, with "
                "its approximate position. Until then the row is not considered",
            )
    if ends[0] and ends[0] == ends[1]:
        yield table.finding(
            "proposal-mark",
            "query",
            i,
            ("from_station", "to_station"),
            against="two different marks",
            mend="correct one of them; until then the row is not considered",
        )


def _window(table: Table, i: int) -> Iterator[Finding]:
    at = {}
    for word in ("earliest", "latest"):
        text = str(table.word(word)[i])
        if not text:
            continue
        if _CLOCK.fullmatch(text) is None:
            yield table.finding(
                "clock-not-understood",
                "fault",
                i,
                (word,),
                against="a local clock time such as 14:05",
                mend="hours and minutes, parted by a colon",
            )
        else:
            hours, _, minutes = text.partition(":")
            at[word] = 60 * int(hours) + int(minutes)
    own = float(table.number("minutes")[i])
    length = own if own == own else 0.0
    if len(at) == 2 and at["latest"] < at["earliest"] + length:
        yield table.finding(
            "proposal-window",
            "query",
            i,
            ("earliest", "latest", "minutes"),
            against="earliest and the minutes on the marks before latest",
            mend="correct the times; as they stand it can never be done",
        )


def _driven(table: Table, names: Sequence[str]) -> Iterator[Finding]:
    known = set(names)
    for i in range(len(table)):
        for end in ("from", "to"):
            name = str(table.word(f"{end}_station")[i])
            if name and name not in known:
                yield table.finding(
                    "drive-mark",
                    "query",
                    i,
                    (f"{end}_station",),
                    against="no mark of the job has this name",
                    likely=nearest(name, list(names)),
                    mend="name it as in stations.csv; until then the row says nothing",
                )


def _crew(stated: Mapping[str, Any]) -> Iterator[Finding]:
    """Yield a query where the day ends before it starts."""
    start = str(stated.get("start", ""))
    for key in ("sunset", "gate_closes"):
        late = str(stated.get(key, ""))
        if start and late and late <= start:
            yield Finding(
                "crew-times",
                "query",
                f"[crew] {key}",
                file="job.toml",
                booked=late,
                against=f"a time after the start, {start}",
                mend=f"correct [crew] start or {key}; both are local clock times",
            )


def check_specified(folder: Path, network: Network, job: Job) -> list[Finding]:
    """Return what is wrong with the pairs that specifications name.

    Parameters
    ----------
    folder : Path
        The job's.
    network : Network
    job : Job
    """
    found: list[Finding] = []
    for name, values in job.specifications.items():
        pairs = specification_of(name, values).pairs
        if pairs == "adjacent" and not len(observed_pairs(network)):
            found.append(_no_pairs(name, pairs))
        elif pairs not in ("adjacent", "all"):
            found += _of_file(folder, pairs, network)
    return found


def _of_file(folder: Path, pairs: str, network: Network) -> list[Finding]:
    numbers = {mark: k for k, mark in enumerate(network.marks.name)}
    try:
        read_pairs(folder, pairs, numbers)
    except InputError as error:
        # Only the specification cannot be judged: the network can be adjusted.
        return [_asked(one) for one in error.findings]
    return []


def _asked(finding: Finding) -> Finding:
    return replace(finding, verdict="query")


def _no_pairs(name: str, pairs: str) -> Finding:
    return Finding(
        "pairs-none",
        "query",
        f"specification {name}",
        file="job.toml",
        booked=f'pairs = "{pairs}"',
        against="no two marks of this job are such a pair",
        mend="state which pairs: all, adjacent, or a file",
    )
