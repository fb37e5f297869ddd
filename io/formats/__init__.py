"""Exchange formats, one module each, and the registry that lists them."""

from .control_csv import control_csv_pieces, write_control_csv
from .control_points import ControlPoints
from .dxf import write_dxf
from .geojson import geojson_pieces, write_geojson
from .geopackage import write_geopackage
from .gvx import GvxVectors, parse_gvx, read_gvx
from .positions_table import position_tables
from .registry import FORMATS, Format, formats_help
from .sinex import SinexSolution, parse_sinex, read_sinex
from .sinex_write import SolutionPoints, write_sinex
from .vectors_table import baseline_tables

__all__ = [
    "FORMATS",
    "ControlPoints",
    "Format",
    "GvxVectors",
    "SinexSolution",
    "SolutionPoints",
    "baseline_tables",
    "control_csv_pieces",
    "formats_help",
    "geojson_pieces",
    "parse_gvx",
    "parse_sinex",
    "position_tables",
    "read_gvx",
    "read_sinex",
    "write_control_csv",
    "write_dxf",
    "write_geojson",
    "write_geopackage",
    "write_sinex",
]
