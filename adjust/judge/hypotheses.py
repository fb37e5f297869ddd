"""What could be wrong, one thing at a time: the columns of each possible blunder.

A blunder shifts some rows by C∇. Its whitened columns are kept cluster by cluster;
what they do to residuals and marks is for others to say.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ...networks.covariances import Floats, Ints
from ..adjustment import Adjustment
from ..equations import Equations
from .blunders import nodes_over
from .names import about, names
from .pieces import at_nodes, piece, places_of, session_pieces, some_columns
from .shifts import Edge, by_cluster, edges_at_nodes, noise_of_each
from .turned import turn_of

_AXES = ("east", "north", "up")
_VALUE = ("value",)
_IN_RADIANS = ("direction", "angle", "azimuth", "zenith angle")


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One thing that could be wrong, in p components."""

    kind: str
    """As a blunder test calls it; also ``tripod``, ``antenna``, ``session``."""
    name: str
    about: str
    """In words: "O11 (T103, session S6)"."""
    axes: tuple[str, ...]
    """What the p components are: ``east``, ``north``, ``up``, or ``value``; those of
    a session are its vectors', x, y, z each."""
    measure: str
    """Unit of a shift: ``m``, ``rad``, or ``own`` for a parameter's own."""
    pieces: tuple[Edge, ...]
    """Batch, cluster, whitened columns (q, p)."""
    noise: Floats
    """(p, p) variance with which a set-up stands for its mark: what the information
    is measured against to call the blunder unchecked."""
    carried: int = -1
    """The held mark that is itself booked wrong and goes along; −1 for none."""


def observations(
    adjustment: Adjustment, only: Mapping[str, Ints] | None = None
) -> list[Hypothesis]:
    """Return a wrong row for each observation and known mark in use.

    Vectors and positions in east, north, up; readings in their own value; known
    marks in plan and in height apart, held ones by letting them go.

    Parameters
    ----------
    adjustment : Adjustment
    only : mapping of str to ndarray of int, optional
        Rows of each kind that are wanted, and no known marks; all when not given.
    """
    made: list[Hypothesis] = []
    for some in adjustment.equations:
        if some.kind not in ("set-up", "known mark"):
            used = np.flatnonzero(some.used) if only is None else only[some.kind]
            made += _rows(adjustment, some, used)
    return made + known_marks(adjustment) if only is None else made


def set_ups(adjustment: Adjustment, only: Ints | None = None) -> list[Hypothesis]:
    """Return a wrong place with height, and a wrong height alone, of each set-up.

    Parameters
    ----------
    adjustment : Adjustment
    only : ndarray of int, optional
        Which of them; all when not given.
    """
    count, table = len(adjustment.network.marks), adjustment.network.set_ups
    every = np.arange(len(table)) if only is None else only
    touching = edges_at_nodes(adjustment, count + every)
    said = about(adjustment.network, "set-up", every)
    noises = noise_of_each(adjustment, count + every)
    made: list[Hypothesis] = []
    for k, i in enumerate(every.tolist()):
        made += _set_up(
            at_nodes(touching, [count + i]), (table.name[i], said[k]), noises[k]
        )
    return made


def _set_up(
    seen: tuple[list[Edge], list[int]], words: tuple[str, str], noise: Floats
) -> Iterator[Hypothesis]:
    """Yield a wrong place with height, and a wrong height alone, of one set-up."""
    pieces, axes = seen
    for kind, wanted in (("set-up", (0, 1, 2)), ("set-up height", (2,))):
        kept = [k for k in wanted if k in axes]
        if kept and (len(wanted) == 1 or kept != [2]):
            yield Hypothesis(
                kind,
                *words,
                tuple(_AXES[k] for k in kept),
                "m",
                some_columns(pieces, kept),
                noise[np.ix_(kept, kept)],
            )


def equipment(adjustment: Adjustment, kind: str) -> list[Hypothesis]:
    """Return a height error common to all set-ups of a tripod, or of an antenna.

    Parameters
    ----------
    kind : "tripod" or "antenna"
    """
    table, count = adjustment.network.set_ups, len(adjustment.network.marks)
    touching = edges_at_nodes(adjustment)
    booked = table.tripod if kind == "tripod" else table.antenna
    made = []
    for name in dict.fromkeys(word for word in booked if word):
        over = [i for i, word in enumerate(booked) if word == name]
        pieces, axes = at_nodes(touching, [count + i for i in over])
        if 2 not in axes:
            continue
        called = ", ".join(table.name[i] for i in over)
        noise = np.array([[np.mean(table.sd_height[over] ** 2) / len(over)]])
        words = f"{name}, height common to {called}"
        columns = some_columns(pieces, [2])
        made.append(Hypothesis(kind, name, words, ("up",), "m", columns, noise))
    return made


