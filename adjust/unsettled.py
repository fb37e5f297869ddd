"""An iteration that does not settle, in words: what is to blame, or fits worst."""

from collections.abc import Sequence

import numpy as np

from ..networks import Network, NoSolution
from ..networks.covariances import Bools, Floats
from .contradicted import Attempts, Suspect, misfits, to_blame
from .equations import Equations
from .start import guessed_marks

_BEYOND = 1e9
"""m; some hundred times the earth's radius. Of an angle in radians, no less absurd."""
_ANGLES = frozenset({"direction", "angle", "azimuth", "zenith angle"})


def refuse_not_finite(network: Network) -> None:
    """Raise NoSolution for the first observation in use whose value is no number.

    Nor is what no two places on the earth can be apart.
    """
    vectors, positions, levels = network.vectors, network.positions, network.levels
    placed = np.where(positions.components, positions.xyz, 0.0)
    _refuse("baseline", vectors.name, vectors.used, vectors.delta)
    _refuse("position", positions.name, positions.used, placed)
    for some in network.sights:
        _refuse(some.kind, some.name, some.used, some.value[:, None])
    if levels is not None:
        _refuse("level difference", levels.name, levels.used, levels.rise[:, None])


def _refuse(kind: str, names: Sequence[str], used: Bools, booked: Floats) -> None:
    # NaN is not smaller either.
    bad = np.flatnonzero(used & ~(np.abs(booked) < _BEYOND).all(axis=1))
    if len(bad):
        raise NoSolution(
            f"{kind} {names[bad[0]]} has no value that can be computed with",
            mend="check what is booked for it, or leave it out",
        )


def unsettled(
    network: Network,
    system: tuple[Equations, ...],
    steps: int,
    move: float,
    attempts: Attempts | None = None,
) -> NoSolution:
    """Return the exception that names what is to blame, and what fits the start worst.

    To blame is the one thing without which the network settles and fits. Where the
    start was a guess for some marks it names those instead: then nothing that was
    observed is to blame.

    Parameters
    ----------
    network : Network
    system : tuple of Equations
        At the starting positions.
    steps : int
        Steps that were taken.
    move : float
        By how much the last one still moved a mark, m.
    attempts : callable, optional
        Adjusts networks; None where one has no solution. Without it nothing is tried.
    """
    from .judge.names import about  # late: the judges take time to import

    guessed = guessed_marks(network)
    if guessed:
        return _from_guesses(guessed)
    many = "step" if steps == 1 else "steps"
    said = (
        f"the iteration does not settle: after {steps} {many} a mark still moves by "
        f"{_move(move)}"
    )
    worst = max(system, key=lambda some: float(misfits(some).max()))
    ratios = misfits(worst)
    row = int(ratios.max(axis=1).argmax())
    (named,) = about(network, worst.kind, np.array([row]))
    component = int(ratios[row].argmax())
    by = _words(worst.kind, float(worst.misclosure[row, component]))
    nodes = worst.node[row]
    places = len(network.marks) + len(network.set_ups)
    marks = network.mark_of(nodes[(nodes >= 0) & (nodes < places)])
    figures = (
        f"booked {by} than they give, {_many(float(ratios[row, component]))} standard "
        "deviations"
    )
    blamed = to_blame(network, system, attempts) if attempts else ()
    if blamed:
        same = blamed[0].words == f"{worst.kind} {named}"
        start = f"; it fits the starting positions worst, {figures}" if same else ""
        return _blaming(said, blamed, start if len(blamed) == 1 else "")
    unsure = ""
    if attempts:
        unsure = "; leaving out one thing after another mends nothing, so which is "
        unsure += "wrong cannot be told; "
    return NoSolution(
        f"{said}{unsure or '; '}{worst.kind} {named} fits the starting positions "
        f"worst, {figures}",
        tuple(dict.fromkeys(network.marks.name[m] for m in marks)),
        mend="check value, unit and marks there first, and the known marks near by; if "
        "they are right, give better approximate positions in stations.csv",
    )


def _blaming(said: str, blamed: tuple[Suspect, ...], start: str) -> NoSolution:
    """Return the words where leaving out one thing, or one of some, mends it."""
    marks = tuple(dict.fromkeys(name for one in blamed for name in one.marks))
    if len(blamed) == 1:
        return NoSolution(
            f"{said}; without {blamed[0].words} it settles, and the rest fits{start}",
            marks,
            mend="check its value, unit and marks; if it cannot be mended, leave it "
            "out by a decision",
        )
    listed = "; ".join(one.words for one in blamed[:5])
    more = f"; and {len(blamed) - 5} more" if len(blamed) > 5 else ""
    return NoSolution(
        f"{said}; it settles, and the rest fits, without any one of these, and which "
        f"is wrong cannot be told: {listed}{more}",
        marks,
        mend="check the values, units and marks of each",
    )


def _from_guesses(guessed: tuple[str, ...]) -> NoSolution:
    few = ", ".join(guessed[:8])
    return NoSolution(
        "the iteration does not settle: the observations do not place "
        f"{few}{' …' if len(guessed) > 8 else ''} one after the other, and it started "
        "from a guess",
        guessed,
        mend="give them approximate positions in "
        "stations.csv, a few tens of metres will do, or measure distances to them",
    )


def _move(move: float) -> str:
    if move < 1.0:
        return f"{1000 * move:.2f} mm"
    return f"{move:.1f} m" if move < 1e4 else "more than 10 km"


def _many(ratio: float) -> str:
    return f"{ratio:.0f}" if ratio < 1e6 else f"{ratio:.1e}"


def _words(kind: str, misclosure: float) -> str:
    far = abs(misclosure) >= 1e9
    size = f"{abs(misclosure):.1e} m" if far else f"{abs(misclosure):.3f} m"
    if kind in _ANGLES:
        size = f"{np.degrees(abs(misclosure)):.4f}°"
    return f"{size} {'more' if misclosure > 0 else 'less'}"
