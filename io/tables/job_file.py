"""job.toml read: a key that is not known, or a value that cannot be, is a fault."""

import math
import re
from collections.abc import Callable, Iterator, Mapping
from datetime import time
from functools import partial
from pathlib import Path
from typing import Any

from ...networks.findings import Finding
from .job import SET_UP_KINDS, Job
from .job_keys import LOG_MINUTES, NAMED_SECTIONS, SECTIONS, TRANSFORMATION, Key
from .job_lines import Lines, fault_at
from .job_sections import job_of
from .job_specifications import specification_faults
from .spelling import nearest
from .toml_text import parse_toml

FILE = "job.toml"

Values = Mapping[str, Any]
Fault = Callable[..., Finding]


def read_job(
    content: bytes | None, folder: Path = Path()
) -> tuple[Job | None, list[Finding]]:
    r"""Return what job.toml states, and everything wrong with it.

    Parameters
    ----------
    content : bytes or None
        None where there is no job.toml.
    folder : Path
        Where a geoid file would be.

    Returns
    -------
    job : Job or None
        None if there is a fault.
    findings : list of Finding

    Examples
    --------
    >>> job, findings = read_job(b'schema = 1\n[frame]\nkind = "locl"\n')
    >>> [(f.slug, f.line, f.likely) for f in findings]
    [('word-not-known', 3, 'local')]
    """
    if content is None:
        return None, [_no_job()]
    values, text, fault = parse_toml(content, FILE)
    if values is None:
        return None, fault
    findings = [*_check(values, Lines(text))]
    if any(finding.verdict == "fault" for finding in findings):
        return None, findings
    return job_of(values), findings


def _no_job() -> Finding:
    return Finding(
        "job-missing",
        "fault",
        FILE,
        file=FILE,
        booked="no such file",
        against="job.toml states the frame, the epoch and the tests",
        mend="make a folder by  brasscap new DIR --kind site",
    )


def _check(values: Values, lines: Lines) -> Iterator[Finding]:
    fault = partial(fault_at, lines)
    known = ["schema", *SECTIONS, *NAMED_SECTIONS]
    if "schema" not in values:
        yield fault(
            "key-missing", "schema", against="schema = 1", mend="add schema = 1"
        )
    for name, value in values.items():
        if name not in known:
            yield _unknown(fault, name, known, "section")
        elif name == "schema":
            if type(value) is not int or value != 1:
                yield fault(
                    "schema-not-known",
                    name,
                    value,
                    "schema = 1",
                    mend="use the version of brasscap that wrote this job",
                )
        elif not isinstance(value, dict):
            yield fault(
                "wrong-type", name, value, "a section", mend=f"write [{name}] above it"
            )
        elif name in SECTIONS:
            yield from _section(fault, name, value)
        else:
            yield from _named(fault, name, value)
    yield from _frame(fault, values.get("frame"))
    yield from specification_faults(fault, values.get("spec"))


def _unknown(fault: Fault, path: str, known: list[str], what: str) -> Finding:
    key = path.rpartition(".")[2]
    near = nearest(key, known)
    return fault(
        f"unknown-{what}",
        path,
        key,
        "one of: " + ", ".join(known),
        near,
        f"write {near}, or take it out" if near else "take it out",
    )


def _section(fault: Fault, name: str, values: Values) -> Iterator[Finding]:
    keys = SECTIONS[name]
    for key, value in values.items():
        path = f"{name}.{key}"
        if name == "crew" and key == "log_min" and isinstance(value, dict):
            for kind, minutes in value.items():
                yield from _value(fault, f"{path}.{kind}", minutes, LOG_MINUTES)
        elif key not in keys:
            yield _unknown(fault, path, list(keys), "key")
        else:
            yield from _value(fault, path, value, keys[key])


def _named(fault: Fault, name: str, values: Values) -> Iterator[Finding]:
    keys = NAMED_SECTIONS[name]
    for given, section in values.items():
        path = f"{name}.{given}"
        if name == "set_up" and given == "none":
            yield from _value(fault, path, section, Key("flag", ""))
        elif name == "set_up" and given not in SET_UP_KINDS:
            yield _unknown(fault, path, [*SET_UP_KINDS, "none"], "key")
        elif not isinstance(section, dict):
            yield fault(
                "wrong-type",
                path,
                section,
                f"a section [{name}.NAME]",
                mend=f"write [{name}.{given}] and its keys below it",
            )
        else:
            for key, value in section.items():
                if key not in keys:
                    yield _unknown(fault, f"{path}.{key}", list(keys), "key")
                else:
                    yield from _value(fault, f"{path}.{key}", value, keys[key])


_CLOCK = r"([01]\d|2[0-3]):[0-5]\d"

