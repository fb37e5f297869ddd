"""What an import understands of a file of others, by a mapping of its columns."""

from pathlib import Path
from typing import TYPE_CHECKING

from brasscap.importing import Understood, added

if TYPE_CHECKING:
    from brasscap.io.mapping.columns import ColumnMapping


def mapped(path: Path, table: str, name: str, by: Path) -> Understood:
    """Return what is understood of a file whose columns a mapping names.

    Parameters
    ----------
    path : Path
        The file of others.
    table : str
        Where it goes.
    name : str
        Of the import.
    by : Path
        The mapping.

    Raises
    ------
    InputError
        With every fault of the mapping, or of the file.
    """
    from brasscap.io.additions import cannot_read, importable
    from brasscap.io.mapping.making import mapped_addition
    from brasscap.io.mapping.mapping_file import read_mapping
    from brasscap.networks import InputError

    try:
        content = by.read_bytes()
    except OSError as error:
        raise InputError([cannot_read(by, error)]) from error
    mapping, findings = read_mapping(by.name, content, table, importable()[table])
    if mapping is None:
        raise InputError(findings)
    return _with_mapping(
        added(mapped_addition(path, mapping, name), path, name), mapping
    )


def restated(
    path: Path, table: str, name: str, length_unit: str, covariance: str
) -> Understood:
    """Return what is understood of a table of which two options say what is in it.

    Parameters
    ----------
    path : Path
        With our headers, but for the unit of lengths, or for what six columns are.
    table, name : str
    length_unit : str
        ``m``, ``ift``, ``sft``; empty = as each header says.
    covariance : str
        ``cov``, ``sd-corr``; empty = as each header says.

    Raises
    ------
    CommandError
        They change nothing.
    InputError
        With every fault of the file.
    """
    from brasscap.arguments import wrong
    from brasscap.io.additions import cannot_read, importable
    from brasscap.io.mapping.making import mapped_addition
    from brasscap.io.mapping.restating import restate
    from brasscap.io.tables.sheet import read_sheet
    from brasscap.networks import InputError

    try:
        sheet, findings = read_sheet(path.name, path.read_bytes())
    except OSError as error:
        raise InputError([cannot_read(path, error)]) from error
    if sheet is None:
        raise InputError(findings)
    schema = importable()[table]
    mapping, findings = restate(sheet, table, schema, length_unit, covariance)
    if findings:
        raise InputError(findings)
    if all(one.theirs == one.header for one in mapping.columns):
        raise wrong(
            f"import: {mapping.file} changes nothing in {path.name}: its headers say "
            "it already, or are not those of the table; leave the option out"
        )
    return _with_mapping(
        added(mapped_addition(path, mapping, name), path, name), mapping
    )


def _with_mapping(read: Understood, mapping: "ColumnMapping") -> Understood:
    by = f", SHA-256 {mapping.digest[:12]}…" if mapping.digest else ""
    facts = [("mapping", mapping.file + by)]
    facts += [(one.theirs, one.said) for one in mapping.columns]
    if mapping.leave_out:
        facts.append(("left out", ", ".join(mapping.leave_out)))
    for header, value in mapping.every_row.items():
        facts.append(("every row", f"{header} {value}"))
    stated = {
        "file": mapping.file,
        "sha256": mapping.digest,
        "columns": [
            {
                "theirs": one.theirs,
                "ours": one.header,
                "sign": one.sign,
                "confidence": one.confidence,
            }
            for one in mapping.columns
        ],
        "leave_out": list(mapping.leave_out),
        "every_row": dict(mapping.every_row),
    }
    kept = [fact for fact in read.facts if fact[0] != "columns"]
    data = read.data | {"mapping": stated}
    return read._replace(facts=(*kept, *facts), data=data)
