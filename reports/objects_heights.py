"""Heights above the geoid as plain objects for JSON."""

from .judged import Judged
from .objects_figures import POSITION, Object, rounded


def height_object(judged: Judged, mark: int) -> Object:
    """Return a mark's height above the geoid; nothing where the geoid is not known."""
    found = judged.heights
    if found is None:
        return {}
    return {
        "orthometric_height_m": rounded(float(found.height[mark]), POSITION),
        "undulation_m": rounded(float(found.undulation[mark]), POSITION),
        "sd_orthometric_height_mm": rounded(1000 * float(found.sd[mark]), 4),
    }


def geoid_object(judged: Judged) -> Object:
    """Return what stands behind those heights; nothing where the geoid is not known."""
    stated = judged.network.undulations
    if stated is None:
        return {}
    return {
        "geoid": {
            "model": stated.model,
            "height_datum": stated.height_datum,
            "estimated": {0: "none", 1: "shift"}.get(len(stated.estimated), "plane"),
        }
    }
