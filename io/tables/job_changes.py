"""Decisions that change what job.toml states: multipliers of groups, and criteria."""

from dataclasses import replace
from typing import Any

from .cell_changes import Refused
from .decisions import Decision
from .job import Group, Job, SetUpKind
from .spelling import nearest


def with_multiplier(job: Job, decision: Decision) -> Job:
    """Return the job with other multipliers of standard deviations.

    Of a group: of what is booked in its rows. Of a support: of centring and height of
    all its set-ups.

    Raises
    ------
    Refused
    """
    if decision.about_kind == "support":
        return _of_support(job, decision)
    if decision.about_kind != "group" or not decision.about:
        raise Refused("group or support as the kind of thing, and a name", _MULTIPLIER)
    old = job.groups.get(decision.about, Group())
    factors = _factors(decision.value, ("plan", "height", "distance"))
    group = replace(
        old,
        sd_multiplier_plan=factors.get("plan", old.sd_multiplier_plan),
        sd_multiplier_height=factors.get("height", old.sd_multiplier_height),
        sd_multiplier_distance=factors.get("distance", old.sd_multiplier_distance),
    )
    groups = {**job.groups, decision.about: group}
    return replace(job, groups=groups)


def _of_support(job: Job, decision: Decision) -> Job:
    kind = job.set_up_kinds.get(decision.about)
    if kind is None:
        raise Refused(
            f"one of {', '.join(job.set_up_kinds)} as the support",
            "brasscap decide multiplier support tripod 'plan=1.5 height=2'",
            likely=nearest(decision.about, job.set_up_kinds),
        )
    factors = _factors(decision.value, ("plan", "height"))
    new = replace(
        kind,
        multiplier_plan=factors.get("plan", kind.multiplier_plan),
        multiplier_height=factors.get("height", kind.multiplier_height),
    )
    return replace(job, set_up_kinds={**job.set_up_kinds, decision.about: new})


def _factors(value: str, parts: tuple[str, ...]) -> dict[str, float]:
    """Return what a value such as "plan=2 height=3" says of each part.

    Raises
    ------
    Refused
    """
    expected = f"{' '.join(f'{part}=FACTOR' for part in parts)} as the value"
    factors = {}
    for said in value.replace(",", " ").split():
        name, _, text = said.partition("=")
        try:
            factor = float(text)
        except ValueError:
            factor = float("nan")
        if name not in parts or not 0 < factor < 1e4:
            raise Refused(expected, _MULTIPLIER)
        factors[name] = factor
    if not factors:
        raise Refused(expected, _MULTIPLIER)
    return factors


def multiplied(kind: SetUpKind) -> SetUpKind:
    """Return a support with its multipliers in its standard deviations.

    Examples
    --------
    >>> multiplied(SetUpKind(0.001, 0.002, 2.0, 3.0)).sd_height
    0.006
    """
    return SetUpKind(
        kind.sd_centring * kind.multiplier_plan, kind.sd_height * kind.multiplier_height
    )


_MULTIPLIER = "brasscap decide multiplier group NAME 'plan=2 height=3'"

_CRITERIA = {
    "confidence": (),
    "outlier_alpha": (),
    "power": (),
    "ellipses_from": ("larger", "stated", "estimated"),
    "tests_from": ("stated", "estimated"),
}


def with_criterion(job: Job, decision: Decision) -> Job:
    """Return the job with one key of ``[tests]`` changed.

    Raises
    ------
    Refused
    """
    key = decision.about.removeprefix("tests.")
    if key not in _CRITERIA:
        raise Refused(
            f"a key of [tests]: {', '.join(_CRITERIA)}",
            "brasscap decide criteria tests outlier_alpha 0.001",
            likely=nearest(key, _CRITERIA),
        )
    choices = _CRITERIA[key]
    value: float | str = decision.value
    if not choices:
        try:
            value = float(decision.value)
        except ValueError:
            value = 0.0
        if not 0.0 < value < 1.0:
            raise Refused("a probability between 0 and 1", "give it as 0.001")
    elif value not in choices:
        raise Refused(f"one of {', '.join(choices)}", "give one of them as the value")
    changes: dict[str, Any] = {key: value}
    return replace(job, options=replace(job.options, **changes))
