"""A document as one HTML file: no request, no script, readable on paper and a phone."""

import re
from functools import cache
from typing import TYPE_CHECKING, Any

from .document import (
    Document,
    Facts,
    Figure,
    Found,
    Paragraph,
    Part,
    Table,
    VerdictLine,
    Vial,
)
from .vial import vial_svg
from .words import unbroken

if TYPE_CHECKING:
    from jinja2 import Environment

_ID = re.compile(r'\bid="([^"]+)"')
_KINDS: dict[type, str] = {
    Facts: "facts",
    Figure: "figure",
    Found: "found",
    Paragraph: "paragraph",
    Table: "table",
    VerdictLine: "verdict",
}


def html(document: Document, *, paper: str = "", page_each: bool = False) -> str:
    """Return a document as a page.

    Names and reasons come from tables that anybody may have written; every one of them
    is escaped. The only markup that passes as it is, is this package's own drawings.

    Parameters
    ----------
    document : Document
    paper : str, optional
        ``A4`` or ``letter``, on which it prints; the browser's when not given.
    page_each : bool, optional
        Whether every section begins on a new sheet of paper.

    Examples
    --------
    >>> page = html(Document("a < b", ()))
    >>> "<h1>a &lt; b</h1>" in page
    True
    """
    template = environment().get_template("report.html")
    return template.render(
        document=document,
        places=_places(document),
        paper=paper,
        page_each=page_each,
    )


def _places(document: Document) -> set[str]:
    """Return every anchor of the page, so that no link leads nowhere."""
    parts = [part for section in document.sections for part in section.parts]
    rows = {
        row.anchor for part in parts if isinstance(part, Table) for row in part.rows
    }
    drawn = [part.svg for part in parts if isinstance(part, Figure)]
    sections = {section.anchor for section in document.sections}
    own = (rows | sections) - {""}
    return own | {name for svg in drawn for name in _ID.findall(svg)}


@cache
def environment() -> "Environment":
    """Return what fills in a page's template: everything is escaped."""
    from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

    environment = Environment(
        loader=PackageLoader("brasscap.reports"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["vial"] = _vial
    environment.filters["drawing"] = _drawing
    environment.filters["kind"] = _kind
    environment.filters["css_text"] = _css_text
    environment.filters["unbroken"] = unbroken
    environment.tests["vial"] = lambda cell: isinstance(cell, Vial)
    return environment


def _vial(vial: Vial) -> Any:
    from markupsafe import Markup

    return Markup(vial_svg(vial))


def _drawing(figure: Figure) -> Any:
    from markupsafe import Markup

    return Markup(figure.svg)


def css_text(said: str) -> str:
    r"""Return words as a string of CSS; nothing in them can end it.

    Examples
    --------
    >>> print(css_text('A"</style>'))
    "A\22 \3c \2f style\3e "
    """
    plain = (c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in said)
    return f'"{"".join(plain)}"'


def _css_text(said: str) -> Any:
    from markupsafe import Markup

    return Markup(css_text(said))


def _kind(part: Part) -> str:
    return _KINDS[type(part)]
