"""``stability``: two records of one network, and which of its marks moved between."""

from collections import Counter
from typing import TYPE_CHECKING, Any

from brasscap.arguments import Command, Option, Request, wrong

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress

_OBSERVED = ("baselines", "positions", "total_station", "levels")
"""Tables whose rows are observations."""

_ALIKE = 0.1
"""Share of observations that two surveys may have alike by chance: a short levelled
run can come out the same to the last digit twice."""

COMMAND = Command(
    "RECORD RECORD",
    2,
    2,
    (
        Option(
            "--stable",
            "marks presumed stable, names with commas; all common ones if left out",
            "LIST",
        ),
    ),
    example="brasscap stability 1 ../next-year/records/1 --stable 'PIER,CHURCH'",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Adjust both records again and compare them; nothing is written."""
    from brasscap.adjust.follow.epochs import incomparable
    from brasscap.adjust.follow.stability import stability
    from brasscap.answer import Answer, code_of
    from brasscap.reports.content_stability import stability_document
    from brasscap.reports.objects_stability import stability_object

    first, one = _epoch(request, 0, progress)
    second, other = _epoch(request, 1, progress)
    why = incomparable(one.network, other.network)
    if why:
        raise wrong(f"stability: the two records cannot be compared: {why}")
    progress("comparing the two")
    given = request.values.get("stable", "")
    presumed = [name.strip() for name in given.split(",") if name.strip()]
    found = stability(one, other, presumed)
    notes = _notes(first, second, one, other)
    units = request.values.get("units") or second.job.length_unit
    data = stability_object(found, request.words, notes)
    verdict = data["verdict"]
    return Answer(
        stability_document(found, request.words, units, notes),
        data,
        code_of([verdict], 0, request.strict),
    )


def _epoch(
    request: Request, which: int, progress: "Progress"
) -> "tuple[Loaded, Adjustment]":
    """Return the job of a record and its minimal solution, the bytes checked first."""
    from brasscap.adjust import estimate
    from brasscap.io.record.copies import INPUT
    from brasscap.io.record.issues import record_folder
    from brasscap.io.record.manifest import damages
    from brasscap.networks import RecordDiffers
    from brasscap.rebuilding import loaded_job

    word = request.words[which]
    record = record_folder(request.folder, word)
    progress(f"checking every byte of {word}")
    bad = damages(record)
    if bad:
        named = "; ".join(f"{one.file}: {one.what}" for one in bad[:3])
        raise RecordDiffers(
            f"record {word} is not what was recorded: {named}; "
            f"brasscap record verify {word}"
        )
    loaded = loaded_job(record / INPUT, progress)
    progress(f"adjusting {word}")
    return loaded, estimate(loaded.network, "minimal", progress=progress)


def _notes(
    first: "Loaded", second: "Loaded", one: "Adjustment", other: "Adjustment"
) -> list[dict[str, str]]:
    """Return what weakens the comparison, in words, each with what it makes of it."""
    from brasscap.adjust.judge import variance_factor_test

    notes = []
    same, least = _shared(first, second)
    if same > _ALIKE * least:
        notes.append(
            {
                "verdict": "unchecked",
                "text": f"{same} observations are in both records: they are not two "
                "independent surveys, and a movement could hide in what they share",
            }
        )
    for which, adjustment in (("first", one), ("second", other)):
        if variance_factor_test(adjustment).verdict == "fails":
            notes.append(
                {
                    "verdict": "query",
                    "text": f"the variance factor of the {which} fails: its stated "
                    "limits are too narrow, and a blunder there looks like a movement",
                }
            )
    return notes


def _shared(first: "Loaded", second: "Loaded") -> tuple[int, int]:
    """Return how many observations are booked alike in both, and those of the fewer."""
    one, other = _rows(first), _rows(second)
    return sum((one & other).values()), min(sum(one.values()), sum(other.values()))


def _rows(loaded: "Loaded") -> Counter[Any]:
    rows: Counter[Any] = Counter()
    for name in _OBSERVED:
        table = loaded.tables.get(name)
        if table is None:
            continue
        columns = sorted(table.booked)
        for i in range(len(table)):
            cells = ((key, str(table.booked[key][i])) for key in columns)
            rows[(name, *((key, text) for key, text in cells if text))] += 1
    return rows
