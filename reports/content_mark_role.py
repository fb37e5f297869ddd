"""What part a mark plays in the solution, who decided that, and what was decided."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from .content_map import mark_kind
from .heading import DecisionLine, Heading
from .judged import Judged

if TYPE_CHECKING:
    from .mark_things import AtMark

_USES = ("hold", "weight", "check-only", "leave-out", "bring-back")
"""Actions that say what known coordinates are used for."""


def role_facts(judged: Judged, mark: int, heading: Heading) -> list[tuple[str, str]]:
    """Return whether a mark is new or known, how it is used, and who says so.

    Parameters
    ----------
    judged : Judged
    mark : int
    heading : Heading
    """
    network, known = judged.network, judged.network.known
    name = network.marks.name[mark]
    rows = np.flatnonzero(known.mark == mark).tolist()
    if not rows and not judged.adjustment.estimated[mark].any():
        return [("known or new", "new, and not observed: it has no coordinates")]
    if not rows:
        return [("known or new", "new: all of it comes from this survey")]
    facts = [("known or new", f"known; here {mark_kind(judged, mark)}")]
    decided = _about_use(heading, name)
    for i in rows:
        parts = [
            f"{part} {use or 'not in use'}"
            for part, use, axis in (
                ("plan", known.use_plan[i], 0),
                ("height", known.use_height[i], 2),
            )
            if known.components[i, axis]
        ]
        left = "" if known.used[i] else "; left out"
        facts.append(("use", ", ".join(parts) + left))
        row = f"control.csv row {int(known.row[i])}"
        facts.append(("by", decided or f"{row}; no decision has changed it"))
        facts.append(("source of what is known", known.source[i] or "not booked"))
    return facts


def _about_use(heading: Heading, name: str) -> str:
    about = {f"known mark{part} {name}" for part in ("", " plan", " height")}
    lines = [
        _said(line)
        for line in heading.decisions
        if line.about in about and line.action in _USES and not line.superseded_by
    ]
    return "; ".join(lines)


def _said(line: DecisionLine) -> str:
    return f"decision {line.name}, {line.action}: {_why(line)}"


def _why(line: DecisionLine) -> str:
    """Return the reason, who gave it and when, and the evidence."""
    who = ", ".join(word for word in (line.who, line.when) if word)
    taken = f" ({who})" if who else ""
    kept = f"; evidence {line.evidence}" if line.evidence else ""
    return f"{line.reason}{taken}{kept}"


_BOOKED_AS = {"level difference": ("levelled run",), "known": ("known mark",)}
"""Other kinds under which decisions name a thing."""


def decision_facts(
    judged: Judged, mark: int, here: "AtMark", heading: Heading
) -> list[tuple[str, str]]:
    """Return the other decisions that concern a mark or what stands on it.

    Parameters
    ----------
    judged : Judged
    mark : int
    here : AtMark
    heading : Heading
    """
    name = judged.network.marks.name[mark]
    about = {f"mark {name}", f"station {name}", f"undulation {name}"}
    for kind, thing in here.things:
        kinds = (kind, "observation", "pointing", *_BOOKED_AS.get(kind, ()))
        about |= {f"{one} {part}" for one in kinds for part in _parts(thing)}
    about |= {f"known mark{part} {name}" for part in (" plan", " height")}
    used = {f"known mark{part} {name}" for part in ("", " plan", " height")}
    return [
        (
            f"decision {line.name}",
            f"{line.action} {line.about}: {_why(line)}{_over(line)}",
        )
        for line in heading.decisions
        if line.about in about
        and (line.about not in used or line.action not in _USES or line.superseded_by)
    ]


def _over(line: DecisionLine) -> str:
    return f"; replaced by {line.superseded_by}" if line.superseded_by else ""


def _parts(name: str) -> Iterable[str]:
    """Return a name, and those of the pointings that it is the mean of."""
    return {name, *name.split(" + ")}
