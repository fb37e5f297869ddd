"""A table with our headers of which an option says what its numbers are."""

from ...networks.findings import Finding
from ..tables.header import base_of
from ..tables.schema import Column, Schema, split_header
from ..tables.sheet import Sheet
from .columns import ColumnMapping, Taken

_SQUARES = {"mm": "mm2", "m": "m2"}
_ROOTS = {square: unit for unit, square in _SQUARES.items()}


def restate(
    sheet: Sheet, table: str, schema: Schema, length_unit: str, covariance: str
) -> tuple[ColumnMapping, list[Finding]]:
    """Return each column of a sheet with the header that its numbers ask for.

    A header that states its unit keeps it; a foot gets its name.

    Parameters
    ----------
    sheet : Sheet
    table : str
        As asked for.
    schema : Schema
        Of that table.
    length_unit : str
        ``m``, ``ift``, ``sft``; empty = as the headers say.
    covariance : str
        ``cov``: what stands under sd_x … corr_xy are covariances; ``sd-corr``: what
        stands under cov_xx … are standard deviations and correlations; empty = as the
        headers say.

    Examples
    --------
    >>> from brasscap.io.tables.schema import schemas
    >>> sheet = Sheet("v.csv", ["dx_ft", "cov_xx_mm2", "cov_xy_mm2", "crew"])
    >>> made, _ = restate(sheet, "baselines", schemas()["baselines"], "sft", "sd-corr")
    >>> [one.header for one in made.columns]
    ['dx_sft', 'sd_x_mm', 'corr_xy', 'crew']
    """
    header = [cell.strip() for cell in sheet.header]
    stated = [_with_unit(written, schema, length_unit) for written in header]
    findings: list[Finding] = []
    if covariance == "sd-corr":
        stated = [_root(one, schema) for one in stated]
    elif covariance == "cov":
        stated = [_square(one, stated, schema, sheet, findings) for one in stated]
    options = [f"--length-unit {length_unit}"] if length_unit else []
    options += [f"--covariance {covariance}"] if covariance else []
    mapping = ColumnMapping(" ".join(options), table, tuple(stated))
    return mapping, findings


def _with_unit(written: str, schema: Schema, length_unit: str) -> Taken:
    name = base_of(written, schema)
    column = schema.by_name.get(name)
    bare = written in (name, f"{name}_ft", f"{name}_feet", f"{name}_foot")
    if column is not None and column.measure == "length" and bare and length_unit:
        is_foot = written != name
        if not (is_foot and length_unit == "m"):
            return Taken(written, column, length_unit)
    return _kept(written, written)


def _kept(theirs: str, header: str) -> Taken:
    return Taken(theirs, Column(header, "", "word"))


def _pair(taken: Taken, kind: str) -> tuple[str, str]:
    """Return axes and unit of a header cov_xx_mm2, sd_x_mm or corr_xy."""
    name, unit = split_header(taken.header)
    axes = name.removeprefix(f"{kind}_") if name.startswith(f"{kind}_") else ""
    return axes, unit


def _root(taken: Taken, schema: Schema) -> Taken:
    """Return a column of covariances as one of standard deviations, correlations."""
    axes, unit = _pair(taken, "cov")
    if len(axes) != 2 or unit not in _ROOTS:
        return taken
    same = axes[0] == axes[1]
    name = f"sd_{axes[0]}" if same else f"corr_{axes}"
    if name not in schema.by_name:
        return taken
    return _kept(taken.theirs, f"{name}_{_ROOTS[unit]}" if same else name)


def _square(
    taken: Taken,
    every: list[Taken],
    schema: Schema,
    sheet: Sheet,
    findings: list[Finding],
) -> Taken:
    """Return a column of standard deviations or correlations as one of covariances."""
    axis, unit = _pair(taken, "sd")
    pair, _ = _pair(taken, "corr")
    name = f"cov_{pair or axis * 2}"
    if name not in schema.by_name:
        return taken
    if pair:
        # A covariance has the unit of the variances beside it.
        units = {u for a, u in (_pair(o, "sd") for o in every) if a in (*pair,)}
        unit = units.pop() if len(units) == 1 else ""
    if unit not in _SQUARES:
        findings.append(_no_square(sheet, taken.theirs, name))
        return taken
    return _kept(taken.theirs, f"{name}_{_SQUARES[unit]}")


def _no_square(sheet: Sheet, theirs: str, name: str) -> Finding:
    return Finding(
        "unit-wrong",
        "fault",
        f"header of {sheet.file}",
        file=sheet.file,
        row=sheet.header_row,
        line=sheet.header_line,
        column=theirs,
        booked=theirs,
        against=f"{name} in mm2 or m2: sd_x_mm … or sd_x_m …, all alike",
        mend=f"in a copy of the file, head it {name}_mm2 or {name}_m2",
    )
