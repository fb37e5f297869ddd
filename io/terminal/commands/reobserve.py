"""``reobserve``: what now, with this crew and these hours."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, wrong

if TYPE_CHECKING:
    from brasscap.adjust import Adjustment
    from brasscap.answer import Answer
    from brasscap.io.tables.load import Loaded
    from brasscap.progress import Progress
    from brasscap.reobserving import Reobserving
    from brasscap.reports.crew_plan import Reobserve
    from brasscap.reports.heading import Heading

COMMAND = Command(
    "",
    0,
    0,
    (
        Option("--start", "when, local clock, instead of [crew] start", "HH:MM"),
        Option("--hours", "how long, instead of [crew] hours", "H"),
        Option("--receivers", "how many, instead of [crew] receivers", "N"),
        Option("--from", "mark where the day starts and ends", "STATION"),
        Option(
            "--purpose",
            "what matters most; spec if not said",
            "WHAT",
            False,
            ("spec", "reliability", "audit"),
        ),
        Option(
            "--order", "what matters most first, instead, parted by commas", "WORDS"
        ),
        Option("--done", "what these jobs bought: the sheet's twin, or a list", "FILE"),
        Option("--sheet", "the field sheet, a page, with its twin for figures", "FILE"),
        Option(
            "--datum",
            "the solution that is looked at; constrained if not said",
            "MODE",
            False,
            ("minimal", "constrained"),
        ),
    ),
    example="brasscap reobserve --start 14:00 --hours 4 --receivers 2",
)


def run(request: Request, progress: "Progress") -> "Answer":
    """Plan a crew's hours; nothing of the job is changed."""
    from brasscap.answer import Answer
    from brasscap.reobserving import reobserving
    from brasscap.reports.content_reobserve import reobserve_document
    from brasscap.reports.objects_reobserve import reobserve_object
    from brasscap.steps import adjusted, head, read_job

    loaded = read_job(request, progress)
    mode = request.values.get("datum", "constrained")
    adjustment = adjusted(request, loaded, mode, progress, keep=False).adjustment
    if "done" in request.values:
        return _done(request, loaded, adjustment, progress)
    made = in_words(reobserving(request, loaded, adjustment, progress))
    heading = head(request, loaded)
    notes = _sheet(request, loaded, made, heading)
    return Answer(
        reobserve_document(made, heading, request.values.get("sheet", "")),
        reobserve_object(made, heading.findings),
        notes=notes,
    )


def _done(
    request: Request, loaded: "Loaded", adjustment: "Adjustment", progress: "Progress"
) -> "Answer":
    """Say what was bought: before, predicted, and now."""
    from brasscap.adjust.judge.limits import noncentrality
    from brasscap.answer import Answer
    from brasscap.finishing import bought
    from brasscap.reports.content_done import Done, done_document, done_object
    from brasscap.steps import head

    made = bought(request, loaded, adjustment, progress)
    options = adjustment.network.options
    said = Done(
        tuple(
            f"{one.name} ({' – '.join(one.stations)})" if one.stations else one.name
            for one in made.jobs
        ),
        made.unread,
        made.missing,
        made.specification,
        noncentrality(options.outlier_alpha, options.power),
        made.before,
        made.predicted,
        made.now,
    )
    heading = head(request, loaded)
    return Answer(done_document(said, heading), done_object(said, heading.findings))


def _sheet(
    request: Request, loaded: "Loaded", made: "Reobserve", heading: "Heading"
) -> tuple[str, ...]:
    """Write the sheet that is asked for and its twin; say where they are."""
    from pathlib import Path

    if "sheet" not in request.values:
        return ()
    from brasscap.io.files import write_whole
    from brasscap.reports.sheet import sheet_html, sheet_of
    from brasscap.reports.sheet_twin import sheet_csv

    path = Path(request.values["sheet"])
    twin = path.with_suffix(".csv")
    if path == twin:
        raise wrong(f"--sheet {path}: a page, such as sheet.html; its twin is the .csv")
    table = loaded.tables.get("stations")
    access: dict[str, tuple[str, str]] = {}
    if table is not None:
        columns = ("station", "description", "access_note")
        rows = zip(*(table.word(name) for name in columns), strict=True)
        access = {str(name): (str(said), str(way)) for name, said, way in rows}
    sheet = sheet_of(made, heading, access, loaded.job.utc_offset_h)
    write_whole(path, sheet_html(sheet))
    write_whole(twin, sheet_csv(sheet))
    return (
        f"written: {path}, and {twin.name} for the figures; when it is filled in: "
        f" brasscap import {twin.name} --as set_ups",
    )


def in_words(made: "Reobserving") -> "Reobserve":
    """Return a plan with its candidates in words."""
    from brasscap.adjust.judge.limits import noncentrality
    from brasscap.reports.crew_plan import Offered, Reobserve

    names = made.adjustment.network.marks.name
    options = made.adjustment.network.options
    return Reobserve(
        made.adjustment,
        made.specification.name if made.specification else "",
        tuple(
            Offered(
                one.proposal,
                one.kind,
                tuple(names[mark] for mark in one.task.marks),
                one.task.minutes,
                one.note,
            )
            for one in made.offers
        ),
        tuple(
            Offered(one.proposal, one.kind, one.stations, one.minutes, "", one.why)
            for one in made.refused
        ),
        made.state,
        made.plan,
        made.crew,
        tuple(made.choice.order),
        made.assumed,
        noncentrality(options.outlier_alpha, options.power),
        made.purpose,
        made.thought_of,
    )
