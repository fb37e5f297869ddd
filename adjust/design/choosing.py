"""The order of what to observe: stop anywhere, and what is done was well chosen.

Greedy with every candidate scored again after each step, since lazy scoring chose other
sets (the worth is not submodular), and a look one step ahead: two visits may buy
together what neither buys alone.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from ...networks.covariances import Bools, Floats
from .observable import Observable
from .scored import ORDER, Scores
from .state import NO_MARKS, State, keeping, observed
from .worth import scores

AHEAD = 8
"""How many candidates are looked at with their best successor."""
PROMISING = 10
"""How many successors are timed, where what each takes at the least is known."""
LEAST = 0.85
"""Share of the best single worth a minute below which no first half of a pair falls:
the day may end after it."""
_NOTHING = 1e-4
"""Worth below which a candidate buys nothing that would be noticed."""


@dataclass(frozen=True, slots=True)
class Choice:
    """What may be chosen from, and how a choice is judged."""

    candidates: Sequence[Observable]
    order: Sequence[str] = ORDER
    """What matters most first."""
    minutes: Callable[[Sequence[int], int], float] = field(
        default=lambda before, one: 1.0
    )
    """Minutes that a candidate adds to those chosen before; inf where it cannot be
    done. Without it all cost the same."""
    least: Floats | None = None
    """(k,) minutes that each takes at the very least; bounds the look ahead."""
    parts: Bools | None = None
    """(k, G) which groups of suspects each candidate would tell apart."""

    def scored(
        self, state: State, some: Sequence[int], before: Sequence[int]
    ) -> Scores:
        """Return what some candidates would buy beside those chosen before.

        Parameters
        ----------
        state : State
            With those before.
        some, before : sequence of int
            Numbers of candidates.
        """
        groups = None
        if self.parts is not None:
            done = self.parts[list(before)].any(axis=0)
            groups = (self.parts[list(some)] & ~done).sum(axis=1) * 1.0
        chosen = [self.candidates[k] for k in some]
        return scores(state, chosen, groups)

    def costs(self, before: Sequence[int], some: Sequence[int]) -> Floats:
        """Return the minutes that each of some candidates adds."""
        return np.array([self.minutes(before, k) for k in some])


@dataclass(frozen=True, slots=True)
class Chosen:
    """One step of an order."""

    candidate: int
    scores: Scores
    """Of it alone, beside what was chosen before; arrays of one."""
    worth: float
    minutes: float
    state: State
    """How the network stands after it; it keeps no mark."""


def choose(state: State, choice: Choice, most: int = 10) -> list[Chosen]:
    """Return candidates in the order in which they buy most per minute.

    Parameters
    ----------
    state : State
    choice : Choice
    most : int, optional
        How many at most.

    Returns
    -------
    list of Chosen
        In that order.
    """
    made: list[Chosen] = []
    left = list(range(len(choice.candidates)))
    while left and len(made) < most:
        before = [step.candidate for step in made]
        minutes = choice.costs(before, left)
        found = choice.scored(state, left, before)
        worth = found.worth(choice.order)
        best = _best(state, choice, left, before, worth, minutes)
        if best < 0:
            break
        state = observed(state, choice.candidates[left[best]])
        made.append(
            Chosen(
                left[best],
                found.of([best]),
                float(worth[best]),
                float(minutes[best]),
                keeping(state, NO_MARKS),
            )
        )
        left.pop(best)
    return made


def _best(
    state: State,
    choice: Choice,
    left: Sequence[int],
    before: Sequence[int],
    worth: Floats,
    minutes: Floats,
) -> int:
    """Return which of those left to take; −1 where none buys anything.

    The one that buys most per minute, unless two together buy more per minute: then
    the one of them that buys more alone, if that is nearly as much.
    """
    able = np.isfinite(minutes)
    rate = np.where(able, worth / minutes, -np.inf)
    best = int(np.argmax(rate))
    buys = able[best] and worth[best] > _NOTHING
    top, found = (rate[best], best) if buys else (0.0, -1)
    for k in np.argsort(-rate, kind="stable")[:AHEAD].tolist():
        rest = [j for j in left if j != left[k]]
        if not able[k] or not rest:
            continue
        then = observed(state, choice.candidates[left[k]])
        more = choice.scored(then, rest, [*before, left[k]]).worth(choice.order)
        near = _promising(choice, rest, worth[k] + more, float(minutes[k]))
        added = choice.costs([*before, left[k]], [rest[j] for j in near])
        both = np.full(len(rest), -np.inf)
        both[near] = (worth[k] + more[near]) / (minutes[k] + added)
        j = int(np.argmax(both))
        if both[j] > top * (1 + 1e-9) and worth[k] + more[j] > _NOTHING:
            pair = (k, left.index(rest[j]))
            first = max(pair, key=lambda i: float(rate[i]))
            if not buys or rate[first] >= LEAST * rate[best]:
                top, found = both[j], first
    return found


def _promising(
    choice: Choice, rest: Sequence[int], worth: Floats, minutes: float
) -> list[int]:
    """Return the places in the rest of those that could buy most per minute."""
    if choice.least is None:
        return list(range(len(rest)))
    rate = worth / (minutes + choice.least[list(rest)])
    found: list[int] = np.argsort(-rate, kind="stable")[:PROMISING].tolist()
    return found