_TYPES: Mapping[str, tuple[str, Callable[[Any], bool]]] = {
    "text": ("a text in quotation marks", lambda v: isinstance(v, str)),
    "flag": ("true or false", lambda v: isinstance(v, bool)),
    "whole": ("a whole number", lambda v: type(v) is int),
    "number": ("a number", lambda v: type(v) in (int, float)),
    "clock": (
        'a time of day: "14:00"',
        lambda v: (
            isinstance(v, time)
            or (isinstance(v, str) and re.fullmatch(_CLOCK, v) is not None)
        ),
    ),
    "tables": (
        "a list: [{from_epsg = …, from_epoch = …, operation = …}]",
        lambda v: isinstance(v, list) and all(isinstance(item, dict) for item in v),
    ),
}


def _value(fault: Fault, path: str, value: Any, key: Key) -> Iterator[Finding]:
    words, fits = _TYPES[key.kind]
    if not fits(value):
        yield fault("wrong-type", path, repr(value), words, mend=f"write {words}")
    elif "ift" in key.choices and value in ("ft", "feet", "foot"):
        against = "ift (0.3048 m) or sft (1200/3937 m); they differ by 2 ppm"
        mend = 'name the foot: "ift" or "sft"'
        yield fault("foot-not-named", path, value, against, mend=mend)
    elif key.choices and value not in key.choices:
        near = nearest(value, key.choices)
        mend = f'write "{near}"' if near else "use one of these words"
        against = "one of: " + ", ".join(key.choices)
        yield fault("word-not-known", path, value, against, near, mend)
    elif key.kind in ("number", "whole") and not _inside(value, key):
        yield fault(
            "out-of-range", path, value, _limits(key), mend="compare with the source"
        )
    elif key.kind == "tables":
        for table in value:
            yield from _transformation(fault, path, table)


def _inside(value: float, key: Key) -> bool:
    if abs(value) > 1e9 or math.isnan(value):
        return False
    if key.above:
        return key.low < value < key.high
    return key.low <= value <= key.high


def _limits(key: Key) -> str:
    if key.above:
        return f"above {key.low:g} and below {key.high:g}"
    if key.high == float("inf"):
        return f"not below {key.low:g}" if key.low > float("-inf") else "at most 1e9"
    return f"between {key.low:g} and {key.high:g}"


def _transformation(fault: Fault, path: str, table: Values) -> Iterator[Finding]:
    for key, value in table.items():
        if key not in TRANSFORMATION:
            yield _unknown(fault, f"{path}.{key}", list(TRANSFORMATION), "key")
        else:
            yield from _value(fault, f"{path}.{key}", value, TRANSFORMATION[key])
    for key in ("from_epsg", "operation"):
        if key not in table:
            yield _lacking(fault, f"{path}.{key}", TRANSFORMATION[key].says)


def _lacking(fault: Fault, path: str, says: str) -> Finding:
    section, _, key = path.rpartition(".")
    return fault(
        "key-missing",
        path,
        "",
        f"{key}: {says}",
        mend=f"add {key} = … in [{section}]",
    )


_GEODETIC_ONLY = ("geographic_epsg", "epoch", "grid_epsg", "combined_factor")
_LOCAL_ONLY = (
    "earth",
    "latitude_deg",
    "reference_height_m",
    "origin_latitude_deg",
    "origin_north_m",
)


def _frame(fault: Fault, frame: object) -> Iterator[Finding]:
    """Yield what the kind of frame needs and has not, or has and cannot use."""
    if not isinstance(frame, dict) or "kind" not in frame:
        yield _lacking(fault, "frame.kind", "geodetic or local")
        return
    kind = frame["kind"]
    needed: list[str] = []
    if kind == "geodetic":
        needed = ["geographic_epsg", "epoch"]
    elif kind == "local" and frame.get("earth") == "curved":
        needed = ["latitude_deg", "reference_height_m"]
    if frame.get("geoid", "none") not in ("none", "table"):
        needed.append("geoid_sd_mm")
    for pair in (
        ("origin_latitude_deg", "origin_longitude_deg"),
        ("origin_north_m", "origin_east_m"),
        ("combined_factor_origin_north_m", "combined_factor_origin_east_m"),
    ):
        needed += pair if any(key in frame for key in pair) else ()
    for key in needed:
        if key not in frame:
            yield _lacking(fault, f"frame.{key}", SECTIONS["frame"][key].says)
    other = {"geodetic": _LOCAL_ONLY, "local": _GEODETIC_ONLY}
    for key in other.get(kind, ()) if isinstance(kind, str) else ():
        if key in frame:
            yield fault(
                "key-without-effect",
                f"frame.{key}",
                frame[key],
                f"a {kind} frame does not use it",
                mend="take it out, or state the other kind of frame",
                verdict="query",
            )
