"""The tables of a job folder, one schema each."""

from .gnss import ANTENNAS, BASELINES, COVARIANCES, POSITIONS, SET_UPS
from .marks import CLAIMED, CONTROL, GEOID, NAMES, STATIONS
from .terrestrial import INSTRUMENTS, LEVELS, TOTAL_STATION
from .work import DECISIONS, DRIVE_TIMES, PROPOSED

ALL = (
    STATIONS,
    CONTROL,
    SET_UPS,
    ANTENNAS,
    BASELINES,
    POSITIONS,
    COVARIANCES,
    TOTAL_STATION,
    INSTRUMENTS,
    LEVELS,
    GEOID,
    NAMES,
    PROPOSED,
    DRIVE_TIMES,
    CLAIMED,
    DECISIONS,
)

__all__ = ["ALL"]
