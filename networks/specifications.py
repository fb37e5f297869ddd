"""What a client, a law or a standard asks of positions: limits, and where they stand.

A limit grows with the distance D between two marks: a constant and a part in
proportion, added or joined as squares; a part with √D; or a ratio, which is a part in
proportion alone.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import inf, nan

import numpy as np

from .covariances import Floats

RELATIVE = (
    "relative positional precision",
    "ratio",
    "height difference",
    "relative uncertainty",
    "local accuracy",
    "setting out",
)
"""Kinds that compare two marks: the minimal solution, free of the control's errors."""
ABSOLUTE = ("uncertainty to datum", "network accuracy")
"""Kinds that look at one mark: the constrained solution."""
BOTH = ("tier and class",)
KINDS = (*RELATIVE, *ABSOLUTE, *BOTH)

MEASURES: Mapping[str, str] = {
    "relative positional precision": "semi-major axis",
    "ratio": "distance",
    "height difference": "",
    "relative uncertainty": "circle",
    "local accuracy": "circle",
    "setting out": "distance",
    "uncertainty to datum": "circle",
    "network accuracy": "circle",
    "tier and class": "circle",
}
"""What of the plan is measured against the limit: the relative ellipse's semi-major
axis, the circle, or the distance's own limit."""

CLASSED = ("local accuracy", "network accuracy")
"""Kinds that are classed: in plan and in height, also where no limit is stated."""

CLASSES = (
    (0.001, "1 mm"), (0.002, "2 mm"), (0.005, "5 mm"), (0.01, "1 cm"), (0.02, "2 cm"),
    (0.05, "5 cm"), (0.1, "1 dm"), (0.2, "2 dm"), (0.5, "5 dm"), (1.0, "1 m"),
    (2.0, "2 m"), (5.0, "5 m"), (10.0, "10 m"),
)  # fmt: skip
"""Accuracy classes, m at 95 %: FGDC-STD-007.2-1998 (1, 2, 5 series; the rows of 2 and
5 from memory)."""


@dataclass(frozen=True, slots=True)
class Limit:
    """How large a value may be between marks a distance apart.

    Examples
    --------
    2 cm + 50 ppm over 300 m, by hand: 20 mm + 15 mm.

    >>> Limit(constant=0.02, proportional=50e-6).over(np.array([300.0])).tolist()
    [0.035]

    Third order levelling of 1984, 2.0 mm √km over 4 km: 4 mm.

    >>> Limit(per_sqrt=0.002 / 1000**0.5).over(np.array([4000.0])).round(6).tolist()
    [0.004]
    """

    constant: float = 0.0
    """m."""
    proportional: float = 0.0
    """m per m."""
    per_sqrt: float = 0.0
    """m per √m."""
    squares: bool = False
    """Whether constant and proportional part are joined as squares."""
    least: float = 0.0
    """m; the limit is never below it."""
    also: float = nan
    """m; the constant as also stated in another unit, rounded; NaN for none."""

    def over(self, distance: Floats) -> Floats:
        """Return the limit over distances, m, as first stated."""
        parts = self.constant, self.proportional * distance
        whole = np.hypot(*parts) if self.squares else parts[0] + parts[1]
        made: Floats = np.maximum(whole + self.per_sqrt * np.sqrt(distance), self.least)
        return made

    def also_over(self, distance: Floats) -> Floats:
        """Return the limit over distances with the constant as also stated, m."""
        if np.isnan(self.also):
            return self.over(distance)
        return replace(self, constant=self.also).over(distance)


@dataclass(frozen=True, slots=True)
class Specification:
    """One specification: what is limited, to what, and where that is written."""

    name: str
    kind: str
    confidence: float
    """At which the limit is stated: 0.95 for 95 %."""
    plan: Limit | None = None
    """Between two marks; of one mark in the kinds of ``ABSOLUTE``."""
    height: Limit | None = None
    tier_plan: float = nan
    """m, of each mark to the datum, for the kind ``tier and class``; NaN for none."""
    tier_height: float = nan
    pairs: str = "all"
    """``all``, ``adjacent`` or the name of a file."""
    within: float = inf
    """m; pairs farther apart are not asked for."""
    source: str = ""
    from_memory: bool = False
    """Whether the figures are the preset's from memory, not read in its source."""

    @property
    def parts(self) -> tuple[tuple[str, Limit], ...]:
        """Plan and height with their limits; without one an unlimited part is NaN."""
        both = (("plan", self.plan), ("height", self.height))
        unlimited = Limit(nan) if self.kind in CLASSED else None
        limits = [(part, unlimited if one is None else one) for part, one in both]
        return tuple((part, one) for part, one in limits if one is not None)

    @property
    def solutions(self) -> tuple[str, ...]:
        """Which solutions it is judged in."""
        if self.kind in BOTH:
            return ("constrained", "minimal")
        return ("minimal",) if self.kind in RELATIVE else ("constrained",)


def accuracy_class(value: float) -> str:
    """Return the accuracy class of a value at 95 %, m.

    Examples
    --------
    >>> accuracy_class(0.0312), accuracy_class(0.01), accuracy_class(12.0)
    ('5 cm', '1 cm', 'none')
    """
    return next((name for limit, name in CLASSES if value <= limit), "none")


def preset(name: str) -> Specification:
    """Return a specification that a standard states.

    Parameters
    ----------
    name : str
        One of ``PRESETS``.
    """
    return PRESETS[name]


