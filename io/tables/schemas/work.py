"""Tables of choices and plans: decisions, proposed, drive times."""

from ..actions import ACTIONS
from ..schema import Column, Schema

DECISIONS = Schema(
    "decisions",
    "decision",
    "decision",
    "every choice with its reason; rows are only ever added",
    (
        Column("decision", "name of the decision", "name"),
        Column("when_utc", "when it was taken"),
        Column("who", "initials", "word"),
        Column("action", "what is done", "word", choices=ACTIONS),
        Column("about_kind", "kind of thing: baseline, set-up, known mark …", "word"),
        Column("about", "its name", "name"),
        Column("value", "what the action needs", "word"),
        Column("reason", "why", "word"),
        Column("evidence", "file kept in evidence/", "word"),
        Column("answers_query", "name of the query it answers", "name"),
        Column("supersedes", "decision that it replaces", "name"),
    ),
    need=("decision", "who", "action", "reason"),
    unique=((("decision",), ""),),
)

PROPOSED = Schema(
    "proposed",
    "proposal",
    "proposal",
    "work that could be done",
    (
        Column("proposal", "name of the proposal", "name"),
        Column(
            "kind",
            "kind of work",
            "word",
            choices=(
                "baseline",
                "second set-up",
                "total-station round",
                "levelling run",
                "position",
                "control tie",
            ),
        ),
        Column("from_station", "mark at the start", "name"),
        Column("to_station", "mark at the end", "name"),
        Column("session", "rows of one name share their first set-up", "name"),
        Column("minutes", "time on the marks", "number", low=0),
        Column("earliest", "clock time", "word"),
        Column("latest", "clock time", "word"),
        Column("blocked", "why it cannot be done", "word"),
        Column("sd_plan_mm", "expected; empty = [planned.KIND]", low=0),
        Column("sd_height_mm", "expected; empty = [planned.KIND]", low=0),
        Column("note", "anything else", "word"),
    ),
    need=("proposal", "kind"),
    unique=((("proposal",), ""),),
)

DRIVE_TIMES = Schema(
    "drive_times",
    "drive",
    "",
    "how long from mark to mark; where nothing is said, straight line and detour",
    (
        Column("from_station", "mark at the start", "name"),
        Column("to_station", "mark at the end; the way back takes as long", "name"),
        Column("drive_min", "by road, without the walk", low=0),
        Column("note", "anything else", "word"),
    ),
    need=("from_station", "to_station", "drive"),
    unique=((("from_station", "to_station"), ""),),
)
