"""A file of keys and values, TOML: read whole, or said where it is not one."""

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from ...networks.findings import Finding


def parse_toml(
    content: bytes, file: str
) -> tuple[Mapping[str, Any] | None, str, list[Finding]]:
    r"""Return what a file states, its text, and why it cannot be read.

    Parameters
    ----------
    content : bytes
    file : str
        Its name, for messages.

    Examples
    --------
    >>> parse_toml(b"schema = 1\n", "job.toml")
    ({'schema': 1}, 'schema = 1\n', [])
    """
    text = ""
    try:
        text = content.decode("utf-8-sig").replace("\r\n", "\n")
        return tomllib.loads(text), text, []
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        slug, booked = "wrong-encoding", f"byte {content[error.start]:#04x}"
        against, mend = "UTF-8", "save the file again as UTF-8"
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        place = re.search(r"at line (\d+)", str(error))
        end = len(text.splitlines())
        line = int(place.group(1)) if place else end
        slug = "toml-not-understood"
        there = text.splitlines()[max(line, 1) - 1 : line] or [""]
        booked = f"{there[0].strip()[:80]}  ({str(error)[:120]})"
        against = 'TOML 1.0: key = value, texts in "quotation marks"'
        mend = "quote texts, write each section and each key once"
    finding = Finding(
        slug,
        "fault",
        file,
        file=file,
        row=line,
        line=line,
        booked=booked,
        against=against,
        mend=mend,
    )
    return None, text, [finding]
