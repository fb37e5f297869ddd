"""What follows from adjusted control: shots that hang on it, and what moves them."""

from .budget import Budget
from .descent import Descent, descent, descent_graph
from .hung import Hung, hang

__all__ = ["Budget", "Descent", "Hung", "descent", "descent_graph", "hang"]
