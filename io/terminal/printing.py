"""Results to stdout, everything else to stderr; colour on a terminal only."""

import codecs
import os
import sys
import unicodedata
from typing import Any, TextIO


def prepare() -> None:
    """Make the process ready: one thread of linear algebra, every character printed.

    Small matrices take several times longer with more threads, and the last digit
    of a result depends on their number. Whoever sets the variables is obeyed; a
    character that the output cannot carry is written with those it can, so that no
    sign of a number is lost.
    """
    for name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    codecs.register_error(_PLAINLY, _plainly)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=_PLAINLY)


_PLAINLY = "brasscap-plainly"
_PLAIN = {
    "−": "-",
    "–": "-",
    "—": "-",
    "±": "+/-",
    "×": "x",
    "·": "*",
    "′": "'",
    "″": '"',
    "°": "deg",
    "→": "->",
    "…": "...",
    "≤": "<=",
    "≥": ">=",
    "≈": "~",
    "√": "sqrt ",
    "²": "^2",
    "³": "^3",
    "µ": "u",
    "μ": "u",
    "σ": "sigma",
    "χ": "chi",
    "α": "alpha",
    "∇": "nabla",
    "Δ": "Delta",
    "½": "1/2",
    "∞": "infinity",
    "ß": "ss",
    "ø": "o",
    "Ø": "O",
    "æ": "ae",
    "ł": "l",
    "đ": "d",
    "“": '"',
    "”": '"',
    "„": '"',
    "\u2018": "'",
    "\u2019": "'",
    "\u00a0": " ",
    "\u202f": " ",
    "\u2011": "-",
}
"""What stands for a character that an output cannot carry."""


def _plainly(error: UnicodeError) -> tuple[str, int]:
    """Return what stands for the first character that cannot be written."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    found = error.object[error.start]
    said = _PLAIN.get(found)
    if said is None:
        # A letter without its accent; an accent alone is left out.
        bare = unicodedata.normalize("NFKD", found)
        said = "".join(one for one in bare if one.isascii())
        said = said or ("" if unicodedata.combining(found) else "?")
    return said, error.start + 1


def wants_colour(stream: TextIO, values: dict[str, str]) -> bool:
    """Return whether a stream is a terminal whose user has not refused colour."""
    refused = (
        "no-colour" in values
        or os.environ.get("NO_COLOR")
        or os.environ.get("TERM") == "dumb"
    )
    return stream.isatty() and not refused


def write(stream: TextIO, text: str) -> None:
    """Write to stdout or stderr; a reader that has gone away is no error."""
    if not text:
        return
    try:
        stream.write(text if text.endswith("\n") else text + "\n")
        stream.flush()
    except OSError as error:
        # `brasscap … | head`: the rest goes nowhere, without a word, and Python's
        # own flush at exit must not meet the closed pipe, or the full disk, again.
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
        if not isinstance(error, BrokenPipeError):
            from brasscap.networks import CannotWrite

            why = (error.strerror or "failed").lower()
            raise CannotWrite(f"the output cannot be written: {why}") from error


def deliver(text: str, data: dict[str, Any], values: dict[str, str]) -> None:
    """Print a result: the text, or the object where ``--json`` asks for it.

    Parameters
    ----------
    text : str
        For stdout, unless the object goes there.
    data : dict
    values : dict
        Options of the request; ``json`` with a file name writes the object there.
    """
    from brasscap.reports.objects import dump

    if "json" not in values:
        write(sys.stdout, text)
    elif not values["json"]:
        write(sys.stdout, dump(data))
    else:
        from pathlib import Path

        from brasscap.io.files import write_whole

        write_whole(Path(values["json"]), dump(data))
        write(sys.stdout, text)
