"""Progress on stderr, for steps that take longer than half a second."""

import sys
from threading import Event, Thread
from time import monotonic

PATIENCE = 0.5
"""Seconds before the first word."""


class Progress:
    """Says which step is at work, from the half second on.

    Parameters
    ----------
    how : str
        ``line`` (one line, rewritten), ``lines`` (a line each time), ``steps`` (every
        step at once, however short), ``off``.

    Examples
    --------
    >>> with Progress("off") as progress:
    ...     progress("reading tables")
    """

    def __init__(self, how: str) -> None:
        self._how = how
        self._step = ""
        self._since = monotonic()
        self._said = ""
        self._done = Event()
        self._thread = Thread(target=self._watch, daemon=True)

    def __call__(self, step: str, done: int = 0, total: int = 0) -> None:
        """Take note of the step at work, and of how much of it is done."""
        self._step = f"{step} {done} of {total}" if total else step
        if self._how == "steps":
            sys.stderr.write(f"brasscap: {self._step}\n")

    def __enter__(self) -> "Progress":
        if self._how in ("line", "lines"):
            self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._done.set()
        if self._how in ("line", "lines"):
            self._thread.join()
        if self._how == "line" and self._said:
            sys.stderr.write("\r\033[K")
            sys.stderr.flush()

    def _watch(self) -> None:
        while not self._done.wait(PATIENCE):
            seconds = monotonic() - self._since
            text = f"brasscap: {self._step or 'at work'}"
            if self._how == "line":
                sys.stderr.write(f"\r\033[K{text}, {seconds:.0f} s")
            elif text != self._said:
                sys.stderr.write(f"{text}, {seconds:.1f} s\n")
            sys.stderr.flush()
            self._said = text


def chosen(values: dict[str, str]) -> str:
    """Return how to show progress: as asked, else one line on a terminal.

    Examples
    --------
    >>> chosen({"quiet": ""})
    'off'
    """
    if "quiet" in values:
        return "off"
    if "verbose" in values:
        return "steps"
    return values.get("progress") or ("line" if sys.stderr.isatty() else "lines")
