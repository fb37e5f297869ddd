"""One thing that could be observed next, or why it cannot."""

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from brasscap.adjust.design import Observable
    from brasscap.adjust.design.crew import Task


class Offer(NamedTuple):
    """One thing that could be done, and what would be observed by it."""

    kind: str
    """As proposed.csv calls it."""
    observable: "Observable"
    task: "Task"
    note: str = ""

    @property
    def proposal(self) -> str:
        """Name of the proposal; empty where nobody proposed it."""
        return self.observable.name


class Refused(NamedTuple):
    """A proposal that cannot be judged or done, and why."""

    kind: str
    proposal: str
    stations: tuple[str, ...]
    why: str
    minutes: float
