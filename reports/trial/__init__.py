"""A page to try things on: data, limits, template; the arithmetic is in its script."""

from .page import trial_html

__all__ = ["trial_html"]
