"""A part of a larger network: what it must be told of the whole."""

from dataclasses import dataclass

from .covariances import Bools, Floats


@dataclass(frozen=True, slots=True)
class Part:
    """What a part cannot see by itself, since other parts observe it too."""

    observed: Bools
    """(N, 3) components of marks and set-ups that the whole network observes."""
    stood: Bools
    """(s,) set-ups that, as observations, are of this part."""
    priors: Bools
    """(q,) parameters whose priors are observations of this part."""
    middle: Floats | None = None
    """(3,) middle of all marks, about whose vertical groups of vectors are turned;
    None: that of the part's own marks."""
