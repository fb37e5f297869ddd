"""The nearest spelling of a word that was not understood."""

from collections.abc import Iterable


def nearest(word: str, known: Iterable[str]) -> str:
    """Return the known word most like another, empty if none is like it.

    Examples
    --------
    >>> nearest("Held", ("held", "weighted")), nearest("banana", ("held", "weighted"))
    ('held', '')
    """
    # Loaded only once something is wrong.
    from difflib import get_close_matches

    folded: dict[str, str] = {}
    for candidate in known:
        folded.setdefault(_fold(candidate), candidate)
    # A very long word is no slip of the pen, and comparing it would take long.
    close = get_close_matches(_fold(word[:60]), list(folded), n=1, cutoff=0.7)
    return folded[close[0]] if close else ""


def _fold(word: str) -> str:
    return word.casefold().replace("_", " ").replace("-", " ").strip()
