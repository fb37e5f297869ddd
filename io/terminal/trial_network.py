"""The network that a trial means: blunders planted in it, work added to it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.io.tables.load import Loaded
    from brasscap.io.trial_file import Change
    from brasscap.networks import Network
    from brasscap.networks.covariances import Floats
    from brasscap.networks.planning import Planned
    from brasscap.reports.trial import Proposed

HEIGHT = 1.5
"""m, of the instruments of added work; it cancels."""


def with_planted(network: "Network", changes: "Sequence[Change]") -> "Network":
    """Return the network with the blunders that a trial plants.

    Parameters
    ----------
    network : Network
    changes : sequence of Change

    Raises
    ------
    CommandError
        There is no such thing, or its size cannot be read.
    """
    from brasscap.adjust.judge.planting import planted
    from brasscap.planting import read_blunder

    plants = [f"{c.kind} {c.name} {c.value}" for c in changes if c.action == "plant"]
    if not plants:
        return network
    # A blunder in what is switched off does nothing, but is no mistake.
    made = _used_as(network, None)
    for said in plants:
        made = planted(made, read_blunder(said))
    return _used_as(made, network)


def _used_as(network: "Network", other: "Network | None") -> "Network":
    """Return the network with what is in use in another; all of it without one."""
    from dataclasses import replace
    from typing import Any

    import numpy as np

    def used(some: Any, model: Any) -> Any:
        if some is None:
            return None
        flags = np.ones_like(some.used) if model is None else model.used
        return replace(some, used=flags)

    def of(name: str) -> Any:
        return None if other is None else getattr(other, name)

    models = [None] * len(network.sights) if other is None else other.sights
    return replace(
        network,
        vectors=used(network.vectors, of("vectors")),
        positions=used(network.positions, of("positions")),
        known=used(network.known, of("known")),
        levels=used(network.levels, of("levels")),
        sights=tuple(map(used, network.sights, models)),
    )


def with_added(
    loaded: "Loaded",
    network: "Network",
    mode: str,
    added: "Sequence[Proposed]",
    before: "Adjustment",
) -> "Network":
    """Return the network with added work, observed just as the network says.

    Parameters
    ----------
    loaded : Loaded
    network : Network
    mode : str
    added : sequence of Proposed
    before : Adjustment
        Of the job, for marks that only the added work ties.
    """
    from brasscap.networks.planning import with_planned
    from brasscap.networks.simulate import undisturbed

    if not added:
        return network
    places = _places(network, mode, before)
    work = [_planned(loaded, one, before, k) for k, one in enumerate(added)]
    wide = with_planned(network, work, places)
    return _only_added(network, wide, undisturbed(wide, places))


def _places(network: "Network", mode: str, before: "Adjustment") -> "Floats":
    """Return where the network says that the marks are, m."""
    from brasscap.adjust import estimate
    from brasscap.networks import NoSolution

    marks = len(network.marks)
    try:
        made: Floats = estimate(network, mode).nodes.xyz[:marks]
    except NoSolution:
        made = before.nodes.xyz[:marks]
    return made


def _planned(
    loaded: "Loaded", one: "Proposed", before: "Adjustment", number: int
) -> "Planned":
    """Return added work as it is planned, its sds without those of the set-ups."""
    import numpy as np

    from brasscap.expecting import angular_sds
    from brasscap.networks.planning import Planned

    stand = loaded.job.set_up_kinds["tripod"]
    support = stand.sd_centring, stand.sd_height
    seen = one.observable
    ends = {"baseline": 2, "position": 1}.get(seen.kind, 0)
    variances = np.diag(seen.covariance)
    sds: tuple[float, ...]
    if seen.kind == "total-station round":
        sds = angular_sds(loaded, before.network)[:3]
    elif seen.kind == "levelling run":
        sds = (float(variances[0] ** 0.5),)
    else:
        plan = float(variances[0] - ends * support[0] ** 2) ** 0.5
        height = float(variances[2] - ends * support[1] ** 2) ** 0.5
        sds = plan, height
    name = f"added {number + 1}, {one.kind} {one.name}"
    return Planned(name, seen.kind, seen.marks, sds, support, HEIGHT)


def _only_added(before: "Network", wide: "Network", read: "Network") -> "Network":
    """Return the wider network, with the values read for what is added to it alone."""
    from dataclasses import replace

    import numpy as np

    vectors, positions, levels = wide.vectors, wide.positions, wide.levels
    old, more = len(before.vectors), len(before.positions)
    delta = np.concatenate([vectors.delta[:old], read.vectors.delta[old:]])
    xyz = np.concatenate([positions.xyz[:more], read.positions.xyz[more:]])
    if levels is not None and read.levels is not None:
        runs = 0 if before.levels is None else len(before.levels)
        rise = np.concatenate([levels.rise[:runs], read.levels.rise[runs:]])
        levels = replace(levels, rise=rise)
    counts = {some.kind: len(some) for some in before.sights}
    sights = []
    for some, seen in zip(wide.sights, read.sights, strict=True):
        known = counts.get(some.kind, 0)
        value = np.concatenate([some.value[:known], seen.value[known:]])
        sights.append(replace(some, value=value))
    return replace(
        wide,
        vectors=replace(vectors, delta=delta),
        positions=replace(positions, xyz=xyz),
        levels=levels,
        sights=tuple(sights),
    )
