"""Terms and their meaning, and the cautions that end a report."""

GLOSSARY: tuple[tuple[str, str], ...] = (
    (
        "blunder",
        "a mistake, not a chance error: a height read to the wrong point, a mark "
        "mistaken for another",
    ),
    (
        "set-up",
        "an antenna, instrument or target over a mark, with its own centring and its "
        "own height; it is tested like any observation",
    ),
    (
        "free station",
        "an instrument over no mark, whose place follows from what it sighted",
    ),
    (
        "orientation",
        "the direction of the circle's zero, an unknown of every round of directions",
    ),
    (
        "refraction coefficient",
        "radius of the earth over that of the line of sight, which the air bends; "
        "0.13 by day is often taken, and near warm ground it may be far from it",
    ),
    (
        "variance factor",
        "the ratio of the misfit found to the misfit that the stated covariances lead "
        "one to expect: a ratio of variances, not of sds; 1 is as stated",
    ),
    ("degrees of freedom", "observations beyond those needed to compute the unknowns"),
    (
        "test",
        "1 is the limit; the figure grows in proportion to the blunder. Over 1 is a "
        "query; over 1 and unlikely anywhere in the job fails",
    ),
    (
        "redundancy",
        "the share of an observation that the others check, between none and its "
        "number of components; all of them sum to the degrees of freedom",
    ),
    (
        "smallest seen",
        "the smallest blunder that the test would find with the stated power; a "
        "smaller one is mostly missed",
    ),
    (
        "unchecked",
        "nothing else depends on it, so no error in it could show; neither a pass nor "
        "a failure",
    ),
    (
        "95 % ellipse",
        "the true position lies inside it 19 times in 20 if the stated covariances "
        "hold and there is no blunder",
    ),
    (
        "stated, estimated",
        "precision from the covariances as booked, and the same multiplied by the "
        "variance factor that was found",
    ),
    (
        "residual",
        "adjusted minus observed; where a difference is called booked too large, it is "
        "booked minus what the rest says",
    ),
    (
        "held, weighted, check-only",
        "a known mark that is exact, that may move within "
        "its stated uncertainty, or that is only compared",
    ),
)
"""Terms and their meaning."""

CAUTIONS: tuple[str, ...] = (
    "This is a computation. It certifies nothing. Local rules, and the judgement of "
    "the licensed person in charge, come first.",
    "A survey that meets every test may still hold a blunder smaller than the "
    "smallest seen, and any blunder where it says unchecked.",
    "Before going back to the field: roads and traffic (be seen, have a look-out); "
    "overhead lines (keep poles and rods down and well clear, 3 m at the very least "
    "and more at high voltage); excavations (stay back from the edge); water; lone "
    "work (agree times to call in); lightning (stop, lower everything, take shelter).",
)
"""What must be read before the figures are used."""

FIELD_CAUTIONS: tuple[str, ...] = (
    "Overhead lines: carry poles and staffs low and well clear, 3 m at the very least "
    "and more at high voltage; never hold one up near a line.",
    "Roads and rail: be seen, have a look-out, keep to the traffic plan; no set-up on "
    "a track without the operator's leave.",
    "Excavations and water: stay back from the edge; nothing is measured from an "
    "unsupported one.",
    "Lone work: agree times to call in. Lightning: stop, lower everything, take "
    "shelter. Lasers: never look into the beam, never sight at eyes or drivers.",
)
"""What a crew reads before going out (common practice, no source)."""
