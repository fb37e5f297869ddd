"""The checked values of job.toml as dataclasses, in metres."""

from collections.abc import Mapping
from datetime import time
from math import radians
from typing import Any

from ...networks.options import Options
from ...networks.shots import TopoOptions
from ...networks.units import convert
from .job import (
    NO_REFRACTION,
    SET_UP_KINDS,
    FrameSection,
    Group,
    Job,
    Levels,
    NetworkSection,
    Refraction,
    SetUpKind,
    Transformation,
)

Values = Mapping[str, Any]


def job_of(values: Values) -> Job:
    """Return the job that checked values state; defaults where they are silent.

    Parameters
    ----------
    values : mapping
        As TOML gives them, without faults.
    """
    about = values.get("job", {})
    set_up = values.get("set_up", {})
    stated = tuple(kind for kind in set_up if kind != "none")
    units = values.get("units", {})
    return Job(
        title=about.get("title", ""),
        surveyor_in_charge=about.get("surveyor_in_charge", ""),
        licence=about.get("licence", ""),
        who=about.get("who", ""),
        utc_offset_h=_float(about, "utc_offset_h"),
        frame=_frame(values["frame"]),
        network=NetworkSection(**values.get("network", {})),
        length_unit=units.get("length", "m"),
        angle_unit=units.get("angle", "dms"),
        options=Options(**_floats(values.get("tests", {}))),
        set_up_kinds={
            kind: _set_up_kind(set_up.get(kind, {}), default)
            for kind, default in SET_UP_KINDS.items()
        },
        stated_kinds=stated,
        no_set_ups=set_up.get("none", False),
        refraction=_refraction(values),
        groups={
            name: Group(**_floats(group))
            for name, group in values.get("group", {}).items()
        },
        levels=Levels(
            _length(values.get("levels", {}), "sd_mm_per_sqrt_km", "mm"),
            _length(values.get("levels", {}), "sd_mm_per_set_up", "mm"),
        ),
        planned=values.get("planned", {}),
        specifications=values.get("spec", {}),
        crew=_crew(values.get("crew", {})),
        topo=_topo(values.get("topo", {})),
    )


def _frame(frame: Values) -> FrameSection:
    north = _float(frame, "combined_factor_origin_north_m")
    east = _float(frame, "combined_factor_origin_east_m")
    origin_north = _float(frame, "origin_north_m")
    origin_east = _float(frame, "origin_east_m")
    return FrameSection(
        kind=frame["kind"],
        geographic_epsg=frame.get("geographic_epsg"),
        epoch=_float(frame, "epoch"),
        grid_epsg=frame.get("grid_epsg"),
        geoid=frame.get("geoid", "none"),
        geoid_sd=_length(frame, "geoid_sd_mm", "mm"),
        undulation=frame.get("undulation", ""),
        combined_factor=_float(frame, "combined_factor"),
        combined_factor_origin=None if north is None or east is None else (north, east),
        earth=frame.get("earth", "flat"),
        latitude=_float(frame, "latitude_deg"),
        height_datum=frame.get("height_datum", ""),
        reference_height=_float(frame, "reference_height_m"),
        origin_latitude=_float(frame, "origin_latitude_deg"),
        origin_longitude=_float(frame, "origin_longitude_deg"),
        origin=None
        if origin_north is None or origin_east is None
        else (origin_north, origin_east),
        transformations=tuple(
            Transformation(
                way["from_epsg"], _float(way, "from_epoch"), way["operation"]
            )
            for way in frame.get("transformations", ())
        ),
    )


def _refraction(values: Values) -> Refraction:
    """Return the refraction as stated; a flat earth has none that is not stated."""
    stated = values.get("refraction", {})
    if stated:
        return Refraction(**_floats(stated), stated=True)
    frame = _frame(values["frame"])
    flat = frame.kind == "local" and frame.earth == "flat"
    return NO_REFRACTION if flat else Refraction()


def _set_up_kind(stated: Values, default: SetUpKind) -> SetUpKind:
    centring = _length(stated, "sd_centring_mm", "mm")
    height = _length(stated, "sd_height_mm", "mm")
    return SetUpKind(
        default.sd_centring if centring is None else centring,
        default.sd_height if height is None else height,
    )


def _topo(stated: Values) -> TopoOptions:
    """Return what shots are judged with; a key without a value keeps its default."""
    lengths = {
        "sd_plan": "sd_plan_mm",
        "sd_height": "sd_height_mm",
        "sd_length": "sd_pole_length_mm",
        "sd_sag": "sd_sag_mm",
        "limit_plan": "limit_plan_mm",
        "limit_height": "limit_height_mm",
        "one_place": "one_place_mm",
    }
    angles = {
        "sd_tilt": "sd_tilt_deg",
        "sd_azimuth": "sd_tilt_azimuth_deg",
        "sd_vial": "sd_vial_arcsec",
        "tilt_query": "tilt_query_deg",
        "tilt_limit": "tilt_limit_deg",
    }
    made: dict[str, float] = {}
    for name, key in lengths.items():
        if key in stated:
            made[name] = convert(repr(stated[key]), "mm")
    for name, key in angles.items():
        if key in stated:
            made[name] = radians(convert(repr(stated[key]), key.rpartition("_")[2]))
    return TopoOptions(**made)


def _crew(stated: Values) -> Values:
    # TOML has a time of its own: 14:00:00 without quotation marks.
    return {
        key: f"{value:%H:%M}" if isinstance(value, time) else value
        for key, value in stated.items()
    }


def _float(values: Values, key: str) -> float | None:
    return float(values[key]) if key in values else None


def _floats(values: Values) -> dict[str, Any]:
    return {
        key: float(value) if type(value) is int else value
        for key, value in values.items()
    }


def _length(values: Values, key: str, unit: str) -> float | None:
    # repr gives the decimal digits as booked, so that 1.5 mm is 0.0015 m.
    return convert(repr(values[key]), unit) if key in values else None
