"""``suspects``: why a test failed, or passed too well."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, nearest, wrong

if TYPE_CHECKING:
    from brasscap.adjust.causes import Suspects
    from brasscap.answer import Answer
    from brasscap.progress import Progress

COMMAND = Command(
    "[NAME with --about]",
    0,
    -1,
    (
        Option(
            "--about", "only causes about one thing: its kind, then its name", "KIND"
        ),
        Option(
            "--simulate",
            "find how likely so large a test is anywhere by drawing N surveys",
            "N",
        ),
        Option(
            "--datum",
            "the solution that is looked at; constrained if not said",
            "MODE",
            False,
            ("minimal", "constrained"),
        ),
    ),
    example="brasscap suspects --about set-up O11",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Try all causes of the misfit; nothing is changed or written."""
    from brasscap.adjust.causes import suspects
    from brasscap.answer import Answer
    from brasscap.queries import Known, all_queries, with_own_queries
    from brasscap.reports.content_suspects import suspects_document
    from brasscap.reports.objects_suspects import suspects_object
    from brasscap.steps import adjusted, exit_code, head, read_job
    from brasscap.suspected import labels_of, likeness_of, parted, weighed_of

    kind, name = _asked(request)
    loaded = read_job(request, progress)
    mode = request.values.get("datum", "constrained")
    adjustment = adjusted(request, loaded, mode, progress, keep=False).adjustment
    progress("trying causes")
    plain = found = suspects(adjustment, labels_of(loaded), name)
    draws = _draws(request)
    if draws:
        from brasscap.adjust.causes.simulated import simulated

        progress(f"drawing {draws} surveys")
        found = simulated(found, draws)
    about = _places(found, kind, name) if name else None
    partings = parted(found, loaded)
    likeness = likeness_of(found, loaded)
    progress("judging standard deviations")
    weighed = weighed_of(found, loaded)
    heading = head(request, loaded)
    overall = weighed.weights.overall(found)
    unsaid: tuple[str, ...] = ()
    if draws and found.simulation is None:
        unsaid = (_not_drawn(found),)
    answer = Answer(
        suspects_document(found, partings, heading, likeness, about, weighed),
        suspects_object(found, partings, heading.findings, likeness, about, weighed)
        | {"queries": []},
        exit_code([overall], loaded, request),
        unsaid,
    )
    if name or mode != "constrained":
        return answer
    queries = all_queries(
        request,
        loaded,
        adjustment,
        progress,
        known=Known(suspects=plain, weighed=weighed if found is plain else None),
    )
    return with_own_queries(request, loaded, answer, queries, overall)


def _not_drawn(found: "Suspects") -> str:
    """Return why --simulate changed nothing."""
    if not len(found):
        return "--simulate: no cause could be tried, so nothing was drawn"
    return (
        f"--simulate: {found.made.dropped} causes were too many to be taken together "
        "and were left out, so nothing was drawn; probabilities are by formula"
    )


_FEWEST, _MOST = 100, 1_000_000


def _draws(request: Request) -> int:
    """Return how many surveys to draw; 0 for none."""
    given = request.values.get("simulate")
    if given is None:
        return 0
    if not given.isascii() or not given.isdigit() or len(given) > 7:
        raise wrong(f"--simulate {given!r}: write a whole number, such as 10000")
    if not _FEWEST <= int(given) <= _MOST:
        raise wrong(f"--simulate {given}: from {_FEWEST} to {_MOST} surveys")
    return int(given)


def _asked(request: Request) -> tuple[str, str]:
    """Return kind and name that were asked for; empty for all."""
    said = " ".join([request.values.get("about", ""), *request.words]).strip()
    if "about" not in request.values:
        if said:
            raise wrong(f"suspects takes no words; try  --about KIND {said}")
        return "", ""
    kind, _, name = said.partition(" ")
    if said.startswith("known mark "):
        kind, name = "mark", said.removeprefix("known mark ")
    if not name.strip():
        raise wrong(f"--about {said}: say kind and name, such as  --about set-up O11")
    return kind, name.strip()


def _places(found: "Suspects", kind: str, name: str) -> list[int]:
    """Return the places of causes about a name; of one kind where two things share it.

    Raises
    ------
    CommandError
        Nothing has that name.
    """
    network = found.adjustment.network
    causes = [name for cause in found.made.causes for name in cause.about]
    things = (network.marks.name, network.set_ups.name, network.vectors.name, causes)
    known = {one for names in things for one in names}
    if name not in known:
        raise wrong(f"--about: there is no {name!r}{nearest(name, sorted(known))}")
    named = [k for k in range(len(found)) if name in found.about[k]]
    of_kind = [
        k
        for k in named
        if kind in found.kind[k] or kind in found.words[k].replace(name, "")
    ]
    return of_kind or named
