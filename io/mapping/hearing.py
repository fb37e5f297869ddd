"""What a header of others says by itself: a column of ours, a unit, a confidence."""

import re
from typing import NamedTuple

from .words import DOUBTFUL, OF_PLAN, SAID, UNCERTAIN, UNIT_WORDS

NOT_KNOWN = "no column of this table is known by this name"

_UNITS = {word: unit for unit, words in UNIT_WORDS.items() for word in words.split()}
_LONGITUDE = SAID["longitude"] | {"longitude"}
_CONFIDENCE = (
    (re.compile(r"\b95(\.0)?\s*(%|percent|pc)?"), "95 %"),
    (re.compile(r"\b99(\.0)?\s*(%|percent|pc)?"), "99 %"),
    (re.compile(r"\b1\s*(?=(sigma|sd|std)\b)"), "sd"),
    (re.compile(r"\b2\s*(?=(sigma|sd|std)\b)"), "2 sd"),
    (re.compile(r"\b3\s*(?=(sigma|sd|std)\b)"), "3 sd"),
)


class Heard(NamedTuple):
    """A header, taken apart."""

    phrase: str
    """Its words, without unit and confidence."""
    unit: str = ""
    """One of ours, or ``ft`` for a foot that is not named."""
    confidence: str = ""
    sign: str = "+"


def hear(header: str) -> Heard:
    """Return the words of a header, its unit, confidence and sign apart.

    Examples
    --------
    >>> hear("Northing (US ft)").unit, hear("Std Dev N [mm] 95%").confidence
    ('sft', '95 %')
    >>> hear("PointID").phrase, hear("Longitude West").sign
    ('point id', '-')
    """
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", header.strip())
    text = text.replace("σ", " sigma ").replace("Δ", "delta ").casefold()
    confidence = ""
    for pattern, word in _CONFIDENCE:
        if found := pattern.search(text):
            confidence = word
            text = f"{text[: found.start()]} {text[found.end() :]}"
            break
    unit = ""
    for inside in re.findall(r"[(\[]([^)\]]*)[)\]]", text):
        unit = unit or _unit(inside)
    text = re.sub(r"[(\[][^)\]]*[)\]]", " ", text)
    words = re.sub(r"[_\-./:,;#]+", " ", text).split()
    for count in (3, 2, 1):
        if (
            not unit
            and len(words) > count
            and (unit := _unit(" ".join(words[-count:])))
        ):
            words = words[:-count]
    sign = "+"
    if len(words) == 2 and words[0] in _LONGITUDE and words[1] in ("w", "west"):
        words, sign = words[:1], "-"
    return Heard(" ".join(words), unit, confidence, sign)


def _unit(words: str) -> str:
    short = words.replace("international", "int")
    return _UNITS.get(re.sub(r"[\s_.\-]", "", short), "")


def meaning(phrase: str, known: frozenset[str], key: str = "") -> tuple[str, str]:
    """Return the column of ours that a header means, and what is not sure of it.

    Parameters
    ----------
    phrase : str
        The words of the header.
    known : frozenset of str
        Names of the table's columns.
    key : str, optional
        The one that names a row: a number of points is its, if it may be.

    Returns
    -------
    ours : str
        Empty where none can be named.
    reason : str
        What is to be settled first; empty where it is sure.

    Examples
    --------
    >>> meaning("easting", frozenset(("east", "north")))
    ('east', '')
    >>> meaning("wombat", frozenset(("east", "north")))
    ('', 'no column of this table is known by this name')
    """
    own = phrase.replace(" ", "_")
    maybe, doubt = DOUBTFUL.get(phrase, ("", ""))
    if maybe == "height" and phrase != "z" and "ellipsoidal_height" not in known:
        own, doubt = "height", ""
    if own in known:
        # What may be another column of ours is doubtful, whatever it is called.
        asked = doubt if maybe in ("", own) else ""
        return ("" if asked and not maybe else own), asked
    found = [ours for ours in sorted(known) if phrase in SAID.get(ours, ())]
    if len(found) == 1 or key in found:
        return (key if key in found else found[0]), ""
    if found:
        return "", "it may be " + " or ".join(found)
    if doubt:
        return (maybe if maybe in known else ""), doubt
    words = set(phrase.split())
    if words & UNCERTAIN:
        which, _, axis = phrase.partition(" ")
        found = [ours for ours in sorted(known) if f"sd {axis}" in SAID.get(ours, ())]
        if which in UNCERTAIN and len(found) == 1:
            return found[0], "a standard deviation, or what uncertainty?"
        if words & OF_PLAN:
            return "", "one figure for plan is a circle; sd_north and sd_east are not"
        return "", "an uncertainty: of which axis, and stated at which confidence?"
    return "", NOT_KNOWN
