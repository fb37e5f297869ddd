"""The page put together: template, style, script and data in one file."""

import json
from typing import TYPE_CHECKING, Any

from ..html import environment
from .data import Trial, trial_data

if TYPE_CHECKING:
    from ..heading import Heading

PARTS = tuple(
    f"trial/{name}.js"
    for name in (
        "linear", "whole", "chance", "block", "uses", "state", "judge", "causes",
        "tests",
        "places", "pairs", "answer", "changes", "map", "views", "forms", "figures",
        "page",
    )
)  # fmt: skip
"""The script, in the order in which its parts need each other."""


def trial_html(trial: Trial, heading: "Heading", part: str = "") -> str:
    """Return the page: one file that asks for nothing.

    Parameters
    ----------
    trial : Trial
    heading : Heading
    part : str, optional
        In words, which part of the network it shows; empty for all of it.

    Returns
    -------
    str
    """
    data = trial_data(trial)
    title = f"Trial: {heading.title}" if heading.title else "Trial"
    template = environment().get_template("trial.html")
    return template.render(
        title=title,
        data=_script(data),
        parts=PARTS,
        part=part,
        datum=data["datum_text"],
        minimal=data["datum"] == "minimal",
        confidence=100 * data["limits"]["confidence"],
        factor=f"{data['map']['factor']:,.0f}".replace(",", "\N{NO-BREAK SPACE}"),
    )


def _script(data: dict[str, Any]) -> Any:
    """Return an object as JSON that nothing in it can end."""
    from markupsafe import Markup

    text = json.dumps(data, allow_nan=False, separators=(",", ":"))
    safe = text.replace("<", "\\u003c").replace("&", "\\u0026")
    return Markup(safe)
