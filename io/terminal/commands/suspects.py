"""``suspects``: it failed, or passed too well: why?"""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, wrong

if TYPE_CHECKING:
    from brasscap.adjust.causes import Labels, Suspects
    from brasscap.adjust.causes.parting import Candidate, Parting
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
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
            "--datum",
            "the solution that is looked at; constrained if not said",
            "MODE",
            False,
            ("minimal", "constrained"),
        ),
    ),
    example="brasscap suspects --about set-up O11",
)

_PARTED = 3
"""Groups for which a parting observation is sought."""


def run(request: Request, progress: "Progress") -> "Answer":
    """Try all causes of the misfit; nothing is changed or written."""
    from brasscap.adjust.causes import suspects
    from brasscap.answer import Answer
    from brasscap.reports.content_suspects import suspects_document
    from brasscap.reports.objects_suspects import suspects_object
    from brasscap.steps import adjusted, exit_code, head, read_job

    kind, name = _asked(request)
    loaded = read_job(request, progress)
    mode = request.values.get("datum", "constrained")
    adjustment = adjusted(request, loaded, mode, progress, keep=False).adjustment
    progress("trying causes")
    found = suspects(adjustment, labels_of(loaded), name)
    about = _places(found, kind, name) if name else None
    partings = parted(found, loaded)
    heading = head(request, loaded)
    return Answer(
        suspects_document(found, partings, heading, (), about),
        suspects_object(found, partings, heading.findings, (), about),
        exit_code([found.overall], loaded, request),
    )


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
    return [
        k
        for k in range(len(found))
        if name in found.about[k]
        and (kind in found.kind[k] or kind in found.words[k].replace(name, ""))
    ]


def labels_of(loaded: "Loaded") -> "Labels":
    """Return the names of instruments, prisms and staffs that the tables book.

    Parameters
    ----------
    loaded : Loaded
    """
    from brasscap.adjust.causes import Labels

    tables = loaded.tables
    instrument: dict[str, str] = {}
    prism: dict[str, str] = {}
    staff: dict[str, str] = {}
    if "total_station" in tables and "set_ups" in tables:
        stood = tables["set_ups"]
        of = dict(zip(stood.word("set_up"), stood.word("instrument"), strict=True))
        rows = tables["total_station"]
        for name, at, seen in zip(
            rows.word("pointing"), rows.word("set_up"), rows.word("prism"), strict=True
        ):
            instrument[str(name)], prism[str(name)] = str(of.get(at, "")), str(seen)
    if "levels" in tables:
        rows = tables["levels"]
        for name, run, pair in zip(
            rows.word("section"), rows.word("run"), rows.word("staff_pair"), strict=True
        ):
            staff[f"{name} {run}".strip()] = staff[str(name)] = str(pair)
    return _of_means(loaded, Labels(instrument, prism, staff))


def _of_means(loaded: "Loaded", labels: "Labels") -> "Labels":
    """Return the labels also under the names of means: "T1-01 + T1-08"."""
    from dataclasses import replace

    instrument, prism = dict(labels.instrument), dict(labels.prism)
    for sights in loaded.network.sights:
        for name in sights.name:
            first = name.split(" + ")[0]
            instrument.setdefault(name, instrument.get(first, ""))
            prism.setdefault(name, prism.get(first, ""))
    return replace(labels, instrument=instrument, prism=prism)


def parted(found: "Suspects", loaded: "Loaded") -> "dict[int, Parting]":
    """Return the observation that parts the causes of a group best, by group.

    One that proposed.csv has comes first where it parts them; else the best of any to
    a neighbouring mark.

    Parameters
    ----------
    found : Suspects
    loaded : Loaded
    """
    from brasscap.adjust.causes.parting import best_parting, candidates_near

    proposed = proposals(found, loaded)
    made = {}
    for n, group in enumerate(found.groups[:_PARTED]):
        if len(group.members) < 2 or not found.test[group.members[0]] > 1:
            continue
        pair = (int(found.number[group.members[0]]), int(found.number[group.members[1]]))
        causes = found.made.causes
        near = candidates_near(
            found.adjustment, [*causes[pair[0]].marks, *causes[pair[1]].marks]
        )
        best = None
        for some in (proposed, near):
            one = best_parting(found.adjustment, found.made, found.joint, pair, some)
            if one is not None and (best is None or best.after < 1 < one.after):
                best = one
        if best is not None:
            made[n] = best
    return made


def proposals(found: "Suspects", loaded: "Loaded") -> "list[Candidate]":
    """Return the vectors and runs of proposed.csv, with their expected sds.

    Parameters
    ----------
    found : Suspects
    loaded : Loaded
    """
    from math import isfinite

    from brasscap.adjust.causes.parting import Candidate, usual_sds

    table = loaded.tables.get("proposed")
    if table is None:
        return []
    plan, height = usual_sds(found.adjustment)
    marks = found.adjustment.network.marks.name
    kinds = {"baseline": "baseline", "levelling run": "levelled run"}
    made = []
    for i in range(len(table)):
        kind = kinds.get(str(table.word("kind")[i]), "")
        ends = [str(table.word(f"{end}_station")[i]) for end in ("from", "to")]
        if not kind or any(e not in marks for e in ends) or table.word("blocked")[i]:
            continue
        stated = loaded.job.planned.get(str(table.word("kind")[i]), {})
        sds = []
        for column, usual in (("sd_plan", plan), ("sd_height", height)):
            own = float(table.number(column)[i])
            sds.append(own if isfinite(own) else stated.get(f"{column}_mm", usual * 1000) / 1000)
        if not isfinite(sds[1]) or (kind == "baseline" and not isfinite(sds[0])):
            continue
        made.append(
            Candidate(
                str(table.word("proposal")[i]),
                kind,
                marks.index(ends[0]),
                marks.index(ends[1]),
                *sds,
                float(table.number("minutes")[i]) / 60.0,
            )
        )
    return made
