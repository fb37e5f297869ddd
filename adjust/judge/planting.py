"""A blunder put in on purpose: whether it is caught, by which test, what it does.

The network is changed as a wrong booking would change it, adjusted again and judged
as if nobody knew. What is already in the observations stays in them.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...networks import CommandError, Network
from ...networks.covariances import Bools, Floats
from ..adjustment import Adjustment
from ..estimate import estimate
from .blunder_table import BlunderTests
from .blunders import blunder_tests
from .known_marks import KnownMinusSurvey, known_minus_survey
from .variance_factor import VarianceFactor, variance_factor_test

AXES = ("east", "north", "height")
SIGHTS = (
    "slope distance",
    "horizontal distance",
    "direction",
    "angle",
    "azimuth",
    "zenith angle",
)
IN_AXES = ("set-up", "baseline", "position", "known mark")
KINDS = (*IN_AXES, "tripod", "antenna", "level difference", *SIGHTS)
"""What a blunder can be planted in."""
ANGLES = ("direction", "angle", "azimuth", "zenith angle")


@dataclass(frozen=True, slots=True)
class Blunder:
    """A wrong booking: how much too large it is."""

    kind: str
    """One of ``KINDS``."""
    name: str
    axis: str
    """``east``, ``north`` or ``height``; empty for a reading."""
    size: float
    """m; rad for an angle."""


@dataclass(frozen=True, slots=True)
class Planted:
    """A network before and after a blunder was put in."""

    blunder: Blunder
    before: Adjustment
    after: Adjustment
    tests_before: BlunderTests
    tests: BlunderTests
    known_before: KnownMinusSurvey
    known: KnownMinusSurvey
    factor_before: VarianceFactor
    factor: VarianceFactor
    moved: Floats
    """(m, 3) how far each mark was moved, east, north, up, m."""
    at: tuple[int, ...]
    """Rows of ``tests`` that are about what was planted."""

    @property
    def caught_by(self) -> tuple[int, ...]:
        """Rows of ``tests`` newly over their limit, largest first."""
        over = {
            (self.tests_before.kind[i], self.tests_before.name[i])
            for i, test in enumerate(self.tests_before.basis.test)
            if test > 1
        }
        return tuple(
            int(i)
            for i in self.tests.order()
            if self.tests.basis.test[i] > 1
            and (self.tests.kind[i], self.tests.name[i]) not in over
        )

    @property
    def grown(self) -> tuple[int, ...]:
        """Rows of ``at`` over their limit before, now larger by more than the limit.

        The blunder alone would take such a test over.
        """
        before = {
            (self.tests_before.kind[i], self.tests_before.name[i]): float(test)
            for i, test in enumerate(self.tests_before.basis.test)
        }
        kind, name = self.tests.kind, self.tests.name
        own = [(i, before.get((kind[i], name[i]), np.nan)) for i in self.at]
        test = self.tests.basis.test
        return tuple(i for i, was in own if was > 1 and test[i] - was > 1)

    @property
    def named_first(self) -> bool:
        """Whether no test of anything else is larger than those of what was planted."""
        test = self.tests.basis.test
        own = max((float(test[i]) for i in self.at), default=0.0)
        largest = float(np.nanmax(test, initial=0.0))
        return largest <= (1 + 1e-6) * own

    @property
    def known_caught(self) -> tuple[int, ...]:
        """Rows of ``known`` that are over their limit and were not before."""
        before = zip(self.known_before.known_row, self.known_before.test, strict=True)
        over = {int(row) for row, test in before if test > 1}
        return tuple(
            i
            for i, test in enumerate(self.known.test)
            if test > 1 and int(self.known.known_row[i]) not in over
        )

    @property
    def factor_caught(self) -> bool:
        """Whether the variance factor fails and did not before."""
        return self.factor.verdict == "fails" != self.factor_before.verdict

    @property
    def caught(self) -> bool:
        """Whether any test says what it did not say before."""
        return bool(
            self.caught_by or self.grown or self.known_caught or self.factor_caught
        )

    @property
    def verdict(self) -> str:
        """``meets``: caught; ``query``: it passed; ``unchecked``: nothing could see it.

        Of the trial, not of the job, whose own verdict stays what it is.
        """
        own = [self.tests.verdict[i] for i in self.at]
        if self.caught:
            return "meets"
        return "unchecked" if own and set(own) == {"unchecked"} else "query"


def plant(adjustment: Adjustment, blunder: Blunder) -> Planted:
    """Return what becomes of a blunder.

    Parameters
    ----------
    adjustment : Adjustment
        Of the network as it is; the planted one is adjusted in the same mode.
    blunder : Blunder

    Raises
    ------
    CommandError
        There is no such observation, set-up or mark, or no part in the solution.
    """
    network = planted(adjustment.network, blunder)
    after = estimate(network, adjustment.datum.mode, like=adjustment)
    marks = len(network.marks)
    axes = adjustment.nodes.axes[:marks]
    moved = after.nodes.xyz[:marks] - adjustment.nodes.xyz[:marks]
    tests = blunder_tests(after)
    return Planted(
        blunder,
        adjustment,
        after,
        blunder_tests(adjustment),
        tests,
        known_minus_survey(adjustment),
        known_minus_survey(after),
        variance_factor_test(adjustment),
        variance_factor_test(after),
        np.einsum("nij,nj->ni", axes, moved),
        _about(tests, blunder),
    )


def planted(network: Network, blunder: Blunder) -> Network:
    """Return the network with a booking that is too large by the blunder.

    Parameters
    ----------
    network : Network
    blunder : Blunder

    Raises
    ------
    CommandError
        There is no such thing in use.

    Examples
    --------
    >>> sorted(KINDS)[:3]
    ['angle', 'antenna', 'azimuth']
    """
    if blunder.kind == "set-up":
        rows = _found(blunder, network.set_ups.name)
        return _stood(network, rows, blunder)
    if blunder.kind in ("tripod", "antenna"):
        if blunder.axis != "height":
            raise CommandError(
                f"a {blunder.kind} is planted with a height: every one of its set-ups "
                f"has it in common;  {blunder.kind} {blunder.name} height 30 mm"
            )
        booked = getattr(network.set_ups, blunder.kind)
        return _stood(network, _found(blunder, booked), blunder)
    if blunder.kind in SIGHTS:
        return _sighted(network, blunder)
    plain: dict[str, Callable[[Network, Blunder], Network]] = {
        "baseline": _measured,
        "position": _positioned,
        "known mark": _known,
        "level difference": _levelled,
    }
    return plain[blunder.kind](network, blunder)


def _about(tests: BlunderTests, blunder: Blunder) -> tuple[int, ...]:
    """Return the tests of the planted thing; for a height those that have one."""
    kinds = {blunder.kind}
    if blunder.kind == "set-up" and blunder.axis == "height":
        kinds.add("set-up height")
    if blunder.kind == "known mark":
        plan = "height" if blunder.axis == "height" else "plan"
        kinds.add(f"known mark {plan}")
    return tuple(
        i
        for i in range(len(tests))
        if tests.kind[i] in kinds and _called(tests.name[i], blunder.name)
    )


def _called(booked: str, name: str) -> bool:
    """Return whether a name is meant; a set of faces goes by either pointing."""
    return booked == name or name in booked.split(" + ")


def _found(blunder: Blunder, names: Sequence[str], used: Bools | None = None) -> Bools:
    """Return which rows are meant."""
    rows = np.array([_called(booked, blunder.name) for booked in names], dtype=bool)
    if not rows.any():
        from difflib import get_close_matches

        near = get_close_matches(blunder.name, [*filter(None, names)], 1, 0.5)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise CommandError(f"there is no {blunder.kind} {blunder.name!r}{hint}")
    if used is not None:
        rows &= used
        if not rows.any():
            raise CommandError(
                f"{blunder.kind} {blunder.name} takes no part: a decision left it out"
            )
    return rows


def _stood(network: Network, rows: Bools, blunder: Blunder) -> Network:
    """Return the network with set-ups booked too high, or off to a side."""
    set_ups, count = network.set_ups, len(network.marks)
    if blunder.axis != "height":
        eccentricity = set_ups.eccentricity.copy()
        eccentricity[rows, AXES.index(blunder.axis)] += blunder.size
        return replace(network, set_ups=replace(set_ups, eccentricity=eccentricity))
    more = np.zeros(count + len(set_ups) + 1)
    # One place more, of zero, for node −1.
    more[count:-1][rows] = blunder.size
    vectors, positions = network.vectors, network.positions
    return replace(
        network,
        set_ups=replace(set_ups, height=set_ups.height + more[count:-1]),
        vectors=replace(
            vectors,
            start_offset=vectors.start_offset + more[vectors.start],
            end_offset=vectors.end_offset + more[vectors.end],
        ),
        positions=replace(positions, offset=positions.offset + more[positions.node]),
        sights=tuple(
            replace(
                some,
                at_height=some.at_height + more[some.at],
                to_height=some.to_height + more[some.to],
                back_height=some.back_height + more[some.back],
            )
            for some in network.sights
        ),
    )


def _measured(network: Network, blunder: Blunder) -> Network:
    vectors = network.vectors
    rows = _found(blunder, vectors.name, vectors.used)
    start = network.mark_of(vectors.start)
    delta = vectors.delta.copy()
    for row in np.flatnonzero(rows):
        delta[row] += _shift(network, start[row], blunder)
    return replace(network, vectors=replace(vectors, delta=delta))


def _shift(network: Network, mark: int, blunder: Blunder) -> Floats:
    """Return the blunder along the axes of a mark, in cartesian axes."""
    from ..start import starting_positions

    place = starting_positions(network)[mark]
    axes = network.frame.axes(place[None])[0]
    return np.asarray(blunder.size * axes[AXES.index(blunder.axis)])


def _positioned(network: Network, blunder: Blunder) -> Network:
    positions = network.positions
    axis = AXES.index(blunder.axis)
    seen = positions.used & positions.components[:, axis]
    rows = _found(blunder, positions.name, seen)
    xyz = positions.xyz.copy()
    xyz[rows] += blunder.size * network.frame.axes(xyz[rows])[:, axis]
    return replace(network, positions=replace(positions, xyz=xyz))


def _known(network: Network, blunder: Blunder) -> Network:
    known, axis = network.known, AXES.index(blunder.axis)
    names = [network.marks.name[mark] for mark in known.mark]
    rows = _found(blunder, names, known.used & known.components[:, axis])
    xyz = known.xyz.copy()
    xyz[rows] += blunder.size * network.frame.axes(xyz[rows])[:, axis]
    return replace(network, known=replace(known, xyz=xyz))


def _levelled(network: Network, blunder: Blunder) -> Network:
    levels = network.levels
    if levels is None:
        raise CommandError("there is no level difference in this job")
    rows = _found(blunder, levels.name, levels.used)
    return replace(
        network, levels=replace(levels, rise=levels.rise + blunder.size * rows)
    )


def _sighted(network: Network, blunder: Blunder) -> Network:
    made = list(network.sights)
    for k, some in enumerate(made):
        if some.kind == blunder.kind:
            rows = _found(blunder, some.name, some.used)
            made[k] = replace(some, value=some.value + blunder.size * rows)
            return replace(network, sights=tuple(made))
    raise CommandError(f"there is no {blunder.kind} in this job")
