"""Why a cell cannot be read as a number, and what was likely meant."""

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ...networks.units import LARGEST, LONGEST_NUMBER, UNITS
from .schema import Column


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong with the cell of a row."""

    i: int
    column: str
    slug: str
    against: str
    likely: str = ""
    mend: str = ""
    verdict: str = "fault"


def unreadable(i: int, text: str, column: Column, unit: str) -> Problem:
    """Return why a cell that should hold a number cannot be read."""

    def problem(slug: str, against: str, mend: str, likely: str = "") -> Problem:
        return Problem(i, column.name, slug, against, likely, mend)

    minus = text.replace("−", "-").replace("–", "-")
    bare = minus.replace(" ", "").lstrip("+-").lower()
    if bare in ("nan", "inf", "infinity", "n/a", "na", "#n/a", "null", "none", "-", ""):
        return problem(
            "not-a-value",
            "a number; an empty cell means not observed",
            "leave the cell empty if nothing was observed",
        )
    if unit == "dms":
        return _bad_dms(problem, minus)
    if re.fullmatch(r"[+-]?\d{1,3}(,\d{3})+\.\d+", minus):
        return problem(
            "thousands-separator",
            "digits without separators between them",
            "save the table without thousands separators",
            minus.replace(",", ""),
        )
    if re.fullmatch(r"[+-]?\d*,\d+", minus):
        return problem(
            "decimal-comma",
            "a decimal point",
            "save the table with decimal points",
            minus.replace(",", "."),
        )
    if _is_beyond(minus):
        return problem(
            "number-too-large",
            f"at most {LARGEST.get(column.measure, 1e9):g} in size",
            "compare the cell with its source",
        )
    return _odd_number(problem, text, minus, column)


def _odd_number(
    problem: Callable[..., Problem], text: str, minus: str, column: Column
) -> Problem:
    number = re.match(r"[+-]?\d+(\.\d+)?(?=\s*[A-Za-z°'\"])", minus)
    if minus != text and _is_number(minus):
        return problem(
            "not-a-number",
            "a hyphen as minus sign",
            "write the minus sign as a hyphen",
            minus,
        )
    if number:
        return problem(
            "unit-in-cell",
            "a number alone; the unit stands in the header",
            "take the unit out of the cell",
            number.group(),
        )
    kind = UNITS[column.unit].words if column.unit else "a number"
    return problem(
        "not-a-number", f"a decimal number ({kind})", "compare the cell with its source"
    )


def _bad_dms(problem: Callable[..., Problem], text: str) -> Problem:
    if packed := re.fullmatch(r"([+-]?\d{1,3})\.?(\d{2})(\d{2})(\d*)", text):
        degrees, minutes, seconds, part = packed.groups()
        likely = f"{degrees} {minutes} {seconds}" + (f".{part}" if part else "")
        if "." in text:
            likely += f", or {text} decimal degrees"
        return problem(
            "dms-packed",
            "degrees, minutes, seconds kept apart: 123 45 06.7",
            "write the three numbers with blanks between, or name the column _deg",
            likely,
        )
    numbers = re.findall(r"\d+(?:\.\d+)?", text)
    if len(numbers) == 3 and max(float(n[:20]) for n in numbers[1:]) >= 60:
        return problem(
            "dms-out-of-range",
            "minutes and seconds below 60",
            "compare the cell with the field book",
        )
    return problem(
        "not-an-angle",
        "degrees, minutes, seconds: 123 45 06.7",
        "write all three numbers, with blanks between",
    )


def _is_number(text: str) -> bool:
    try:
        return bool(np.isfinite(float(text)))
    except ValueError:
        return False


def _is_beyond(text: str) -> bool:
    # Here convert() has refused it: a number, but none that fits.
    return bool(re.fullmatch(r"[+-]?[\d.]+([eE][+-]?\d+)?", text)) and (
        len(text) > LONGEST_NUMBER or "e" in text.lower()
    )
