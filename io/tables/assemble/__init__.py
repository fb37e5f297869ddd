"""Typed tables become a network: one file for each kind of thing."""

from .network import Survey, build_network, survey

__all__ = ["Survey", "build_network", "survey"]