def _boundary(name: str, edition: str) -> Specification:
    return Specification(
        name,
        "relative positional precision",
        0.95,
        Limit(0.02, 50e-6, also=0.021336),
        pairs="adjacent",
        source=f"ALTA/NSPS Land Title Survey standards, {edition}: 2 cm (0.07 ft) + "
        "50 ppm, semi-major axis of the 95 % relative ellipse, adjacent corners",
    )


def _ratios() -> list[Specification]:
    orders = {
        "first": 100000,
        "second-1": 50000,
        "second-2": 20000,
        "third-1": 10000,
        "third-2": 5000,
    }
    source = (
        "FGCC, Standards and Specifications for Geodetic Control Networks, 1984: "
        "distance over its propagated standard deviation, directly connected marks"
    )
    return [
        Specification(
            f"fgcc-1984-{order}",
            "ratio",
            _ONE_SD,
            Limit(proportional=1 / n),
            pairs="adjacent",
            source=source,
            from_memory=True,
        )
        for order, n in orders.items()
    ]


_ONE_SD = 0.6826894921370859
"""Probability within one standard deviation of a normal variable."""


def _level_orders() -> list[Specification]:
    orders = {
        "first-1": 0.5,
        "first-2": 0.7,
        "second-1": 1.0,
        "second-2": 1.3,
        "third": 2.0,
    }
    return [
        Specification(
            f"fgcc-1984-height-{order}",
            "height difference",
            _ONE_SD,
            height=Limit(per_sqrt=value / 1000 / 1000**0.5),
            pairs="adjacent",
            source="FGCC 1984: propagated standard deviation of the height difference "
            "over the root of the distance, mm/√km",
            from_memory=True,
        )
        for order, value in orders.items()
    ]


def _vector_orders() -> list[Specification]:
    orders = {
        "aa": (0.003, 0.01),
        "a": (0.005, 0.1),
        "b": (0.008, 1.0),
        "1": (0.01, 10.0),
        "2-1": (0.02, 20.0),
        "2-2": (0.03, 50.0),
        "3": (0.05, 100.0),
    }
    return [
        Specification(
            f"fgcc-1989-{order}",
            "relative positional precision",
            0.95,
            Limit(constant, ppm * 1e-6, squares=True),
            source="FGCC, Geometric Geodetic Accuracy Standards for GPS Relative "
            "Positioning, 1988 with corrections of 1989: √(e² + (0.1 p d)²), 95 %",
            from_memory=True,
        )
        for order, (constant, ppm) in orders.items()
    ]


def _tiers() -> list[Specification]:
    orders = (
        (0, 0.05, 0.05, 0.003, 0.003, 3e-8, 3e-8),
        (1, 0.05, 0.10, 0.003, 0.003, 1e-7, 3e-7),
        (2, 0.10, 0.25, 0.003, 0.010, 1e-6, 3e-6),
        (3, 0.10, 0.35, 0.01, 0.01, 3e-6, 1e-5),
        (4, 0.15, 0.35, 0.01, 0.01, 1e-5, 3e-5),
        (5, 0.15, 0.35, 0.01, 0.02, 5e-5, 1e-4),
        (6, 0.15, nan, 0.03, nan, 1.5e-4, nan),
        (7, 0.2, nan, 0.06, nan, 1.5e-4, nan),
        (8, 0.5, nan, 0.3, nan, 6e-4, nan),
        (9, 5.0, nan, 1.0, nan, 3e-3, nan),
    )
    return [
        Specification(
            f"linz-order-{order}",
            "tier and class",
            0.95,
            Limit(c, p, squares=True),
            None if np.isnan(c_height) else Limit(c_height, p_height, squares=True),
            tier,
            tier_height,
            source="LINZS25006, tiers, classes and orders (table as published by Land "
            "Information New Zealand; that constant and proportional part join as "
            "squares is from memory); state the distance by within_m",
        )
        for order, tier, tier_height, c, c_height, p, p_height in orders
    ]


def _canada() -> list[Specification]:
    orders = {"first": 2.0, "second": 5.0, "third": 12.0, "fourth": 30.0}
    return [
        Specification(
            f"canada-1978-{order}",
            "relative positional precision",
            0.95,
            Limit(0.2 * c / 100, c / 100 / 1000),
            source="Specifications and Recommendations for Control Surveys, Canada "
            "1978: semi-major axis of the 95 % ellipse, C (d + 0.2) cm, d in km",
            from_memory=True,
        )
        for order, c in orders.items()
    ]


def _control_classes() -> list[Specification]:
    classes = {"primary": (10, 20), "secondary": (15, 30), "local": (25, 50)}
    return [
        Specification(
            f"ngs-92-{name}",
            "uncertainty to datum",
            0.95,
            Limit(plan / 1000),
            Limit(height / 1000),
            source="NOAA Technical Memorandum NOS NGS 92, 2024: network accuracy at "
            "95 %, horizontal and ellipsoid height",
        )
        for name, (plan, height) in classes.items()
    ]


PRESETS: Mapping[str, Specification] = {
    one.name: one
    for one in (
        _boundary("alta-nsps-2021", "2021"),
        _boundary("alta-nsps-2026", "2026"),
        *_ratios(),
        *_level_orders(),
        *_vector_orders(),
        *_tiers(),
        *_canada(),
        *_control_classes(),
    )
}
"""Specifications that standards state, by the name that job.toml gives."""
