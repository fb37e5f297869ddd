"""Sparse arithmetic: symmetric matrices factored front by front, and their inverse.

A multifrontal Cholesky factor in blocks, and the inverse on the pattern of the
matrix from the same tree. Nothing here knows a survey word. The way through it:
``graph`` who is joined to whom, ``axes``, ``dissection``, ``cover`` and ``order`` in
which order to eliminate, ``tree``, ``layout`` and ``stacks`` where everything is,
``pattern`` and ``matrix`` the entries, ``plan`` all of that made once; ``factor``,
``fronts``, ``sweeps`` and ``selected`` the numbers; ``null`` and ``condition`` how
far these can be trusted.
"""

from .factor import SparseFactor
from .graph import Nodes
from .matrix import Normal
from .plan import Plan, symbolic
from .statistics import Statistics

__all__ = ["Nodes", "Normal", "Plan", "SparseFactor", "Statistics", "symbolic"]
