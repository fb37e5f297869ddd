"""What a large job needs besides: full tables beside what a page can show."""

from dataclasses import replace
from typing import TYPE_CHECKING

from brasscap.networks import CannotWrite

if TYPE_CHECKING:
    from collections.abc import Iterator

    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress
    from brasscap.reports.full_tables import FullTable
    from brasscap.reports.heading import Heading
    from brasscap.reports.judged import Judged


def with_full_tables(
    heading: "Heading", loaded: "Loaded", judged: "Judged", progress: "Progress"
) -> tuple["Heading", tuple[str, ...]]:
    """Write the full tables of a large job; of a small one the page has them all.

    Parameters
    ----------
    heading : Heading
    loaded : Loaded
    judged : Judged
    progress : Progress

    Returns
    -------
    heading : Heading
        With file, rows and hash of each table.
    notes : tuple of str
        A folder that cannot be written is a note, not a failure.
    """
    from brasscap.io.streams import write_pieces
    from brasscap.reports.full_tables import full_tables
    from brasscap.reports.worst_rows import full_table, is_large

    if not is_large(judged):
        return heading, ()
    written, notes = [], []
    for table in full_tables(judged):
        progress(f"writing all {table.rows_count} rows of {table.name}")
        name = full_table(judged, table.name)
        try:
            digest = write_pieces(loaded.folder / name, _pieces(loaded, judged, table))
        except CannotWrite as error:
            notes.append(f"the full table is not kept: {error}")
            continue
        written.append((name, table.rows_count, digest))
    return replace(heading, full_tables=tuple(written)), tuple(notes)


def _pieces(loaded: "Loaded", judged: "Judged", table: "FullTable") -> "Iterator[str]":
    """Yield a table after a line that says what it was computed from."""
    from brasscap import __version__

    datum = judged.adjustment.datum
    yield (
        f"# adjusted {datum.mode}, {datum.text}; input {loaded.input_hash[:16]}; "
        f"brasscap {__version__}\n"
    )
    yield from table.pieces()
