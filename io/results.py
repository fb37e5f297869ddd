"""Computed values kept in ``results/``, so that they need not be computed again.

A file a mode, with what cannot be derived. It counts only for exactly the input,
options and version that it was made from; one that is damaged or belongs to
something else is passed over and made anew. The folder is safe to delete.

Of a large network the factor of the normal equations is not kept, which is many times
as large as the network: it is made again, in one step and with no iteration.
"""

import zipfile
from collections.abc import Sequence
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np

from ..adjust import Adjustment
from ..adjust.again import factor_again
from ..adjust.datum import Datum, datum
from ..adjust.dense import DenseFactor, Singular
from ..adjust.elimination import Elimination, Factor
from ..adjust.free import InnerConstraints
from ..adjust.light import light_factor, rows_at
from ..adjust.nodes import Nodes, nodes_at
from ..adjust.shared_plan import own_elimination
from ..adjust.unknowns import unknown_columns
from ..networks import Network
from ..networks.covariances import Ints
from .files import make_folder, write_whole

# Changes when the arrays below do; results of another layout are made anew.
_LAYOUT = 6


def result_key(
    input_hash: str,
    network: Network,
    mode: str,
    over: str | Sequence[str] | None,
    version: str,
) -> str:
    """Return what a kept result must match: input, options, mode and version.

    Parameters
    ----------
    input_hash : str
        Of all tables and job.toml.
    network : Network
        Its options count.
    mode : str
    over : str or sequence of str, optional
    version : str
        Of this program.
    """
    parts = (_LAYOUT, version, np.__version__, input_hash, mode, over, network.options)
    return sha256(repr(parts).encode()).hexdigest()


def keep_result(folder: Path, adjustment: Adjustment, key: str) -> None:
    """Write what cannot be derived to ``results/MODE.npz``.

    Raises
    ------
    CannotWrite
    """
    memory = BytesIO()
    np.savez(memory, allow_pickle=False, **_arrays(adjustment, key))
    make_folder(folder / "results")
    write_whole(_place(folder, adjustment.datum.mode), memory.getvalue())


def read_result(
    folder: Path, network: Network, mode: str, key: str
) -> Adjustment | None:
    """Return the kept adjustment; None where there is none for this key."""
    try:
        # Read whole first: numpy leaves a broken archive open.
        content = BytesIO(_place(folder, mode).read_bytes())
        with np.load(content, allow_pickle=False) as file:
            arrays = {name: file[name] for name in file.files}
        return _restored(network, mode, arrays) if arrays["key"] == key else None
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None


def as_kept(adjustment: Adjustment) -> Adjustment:
    """Return an adjustment as it will be when read back, to the last bit.

    A free network is shifted as a whole after its residuals were formed, so forming
    them again rounds otherwise, and the factor of a large one belongs to where the
    last iteration began; the first answer must not differ from the second. How it
    is eliminated was planned where its iteration began, and is again when it is read.
    """
    arrays = _arrays(adjustment, "")
    network, mode = adjustment.network, adjustment.datum.mode
    solver = own_elimination(adjustment)
    # Of a large network there is no room for two factors.
    del adjustment
    return _restored(network, mode, arrays, solver)


def _place(folder: Path, mode: str) -> Path:
    return folder / "results" / f"{mode}.npz"


def _arrays(adjustment: Adjustment, key: str) -> dict[str, Any]:
    factor, inner = adjustment.factor, adjustment.inner
    arrays = {
        "key": np.array(key),
        "xyz": adjustment.nodes.xyz,
        "values": adjustment.nodes.values,
        "iterations": np.array(adjustment.iterations),
    }
    if isinstance(factor, DenseFactor):
        arrays |= {"lower": factor.lower, "basis": factor.basis}
    if inner is not None:
        arrays |= {
            "shifts": inner.shifts,
            "coupling": inner.coupling,
            "own": inner.own,
            "over": np.array(inner.over),
            "on_known": np.array(inner.on_known),
        }
    return arrays


def _restored(
    network: Network,
    mode: str,
    arrays: dict[str, Any],
    solver: Elimination | None = None,
) -> Adjustment:
    hold = datum(network, mode)
    columns = unknown_columns(network, hold)
    places = len(network.marks) + len(network.set_ups)
    fits = len(arrays["xyz"]) == places
    if not fits or len(arrays["values"]) != len(network.parameters):
        raise ValueError("the kept result belongs to another network")
    marks = len(network.marks)
    nodes = nodes_at(
        network, arrays["xyz"][:marks], arrays["xyz"][marks:], arrays["values"]
    )
    factor = light_factor(
        _factor(network, nodes, hold, columns, arrays, solver), columns
    )
    system, rows = rows_at(network, hold, nodes, columns)
    inner = None
    if "own" in arrays:
        over = tuple(str(name) for name in arrays["over"])
        inner = InnerConstraints(
            arrays["shifts"],
            arrays["coupling"],
            arrays["own"],
            over,
            bool(arrays["on_known"]),
        )
    return Adjustment(
        network,
        hold,
        nodes,
        columns,
        system,
        rows,
        factor,
        inner,
        int(arrays["iterations"]),
    )


def _factor(
    network: Network,
    nodes: Nodes,
    hold: Datum,
    columns: Ints,
    arrays: dict[str, Any],
    solver: Elimination | None,
) -> Factor:
    """Return the factor that is kept, or make it again."""
    if "lower" not in arrays:
        try:
            return factor_again(network, nodes, hold, columns, solver)
        except Singular:
            raise ValueError("the kept result belongs to another network") from None
    factor = DenseFactor(arrays["lower"], arrays["basis"])
    if factor.unknowns != int(columns.max(initial=-1)) + 1:
        raise ValueError("the kept result belongs to another network")
    return factor
