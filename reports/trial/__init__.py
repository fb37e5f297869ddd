"""A page to try things on: data, limits, template; the arithmetic is in its script."""

from .data import Trial
from .page import trial_html
from .proposed import Proposed

__all__ = ["Proposed", "Trial", "trial_html"]
