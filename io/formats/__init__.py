"""Exchange formats, one module each."""

from .sinex import SinexSolution, parse_sinex, read_sinex

__all__ = ["SinexSolution", "parse_sinex", "read_sinex"]
