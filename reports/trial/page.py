"""The page put together: template, style, script and data in one file."""

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from ..html import environment
from .data import trial_data

if TYPE_CHECKING:
    from ...adjust import Adjustment
    from ...adjust.design.folded import Block
    from ...networks import Network
    from ..heading import Heading

PARTS = tuple(
    f"trial/{name}.js"
    for name in (
        "linear", "whole", "chance", "block", "state", "judge", "changes", "answer",
        "page",
    )
)  # fmt: skip
"""The script, in the order in which its parts need each other."""


def trial_html(
    adjustment: "Adjustment",
    network: "Network",
    blocks: "Sequence[Block]",
    heading: "Heading",
    job_hash: str,
) -> str:
    """Return the page: one file that asks for nothing.

    Parameters
    ----------
    adjustment : Adjustment
        Of the network with its held marks firmly weighted.
    network : Network
        As the job has it.
    blocks : sequence of Block
        Of the adjustment.
    heading : Heading
    job_hash : str
        Of what bears on the figures; the trial file carries it.

    Returns
    -------
    str
    """
    data = trial_data(adjustment, network, blocks) | {"job_hash": job_hash}
    title = f"Trial: {heading.title}" if heading.title else "Trial"
    template = environment().get_template("trial.html")
    return template.render(title=title, data=_script(data), parts=PARTS)


def _script(data: dict[str, Any]) -> Any:
    """Return an object as JSON that nothing in it can end."""
    from markupsafe import Markup

    text = json.dumps(data, allow_nan=False, separators=(",", ":"))
    safe = text.replace("<", "\\u003c").replace("&", "\\u0026")
    return Markup(safe)
