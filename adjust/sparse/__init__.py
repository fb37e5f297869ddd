"""Sparse arithmetic: symmetric matrices factored front by front, and their inverse.

A multifrontal Cholesky factor in blocks, and the inverse on the pattern of the
matrix from the same tree. Nothing here knows a survey word. The way through it:
``graph`` who is joined to whom; ``numbering``, ``axes``, ``dissection``, ``separator``
and ``order`` in which order to eliminate; ``tree``, ``grouping``, ``layout``, ``links``
and ``stacks`` where everything is, ``sequence`` when; ``pattern`` and ``matrix`` the
entries; ``plan`` all of that made once. Then the numbers: ``factor``, ``elimination``,
``fronts``, ``sweeps``, ``selected`` and ``derivative``; ``null`` and ``condition`` say
how far these can be trusted.
"""

from .derivative import derivative
from .factor import SparseFactor
from .graph import Nodes
from .matrix import Normal
from .plan import Plan, symbolic
from .statistics import Statistics

__all__ = [
    "Nodes",
    "Normal",
    "Plan",
    "SparseFactor",
    "Statistics",
    "derivative",
    "symbolic",
]
