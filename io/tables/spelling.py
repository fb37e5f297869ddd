"""The nearest spelling of a word that was not understood."""

from collections.abc import Iterable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

MOST_SPELLINGS = 100
"""Wrong words, of a column or of one kind, whose nearest spelling is sought."""
_MANY = 500
"""Known words up to which each is compared letter by letter."""
_LIKELY = 200
"""Of more, those that are: the ones most alike in the letters that they have."""


def nearest(word: str, known: Iterable[str]) -> str:
    """Return the known word most like another, empty if none is like it.

    Examples
    --------
    >>> nearest("Held", ("held", "weighted")), nearest("banana", ("held", "weighted"))
    ('held', '')
    """
    # Loaded only once something is wrong.
    from difflib import get_close_matches

    # A very long word is no slip of the pen, and comparing it would take long.
    meant, candidates = _fold(word[:60]), tuple(known)
    if len(candidates) > _MANY:
        candidates = _of_alike_letters(meant, candidates)
    folded: dict[str, str] = {}
    for candidate in candidates:
        folded.setdefault(_fold(candidate), candidate)
    close = get_close_matches(meant, list(folded), n=1, cutoff=0.7)
    return folded[close[0]] if close else ""


def _of_alike_letters(meant: str, known: tuple[str, ...]) -> tuple[str, ...]:
    """Return the known words that differ in the fewest letters, wherever they stand."""
    own = _letters((meant,))[0].astype(np.int64)
    apart = np.abs(_letters(known) - own).sum(axis=1)
    few = np.argpartition(apart, _LIKELY)[:_LIKELY]
    # In the order in which they are known, as among few words.
    return tuple(known[i] for i in np.sort(few).tolist())


@lru_cache(maxsize=2)
def _letters(known: tuple[str, ...]) -> NDArray[np.int16]:
    """Return how often each word has each letter, letters counted in 64 heaps."""
    texts = [_fold(word) for word in known]
    codes = np.frombuffer("".join(texts).encode("utf-32-le"), dtype=np.uint32) % 64
    of_word = np.repeat(np.arange(len(texts)), [len(text) for text in texts])
    counts = np.bincount(of_word * 64 + codes, minlength=64 * len(texts))
    return counts.reshape(-1, 64).astype(np.int16)


def _fold(word: str) -> str:
    return word.casefold().replace("_", " ").replace("-", " ").strip()
