"""``record``: a job frozen as an issue, proved, compared, initialled."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Option, Request, wrong

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.progress import Progress

COMMAND = Command(
    "issue | verify N | compare N N | initial N",
    1,
    3,
    (
        Option("--with-open", "issue: with open points, listed on page 1"),
        Option("--note", "issue, initial: what it is for, or what was seen", "TEXT"),
        Option("--who", "initials; of an issue else [job] who of job.toml", "INITIALS"),
        Option("--as", "initial: as what", "ROLE", False, ("checker", "approver")),
        Option("--ticked", "initial: what was read, names with commas, or all", "LIST"),
        Option("--sha256", "verify: of the manifest, as written down at issue", "HEX"),
    ),
    ("issue", "verify", "compare", "initial"),
    "brasscap record issue --note 'control for setting out'",
)

_USAGE = {
    "issue": "record issue",
    "verify": "record verify N",
    "compare": "record compare N N",
    "initial": "record initial N --as checker --who INITIALS --ticked LIST",
}


def more() -> str:
    """Return what a record is, for ``--help``."""
    from textwrap import fill

    from brasscap.commands.help import topics
    from brasscap.io.record.initials import ITEMS

    pages = topics()["record"].split("\n\n")
    items = "\n".join(f"  {name:<12} {words}" for name, words in ITEMS.items())
    return "\n\n".join(fill(page, 80) for page in pages) + f"\n\nitems\n{items}"


def run(request: Request, progress: "Progress") -> "Answer":
    """Do what the first word says."""
    from brasscap.comparing import compare
    from brasscap.initialling import initial
    from brasscap.issuing import issue
    from brasscap.verifying import verify

    what, *words = request.words
    if len(words) != {"issue": 0, "verify": 1, "compare": 2, "initial": 1}[what]:
        raise wrong(f"the command is written: brasscap {_USAGE[what]}")
    if "sha256" in request.values and what != "verify":
        raise wrong(f"record {what} takes no --sha256; that is for record verify")
    do = {"issue": issue, "verify": verify, "compare": compare, "initial": initial}
    return do[what](request, progress)
