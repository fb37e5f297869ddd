"""The crew that job.toml and the command line state, and what is taken for granted."""

from typing import TYPE_CHECKING

from brasscap.arguments import Request, nearest, wrong
from brasscap.networks import Finding, InputError

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.design.crew import Crew
    from brasscap.io.tables.load import Loaded


def crew_of(
    request: Request, loaded: "Loaded", adjustment: "Adjustment"
) -> "tuple[Crew, tuple[str, ...]]":
    """Return the crew, and what was taken for granted of it.

    Raises
    ------
    CommandError
        An option that is no number, a mark that is not there, a day without hours.
    """
    from brasscap.adjust.design.crew import Crew
    from brasscap.driving import DETOUR, SPEED_KM_H
    from brasscap.networks.clock import minutes_of

    stated, assumed = loaded.job.crew, []

    def given(key: str, otherwise: float, said: str) -> float:
        if key in stated:
            return float(stated[key])
        assumed.append(said)
        return otherwise

    start = _start(request)
    if start is None:
        start = minutes_of(str(stated.get("start", "08:00")))
        if "start" not in stated:
            assumed.append("start at 08:00")
    hours = _number(request, "hours")
    hours = given("hours", 4.0, "4 hours") if hours is None else hours
    receivers = _number(request, "receivers")
    if receivers is None:
        receivers = given("receivers", 2, "2 receivers")
    people = int(given("people", 2, "2 people"))
    vehicles = int(stated.get("vehicles", people))
    late = {
        key: minutes_of(str(stated[key])) if key in stated else float("inf")
        for key in ("sunset", "gate_closes")
    }
    for key, at in late.items():
        if at <= start:
            raise InputError([_too_early(key, str(stated[key]), start)])
    if "detour_factor" not in stated:
        assumed.append(f"roads {DETOUR:g} × the straight line")
    if "drive_speed_km_h" not in stated:
        assumed.append(f"{SPEED_KM_H:g} km/h")
    set_up = given("set_up_min", 15.0, "15 min a set-up")
    home = _home(request, adjustment)
    crew = Crew(
        int(receivers), min(vehicles, people), start, start + 60 * hours,
        late["sunset"], late["gate_closes"], set_up, home, people,
    )  # fmt: skip
    return crew, tuple(assumed)


def _too_early(key: str, clock: str, start: float) -> Finding:
    from brasscap.networks.clock import clock_of

    return Finding(
        "crew-times",
        "fault",
        f"[crew] {key}",
        file="job.toml",
        booked=clock,
        against=f"a time after the start, {clock_of(start)}",
        mend=f"correct [crew] start or {key}; both are local clock times",
    )


def _start(request: Request) -> float | None:
    from re import fullmatch

    from brasscap.networks.clock import minutes_of

    text = request.values.get("start")
    if text is None:
        return None
    if not fullmatch(r"([01]?\d|2[0-3]):[0-5]\d", text):
        raise wrong(f"--start {text}: a local clock time, such as 14:00")
    return minutes_of(text)


def _number(request: Request, key: str) -> float | None:
    text = request.values.get(key)
    if text is None:
        return None
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not 0 < value < 1000:
        raise wrong(f"--{key} {text}: a number above 0")
    return value


def _home(request: Request, adjustment: "Adjustment") -> int:
    name, names = request.values.get("from"), adjustment.network.marks.name
    if name is None:
        return -1
    if name not in names:
        raise wrong(f"--from {name}: no such mark{nearest(name, names)}")
    return names.index(name)
