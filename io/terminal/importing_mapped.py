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
    from hashlib import sha256

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
    digest = sha256(content).hexdigest()
    addition = mapped_addition(path, mapping, name, digest)
    return _with_mapping(added(addition, path, name), mapping, digest)


def _with_mapping(
    read: Understood, mapping: "ColumnMapping", digest: str
) -> Understood:
    facts = [("mapping", f"{mapping.file}, SHA-256 {digest[:12]}…")]
    facts += [(one.theirs, one.said) for one in mapping.columns]
    if mapping.leave_out:
        facts.append(("left out", ", ".join(mapping.leave_out)))
    for header, value in mapping.every_row.items():
        facts.append(("every row", f"{header} {value}"))
    stated = {
        "file": mapping.file,
        "sha256": digest,
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
