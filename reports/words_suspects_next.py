"""The one command that helps most after `suspects`."""

from typing import TYPE_CHECKING

from .words_weights import Weighed, decide_words

if TYPE_CHECKING:
    from ..adjust.causes import Suspects


def suspects_next(found: "Suspects", weighed: Weighed | None = None) -> str:
    """Return the one command that helps most now.

    Parameters
    ----------
    found : Suspects
    weighed : Weighed, optional
    """
    from .content import quoted

    if weighed is not None and weighed.weights.leads:
        command = decide_words(weighed)
        if command:
            return command
    if found.answer == "low" and weighed is not None and not weighed.weights.surplus:
        command = decide_words(weighed, larger=False)
        if command:
            return command
    if found.answer in ("unchecked", "low"):
        return "brasscap loops"
    if weighed is not None and not (len(found) and found.test[0] > 1):
        command = decide_words(weighed)
        if command:
            return command
    if not len(found) or found.test[0] <= 1:
        return "brasscap report --html"
    kind = found.kind[0]
    network = found.adjustment.network
    if kind == "unit":
        return _booked_next(found)
    if kind in ("set-up height", "set-up on wrong mark", "target height"):
        return f"brasscap show set-up {quoted(found.about[0][0])}"
    if kind.startswith("known mark"):
        return f"brasscap show mark {quoted(found.about[0][0])}"
    if kind == "observation" and found.about[0][0] in network.vectors.name:
        return f"brasscap show baseline {quoted(found.about[0][0])}"
    return "brasscap loops"


def _booked_next(found: "Suspects") -> str:
    """Return the command that shows what is booked of the first cause."""
    from .content import quoted

    network = found.adjustment.network
    for word, names in (
        ("set-up", network.set_ups.name),
        ("baseline", network.vectors.name),
        ("mark", network.marks.name),
    ):
        if found.about[0] and found.about[0][0] in names:
            return f"brasscap show {word} {quoted(found.about[0][0])}"
    return "brasscap check --only units"