def sessions(adjustment: Adjustment) -> list[Hypothesis]:
    """Return all vectors of a session wrong at once, each in its own way."""
    network = adjustment.network
    used = np.flatnonzero(network.vectors.used & (network.vectors.session >= 0))
    session = network.vectors.session[used]
    used = used[np.argsort(session, kind="stable")]
    first = np.searchsorted(np.sort(session), np.arange(len(network.sessions) + 1))
    place = places_of(adjustment, "baseline")
    made = []
    for number, name in enumerate(network.sessions):
        rows = used[first[number] : first[number + 1]]
        if not len(rows):
            continue
        called = ", ".join(network.vectors.name[i] for i in rows)
        pieces = tuple(session_pieces(adjustment, place, rows))
        size = pieces[0][2].shape[1]
        axes = tuple(f"{network.vectors.name[i]} {k}" for i in rows for k in "xyz")
        made.append(
            Hypothesis(
                "session",
                name,
                f"{name}, vectors {called}",
                axes[:size],
                "m",
                pieces,
                np.zeros((size, size)),
            )
        )
    return made


def together(hypotheses: Sequence[Hypothesis]) -> Hypothesis:
    """Return several things wrong at once, each in its own way.

    Parameters
    ----------
    hypotheses : sequence of Hypothesis
        One at the least; what goes along with a held mark is not kept.
    """
    sizes = [len(one.axes) for one in hypotheses]
    total, noise = sum(sizes), np.zeros((sum(sizes), sum(sizes)))
    pieces: list[Edge] = []
    first = 0
    for one, size in zip(hypotheses, sizes, strict=True):
        at = slice(first, first + size)
        noise[at, at] = one.noise
        for batch, c, column in one.pieces:
            wide = np.zeros((len(column), total))
            wide[:, at] = column
            pieces.append((batch, c, wide))
        first += size
    return Hypothesis(
        hypotheses[0].kind,
        ", ".join(one.name for one in hypotheses),
        ", ".join(one.about for one in hypotheses),
        tuple(f"{one.name} {axis}" for one in hypotheses for axis in one.axes),
        hypotheses[0].measure,
        tuple(by_cluster(pieces)),
        noise,
    )


def known_marks(adjustment: Adjustment) -> list[Hypothesis]:
    """Return each known mark in use wrong, plan and height apart, held or weighted."""
    return list(_weighted(adjustment)) + list(_held(adjustment))


def _rows(adjustment: Adjustment, some: Equations, used: Ints) -> Iterator[Hypothesis]:
    """Yield some edges of one kind, each by itself."""
    network, turn = adjustment.network, turn_of(adjustment, some)
    words = zip(
        names(network, some.kind, used), about(network, some.kind, used), strict=True
    )
    place = places_of(adjustment, some.kind, used)
    for edge, (name, said) in zip(used.tolist(), words, strict=True):
        active = np.flatnonzero(some.active[edge])
        reading = some.active.shape[1] == 1
        yield Hypothesis(
            some.kind,
            name,
            said,
            _VALUE if reading else tuple(_AXES[k] for k in active),
            _measure(some.kind),
            (piece(place[edge], turn[edge][:, active]),),
            np.zeros((len(active), len(active))),
        )


def _weighted(adjustment: Adjustment) -> Iterator[Hypothesis]:
    """Yield each weighted known mark, plan and height apart."""
    network = adjustment.network
    for some in adjustment.equations:
        if some.kind != "known mark":
            continue
        place = places_of(adjustment, some.kind)
        for edge in np.flatnonzero(some.used).tolist():
            mark = network.marks.name[network.known.mark[edge]]
            for word, components in (("plan", (0, 1)), ("height", (2,))):
                kept = [k for k in components if some.active[edge, k]]
                if kept:
                    own = piece(place[edge], np.eye(3)[:, kept])
                    yield _known(word, mark, kept, (own,), -1)


def _held(adjustment: Adjustment) -> Iterator[Hypothesis]:
    """Yield each held known mark, plan and height apart.

    The mark that a minimal solution starts from is its origin, no observation.
    """
    network, datum = adjustment.network, adjustment.datum
    if datum.mode != "constrained":
        return
    rows = np.flatnonzero(datum.held_rows.any(axis=1)).tolist()
    over = [nodes_over(adjustment, row) for row in rows]
    every = np.concatenate([np.zeros(0, np.int64), *over])
    touching = edges_at_nodes(adjustment, every)
    for row, nodes in zip(rows, over, strict=True):
        mark = int(network.known.mark[row])
        pieces, axes = at_nodes(touching, nodes.tolist())
        for word, components in (("plan", (0, 1)), ("height", (2,))):
            kept = [k for k in components if datum.held_rows[row, k] and k in axes]
            if kept:
                columns = some_columns(pieces, kept)
                yield _known(word, network.marks.name[mark], kept, columns, mark)


def _known(
    word: str, mark: str, kept: list[int], pieces: tuple[Edge, ...], carried: int
) -> Hypothesis:
    size = len(kept)
    axes = tuple(_AXES[k] for k in kept)
    return Hypothesis(
        f"known mark {word}",
        mark,
        mark,
        axes,
        "m",
        pieces,
        np.zeros((size, size)),
        carried,
    )


def _measure(kind: str) -> str:
    if kind == "parameter":
        return "own"
    return "rad" if kind in _IN_RADIANS else "m"
