"""Typed tables become a network: one file for each kind of thing."""

from .network import build_network
from .surveyed import Survey, survey

__all__ = ["Survey", "build_network", "survey"]
