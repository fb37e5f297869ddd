"""Decisions that change what job.toml states: multipliers of groups, and criteria."""

from dataclasses import replace
from typing import Any

from .cell_changes import Refused
from .decisions import Decision
from .job import Group, Job
from .spelling import nearest


def with_multiplier(job: Job, decision: Decision) -> Job:
    """Return the job with other multipliers of a group's standard deviations.

    Raises
    ------
    Refused
    """
    if decision.about_kind != "group" or not decision.about:
        raise Refused("group as the kind of thing, and its name", _MULTIPLIER)
    old = job.groups.get(decision.about, Group())
    factors = {"plan": old.sd_multiplier_plan, "height": old.sd_multiplier_height}
    for part in decision.value.replace(",", " ").split():
        name, _, text = part.partition("=")
        try:
            factor = float(text)
        except ValueError:
            factor = float("nan")
        if name not in factors or not 0 < factor < 1e4:
            raise Refused("plan=FACTOR height=FACTOR as the value", _MULTIPLIER)
        factors[name] = factor
    if not decision.value.strip():
        raise Refused("plan=FACTOR height=FACTOR as the value", _MULTIPLIER)
    group = replace(
        old,
        sd_multiplier_plan=factors["plan"],
        sd_multiplier_height=factors["height"],
    )
    groups = {**job.groups, decision.about: group}
    return replace(job, groups=groups)


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
