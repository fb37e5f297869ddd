"""Least-squares adjustment of survey control networks.

Nothing is re-exported here, so that ``brasscap.adjust`` is always the package.
"""

__all__ = ["__version__"]

__version__ = "0.1.0"
