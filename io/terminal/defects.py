"""A defect of ours: what reproduces it is put into one file, and nothing is sent."""

import sys
from collections.abc import Sequence
from pathlib import Path


def write_bundle(folder: Path, argv: Sequence[str]) -> Path | None:
    """Write the traceback, the command line, the versions and a copy of the tables.

    The file stands in the present folder, else in the temporary one. Call it while
    the exception is being handled.

    Returns
    -------
    Path or None
        None where nothing can be written at all.
    """
    import tempfile
    import traceback
    from hashlib import sha256

    trace = traceback.format_exc()
    name = f"brasscap-defect-{sha256(trace.encode()).hexdigest()[:8]}.zip"
    content = _bundle(folder, trace, argv)
    for place in (Path.cwd(), Path(tempfile.gettempdir())):
        try:
            (place / name).write_bytes(content)
        except OSError:
            continue
        return place / name
    return None


def _bundle(folder: Path, trace: str, argv: Sequence[str]) -> bytes:
    from io import BytesIO
    from zipfile import ZIP_DEFLATED, ZipFile

    memory = BytesIO()
    with ZipFile(memory, "w", ZIP_DEFLATED, strict_timestamps=False) as bundle:
        bundle.writestr("traceback.txt", trace)
        bundle.writestr("command.txt", " ".join(["brasscap", *argv]) + "\n")
        bundle.writestr("versions.txt", _versions())
        for file in sorted(folder.glob("*")) + sorted(folder.glob("*/*.csv")):
            if file.is_file() and file.suffix in {".csv", ".toml"}:
                bundle.write(file, Path("job") / file.relative_to(folder))
    return memory.getvalue()


def _versions() -> str:
    from brasscap import __version__

    rows = [f"brasscap {__version__}", f"python {sys.version}", sys.platform]
    for name in ("numpy", "scipy", "pyproj", "networkx", "jinja2", "matplotlib"):
        module = sys.modules.get(name)
        if module:
            rows.append(f"{name} {getattr(module, '__version__', '?')}")
    return "\n".join(rows) + "\n"
