"""Queries of the last results, kept in ``results/`` beside them; safe to delete."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from ..networks.queries import Query
from .files import make_folder, write_whole

_PLACE = Path("results", "queries.json")


def keep_queries(folder: Path, queries: Sequence[Query], key: str) -> None:
    """Write the queries that results raise, under the key of the result.

    Parameters
    ----------
    folder : Path
        The job's folder.
    queries : sequence of Query
        Named, without answers: those are in the decisions.
    key : str
        Of the result that raises them.

    Raises
    ------
    CannotWrite
    """
    kept = {"key": key, "queries": [asdict(query) for query in queries]}
    make_folder((folder / _PLACE).parent)
    text = json.dumps(kept, sort_keys=True, ensure_ascii=False, indent=1)
    write_whole(folder / _PLACE, text + "\n")


def read_queries(folder: Path, key: str) -> tuple[Query, ...] | None:
    """Return the kept queries; None where there are none for this key."""
    try:
        kept = json.loads((folder / _PLACE).read_text(encoding="utf-8"))
        if kept["key"] != key:
            return None
        return tuple(Query(**one) for one in kept["queries"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
