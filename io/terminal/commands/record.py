"""``record``: a job frozen as an issue, proved, compared, initialled."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, wrong

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.progress import Progress

COMMAND = Command(
    "issue | verify N",
    1,
    3,
    (
        Option("--with-open", "issue: with open points, listed on page 1"),
        Option("--note", "issue: what it is for", "TEXT"),
        Option("--who", "initials; else [job] who of job.toml", "INITIALS"),
    ),
    ("issue", "verify"),
    "brasscap record issue --note 'control for setting out'",
)


def more() -> str:
    """Return what a record is, for ``--help``."""
    from textwrap import fill

    from brasscap.commands.help import topics

    pages = topics()["record"].split("\n\n")
    return "\n\n".join(fill(page, 80) for page in pages)


def run(request: Request, progress: "Progress") -> "Answer":
    """Do what the first word says."""
    from brasscap.issuing import issue
    from brasscap.verifying import verify

    what, *words = request.words
    asked = {"issue": 0, "verify": 1}[what]
    if len(words) != asked:
        usage = {"issue": "record issue", "verify": "record verify N"}[what]
        raise wrong(f"the command is written: brasscap {usage}")
    return {"issue": issue, "verify": verify}[what](request, progress)
