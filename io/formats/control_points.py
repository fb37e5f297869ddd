"""Adjusted marks as plain columns, for the writers of exchange formats."""

from dataclasses import dataclass

from ...networks.covariances import Floats
from ...networks.units import UNITS


@dataclass(frozen=True, slots=True)
class ControlPoints:
    """n marks, one row each; what a writer may say about them and nothing else."""

    name: tuple[str, ...]
    geodetic: Floats
    """(n, 3) latitude and longitude in degrees, ellipsoidal height in m; NaN in a
    local job."""
    grid: Floats
    """(n, 3) north, east, height, m; NaN where there is no grid."""
    covariance: Floats
    """(n, 3, 3) east, north, up, m²; 0 for a held component, NaN where not
    estimated."""
    frame: str
    """Frame, epoch and grid in words."""
    frame_epsg: int | None
    """Of the geographic frame; None in a local job."""
    epoch: float | None
    """Decimal year."""
    height_kind: str
    """``ellipsoidal``, or the name of the height datum."""
    unit: str = "m"
    """In which lengths are written: ``m``, ``ift`` or ``sft``."""
    source: str = ""
    """Job, record and date, as the reader is to quote them."""
    covariance_kind: str = "stated"
    """Whose variance factor the covariance has: ``stated`` or ``estimated``."""
    unchecked: tuple[str, ...] = ()
    """(n,) what nothing checks: ``plan``, ``height``, ``plan and height``, empty =
    all is checked; without entries nothing is said."""
    orthometric: Floats | None = None
    """(n, 2) height above the geoid and its sd, m; NaN where it is not known; None
    where the job says nothing of the geoid."""
    geoid: str = ""
    """Height datum and geoid model in words."""

    @property
    def sd_mm(self) -> Floats:
        """(n, 3) standard deviations east, north, up, mm."""
        variances = self.covariance.diagonal(axis1=1, axis2=2)
        deviations: Floats = variances**0.5 * 1000
        return deviations

    @property
    def unchecked_words(self) -> str:
        """Marks that nothing checks, with what of each; ``none`` if there are none."""
        pairs = zip(self.name, self.unchecked, strict=True)
        return "; ".join(f"{name} ({what})" for name, what in pairs if what) or "none"

    @property
    def unit_words(self) -> str:
        """The unit of length in words."""
        return UNITS[self.unit].words

    def in_unit(self, metres: float) -> float:
        """Return a length in the unit of writing."""
        return float(metres / UNITS[self.unit].factor)

    @property
    def height_column(self) -> str:
        """The header of the height, unit included."""
        kind = "ellipsoidal_height" if self.height_kind == "ellipsoidal" else "height"
        return f"{kind}_{self.unit}"
