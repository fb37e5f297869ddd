"""A plot as the bytes of a file; an SVG is light or dark as its reader is."""

import re
from html import escape
from io import BytesIO
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INK, SOFT, RULE, MEETS, FAILS, PAPER = (
    "#1b1e22",
    "#5a5f66",
    "#c9ced4",
    "#0072b2",
    "#8f1a00",
    "#ffffff",
)
"""The colours of the pages; none of them carries a meaning by itself."""
_NAMES = {
    INK: ("ink", "#eceff3"),
    SOFT: ("soft", "#a3abb5"),
    RULE: ("rule", "#3a434d"),
    MEETS: ("meets", "#56b4e9"),
    FAILS: ("fails", "#ff7a59"),
    PAPER: ("paper", "#14181d"),
}
"""Name of each in the style sheet, and what it is in the dark."""

STYLE: Any = {
    "svg.hashsalt": "brasscap",
    "svg.fonttype": "none",
    "font.size": 11.0,
    "text.color": INK,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.titlecolor": INK,
    "axes.titlesize": 12.0,
    "axes.facecolor": PAPER,
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    "legend.edgecolor": RULE,
    "legend.fontsize": 10.0,
    "patch.edgecolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
}
"""What matplotlib draws with, while a figure is made and written."""


def file_of(figure: "Figure", form: str, title: str, about: str) -> bytes:
    """Return a figure as the bytes of a file, without a date.

    Parameters
    ----------
    figure : Figure
    form : str
        ``png``, ``svg`` or ``pdf``.
    title, about : str
        What a person who cannot see it is told: in the SVG and the PDF.
    """
    import matplotlib as mpl

    metadata: dict[str, dict[str, Any]] = {
        "svg": dict.fromkeys(("Date", "Creator", "Format", "Type")),
        "pdf": {"CreationDate": None, "Title": title},
        "png": {"Description": title},
    }
    buffer = BytesIO()
    with mpl.rc_context(STYLE):
        figure.savefig(buffer, format=form, metadata=metadata[form], dpi=150)
    made = buffer.getvalue()
    return (
        _readable(made.decode("utf-8"), title, about).encode()
        if form == "svg"
        else made
    )


def _readable(svg: str, title: str, about: str) -> str:
    """Return an SVG with its title, and colours that follow the reader's theme."""
    svg = re.sub(r"<!DOCTYPE[^>]*>\s*", "", svg)
    for colour, (name, _) in _NAMES.items():
        svg = svg.replace(f": {colour}", f": var(--{name})")
    light = "".join(f"--{name}:{colour};" for colour, (name, _) in _NAMES.items())
    dark = "".join(f"--{name}:{other};" for name, other in _NAMES.values())
    head = (
        f'<title id="title">{escape(title)}</title>\n'
        f'<desc id="about">{escape(about)}</desc>\n'
        f"<style>svg{{{light}max-width:100%;height:auto;background:var(--paper)}}"
        f"@media(prefers-color-scheme:dark){{svg{{{dark}}}}}"
        f"@media print{{svg{{{light}}}}}</style>\n"
    )
    return re.sub(
        r"<svg ([^>]*)>",
        lambda found: (
            f'<svg role="img" aria-labelledby="title about" {found[1]}>\n{head}'
        ),
        svg,
        count=1,
    )
