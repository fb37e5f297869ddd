"""What was measured and what is known; no estimate is made here."""

from .errors import (
    BrasscapError,
    CannotWrite,
    CommandError,
    InputError,
    MissingPart,
    NoSolution,
)
from .findings import Finding, name_queries
from .frames import Frame, GeodeticFrame, LocalFrame
from .network import Network
from .observations import KnownMarks, Marks, Positions, SetUps, Vectors
from .options import Options

__all__ = [
    "BrasscapError",
    "CannotWrite",
    "CommandError",
    "Finding",
    "Frame",
    "GeodeticFrame",
    "InputError",
    "KnownMarks",
    "LocalFrame",
    "Marks",
    "MissingPart",
    "Network",
    "NoSolution",
    "Options",
    "Positions",
    "SetUps",
    "Vectors",
    "name_queries",
]
