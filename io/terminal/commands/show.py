"""``show``: all about one mark, pair, set-up, tripod, session, shot or observation."""

from typing import TYPE_CHECKING, Any

from brasscap.arguments import Command, Option, Request, nearest, wrong

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.adjust.precision import Pair
    from brasscap.answer import Answer
    from brasscap.progress import Progress
    from brasscap.reports.document import Document
    from brasscap.reports.heading import Heading
    from brasscap.reports.judged import Judged

KINDS = (
    "mark",
    "pair",
    "set-up",
    "tripod",
    "session",
    "known mark",
    "shot",
    "observation",
    "baseline",
    "position",
    "direction",
    "angle",
    "azimuth",
    "zenith angle",
    "slope distance",
    "horizontal distance",
    "level difference",
)
"""What can be shown; kinds of observation as in the JSON."""

COMMAND = Command(
    "KIND NAME | pair NAME NAME",
    2,
    3,
    (
        Option(
            "--datum",
            "the solution that is looked at; constrained if not said",
            "MODE",
            False,
            ("minimal", "constrained", "free"),
        ),
    ),
    KINDS,
    "brasscap show pair T103 T106",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Show one thing; nothing is changed or written."""
    from brasscap.answer import Answer, code_of, verdicts_of
    from brasscap.reports.judged import judge
    from brasscap.steps import adjusted, head, read_job

    kind, *names = request.words
    if len(names) != (2 if kind == "pair" else 1):
        words = "NAME NAME" if kind == "pair" else "NAME"
        raise wrong(f"show {kind} takes {words}; quote a name that has blanks in it")
    loaded = read_job(request, progress)
    mode = request.values.get("datum", "constrained")
    made = adjusted(request, loaded, mode, progress, keep=False)
    heading = head(request, loaded)
    if kind == "shot":
        from brasscap.topo_showing import show_shot

        document, data = show_shot(loaded, made.adjustment, names[0], heading)
        return Answer(document, data, code_of(verdicts_of(document), 0, request.strict))
    judged = judge(made.adjustment)
    document, data = _shown(judged, kind, names, heading)
    code = code_of(verdicts_of(document), 0, request.strict)
    return Answer(document, data, code)


def _shown(
    judged: "Judged", kind: str, names: list[str], heading: "Heading"
) -> "tuple[Document, dict[str, Any]]":
    from brasscap.reports import content_show, content_show_observation
    from brasscap.reports.content_show_groups import show_session
    from brasscap.reports.objects import pair_object
    from brasscap.reports.objects_show import show_object

    if kind == "pair":
        pair = _pair(judged.adjustment, *names)
        sentence = content_show.pair_sentence(judged, pair, heading.units)
        document = content_show.show_pair(judged, pair, heading)
        return document, pair_object(judged, pair, sentence)
    shown = {
        "mark": content_show.show_mark,
        "baseline": content_show_observation.show_baseline,
        "set-up": content_show.show_set_up,
        "tripod": _tripod,
        "session": show_session,
        "known mark": _known_mark,
        "position": content_show_observation.show_position,
        "observation": content_show_observation.show_observation,
    }
    if kind in shown:
        made = shown[kind](judged, names[0], heading)
    else:
        made = content_show_observation.show_readings(judged, kind, names[0], heading)
    return made, show_object(judged, kind, names[0])


def _tripod(judged: "Judged", name: str, heading: "Heading") -> "Document":
    from brasscap.adjust.judge import hypotheses
    from brasscap.adjust.judge.external import reliability
    from brasscap.reports.content_show_groups import show_tripod

    of_tripods = hypotheses.equipment(judged.adjustment, "tripod")
    hidden = reliability(judged.adjustment, of_tripods)
    return show_tripod(judged, name, heading, hidden)


def _known_mark(judged: "Judged", name: str, heading: "Heading") -> "Document":
    from brasscap.adjust.judge.control import control
    from brasscap.reports.content_show_groups import show_known_mark

    found = control(judged.adjustment, about=name)
    return show_known_mark(judged, name, heading, found)


def _pair(adjustment: "Adjustment", first: str, second: str) -> "Pair":
    from brasscap.adjust.precision import pair

    known = adjustment.network.marks.name
    for name in (first, second):
        if name not in known:
            raise wrong(f"show pair: there is no mark {name!r}{nearest(name, known)}")
    if first == second:
        raise wrong(f"show pair: {first} twice; name two marks")
    return pair(adjustment, first, second)
