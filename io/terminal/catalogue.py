"""Which commands exist, in the order of the work, a line each."""

MOMENTS = {
    "start": "a folder of field tables",
    "look": "changes nothing",
    "do": "estimate, and write choices down",
    "field": "what to measure next",
    "hand over": "what leaves the office",
}
"""The five moments of a job, in order."""

COMMANDS = {
    "new": ("start", "a folder to start from, empty or an example"),
    "import": ("start", "bring in a table, a point list or a solution of others"),
    "check": ("start", "is the input sound? every fault and query, no adjustment"),
    "loops": ("look", "do repeats, loops and double runs close? no adjustment"),
    "control": ("look", "which known marks may be held?"),
    "reliability": ("look", "what blunder could hide, and what it would do unseen"),
    "suspects": ("look", "it failed, or passed too well: why?"),
    "spec": ("look", "does it meet the specification? precision and reliability"),
    "stability": ("look", "which mark moved between two records?"),
    "show": ("look", "all about one mark, pair, set-up or observation"),
    "adjust": ("do", "best coordinates, and what they are worth"),
    "decide": ("do", "write a choice down, with its reason"),
    "run": ("do", "all of it in order: check, adjust, report"),
    "topo": ("field", "are shots good, what do they hang on?"),
    "preanalysis": ("field", "will this design do? planned work, nothing observed"),
    "trial": (
        "field",
        "a page to try things on: what if this were off, or that added?",
    ),
    "reobserve": ("field", "what now, with this crew and these hours?"),
    "report": ("hand over", "the document on a page, control sheets, plots"),
    "record": ("hand over", "freeze an issue of the job; prove an old one"),
    "export": ("hand over", "the adjusted control for others"),
}
"""Name of each command: its moment and what it is for."""


def overview() -> str:
    """Return what ``brasscap --help`` prints: five rows, a line a command.

    Examples
    --------
    >>> "look" in overview()
    True
    """
    rows = []
    for moment, about in MOMENTS.items():
        rows.append(f"\n{moment}: {about}")
        own = [(name, line) for name, (of, line) in COMMANDS.items() if of == moment]
        rows += [f"  {name:<11} {line}" for name, line in own]
        if not own:
            rows.append("  (no command of this version)")
    return _HEAD + "\n".join(rows) + _FOOT


_HEAD = """\
brasscap adjusts survey control networks by least squares and says what the result
is worth.

  brasscap                    where the job in this folder stands
  brasscap COMMAND --help     one command: arguments, options, an example
  brasscap help TOPIC         what a word or a finding means
"""

_FOOT = """

options of every command, before or after it
  --job DIR            the job's folder; without it the present folder
  --json[=FILE]        one JSON object to stdout, or to FILE beside the text
  --units m|ift|sft    length unit of what is printed (JSON is always metres)
  --strict             an open query counts as fails
  --dated TIME         the time to write down, such as 2026-05-04T14:30:00Z
  --progress HOW       line, lines or off; shown for what takes over half a second
  --quiet, --verbose   less or more to stderr
  --no-colour          no colour, on a terminal either (NO_COLOR is obeyed)
  --version, --help

exit codes
  0 done, nothing fails       1 at least one fails      2 command line wrong
  3 input cannot be used      4 no solution             5 a record does not match
  6 an optional part is missing                         7 cannot write
 70 our defect              130 stopped by the user
"""
