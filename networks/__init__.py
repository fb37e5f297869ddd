"""What was measured and what is known; no estimate is made here."""

from .errors import (
    BrasscapError,
    CannotWrite,
    CommandError,
    InputError,
    MissingPart,
    NoSolution,
    RecordDiffers,
)
from .findings import Finding, name_queries
from .frames import Frame, GeodeticFrame, LocalFrame
from .network import Network
from .observations import (
    KnownMarks,
    Levels,
    Marks,
    Parameters,
    Positions,
    SetUps,
    Sights,
    Vectors,
)
from .options import Options
from .undulations import Undulations

__all__ = [
    "BrasscapError",
    "CannotWrite",
    "CommandError",
    "Finding",
    "Frame",
    "GeodeticFrame",
    "InputError",
    "KnownMarks",
    "Levels",
    "LocalFrame",
    "Marks",
    "MissingPart",
    "Network",
    "NoSolution",
    "Options",
    "Parameters",
    "Positions",
    "RecordDiffers",
    "SetUps",
    "Sights",
    "Undulations",
    "Vectors",
    "name_queries",
]
