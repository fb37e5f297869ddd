"""The command line read: a command, its words, its options.

Global options stand before or after the command; a value that may be left out is
given with ``=`` only, so that a word after it is never swallowed.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple


class Option(NamedTuple):
    """One option of the command line."""

    name: str
    """With its dashes: ``--html``."""
    line: str
    """What it does, for ``--help``."""
    value: str = ""
    """Name of its value; empty for a switch."""
    optional: bool = False
    """Whether the value may be left out."""
    choices: tuple[str, ...] = ()


class Command(NamedTuple):
    """What a command accepts."""

    words: str
    """Its words as ``--help`` prints them: ``KIND NAME [NAME]``."""
    least: int
    most: int
    """How many words; −1 for no limit."""
    options: tuple[Option, ...] = ()
    choices: tuple[str, ...] = ()
    """What the first word may be; empty for anything."""
    example: str = ""


class Request(NamedTuple):
    """What the user asked for."""

    command: str
    words: tuple[str, ...]
    values: dict[str, str]
    """Options given, without dashes; an empty value for a switch."""

    @property
    def folder(self) -> Path:
        """The job's folder."""
        return Path(self.values.get("job", "."))

    @property
    def strict(self) -> bool:
        """Whether an open query counts as fails."""
        return "strict" in self.values


GLOBAL = (
    Option("--job", "the job's folder; without it the present folder", "DIR"),
    Option("--json", "one JSON object to stdout, or to FILE", "FILE", optional=True),
    Option(
        "--units", "length unit of what is printed", "U", choices=("m", "ift", "sft")
    ),
    Option("--quiet", "results only: no notes, no progress"),
    Option("--verbose", "say each step"),
    Option("--no-colour", "no colour"),
    Option("--progress", "how to show it", "HOW", choices=("line", "lines", "off")),
    Option("--strict", "an open query counts as fails"),
    Option("--dated", "the time to write down, UTC", "TIME"),
    Option("--version", "print the version"),
    Option("--help", "print this"),
)
"""Options of every command."""


def find_command(argv: Sequence[str]) -> int:
    """Return where the command's name stands; −1 if there is none.

    Examples
    --------
    >>> find_command(["--job", "site", "adjust", "free"])
    2
    """
    takes_value = {o.name for o in GLOBAL if o.value and not o.optional}
    i = 0
    while i < len(argv):
        if not argv[i].startswith("-"):
            return i
        i += 2 if argv[i] in takes_value else 1
    return -1


def parse(name: str, command: Command, argv: Sequence[str]) -> Request:
    """Return the request that words and options make.

    Parameters
    ----------
    name : str
        Name of the command, for messages.
    command : Command
    argv : sequence of str
        Everything but the name.

    Raises
    ------
    CommandError
        An unknown option (with the nearest spelling), a value that is missing, not
        wanted or not in the list, too few or too many words.

    Examples
    --------
    >>> free = Command("[minimal | free]", 0, 1, choices=("minimal", "free"))
    >>> parse("adjust", free, ["free", "--job", "site"]).words
    ('free',)
    """
    known = {option.name: option for option in (*GLOBAL, *command.options)}
    words: list[str] = []
    values: dict[str, str] = {}
    rest = list(argv)
    while rest:
        word = rest.pop(0)
        word = "--help" if word == "-h" else word
        if word == "--":
            words += rest
            break
        if not _is_option(word):
            words.append(word)
            continue
        key, equals, value = word.partition("=")
        if key not in known:
            raise _unknown_option(name, key, known)
        values[key.lstrip("-")] = _value(known[key], equals, value, rest)
    _count_words(name, command, words, values)
    return Request(name, tuple(words), values)


def nearest(word: str, known: Sequence[str]) -> str:
    """Return "; did you mean …?" for the nearest spelling, or nothing.

    Examples
    --------
    >>> nearest("ajust", ["adjust", "report"])
    '; did you mean adjust?'
    """
    from difflib import get_close_matches

    folded = {k.lower(): k for k in known}
    close = get_close_matches(word.lower(), list(folded), n=1, cutoff=0.6)
    return f"; did you mean {folded[close[0]]}?" if close else ""


def wrong(text: str) -> Exception:
    """Return the error to raise for a wrong command line."""
    from brasscap.networks.errors import CommandError

    return CommandError(text)


def _is_option(word: str) -> bool:
    # "-3.2" is a value that somebody wants to write down, "-" a file name.
    return word.startswith("-") and word != "-" and not word[1:2].isdigit()


def _unknown_option(name: str, key: str, known: dict[str, Option]) -> Exception:
    long = "--" + key.lstrip("-")
    what = f"{name} has no option" if name else "there is no option"
    help_line = " ".join(("brasscap", name, "--help")).replace("  ", " ")
    hint = nearest(long, list(known))
    return wrong(f"{what} {key}{hint} (all of them: {help_line})")


def _value(option: Option, equals: str, value: str, rest: list[str]) -> str:
    if not option.value:
        if equals:
            raise wrong(f"{option.name} takes no value; write {option.name} alone")
        return ""
    if equals and not value:
        raise wrong(
            f"{option.name}= says no {option.value}; write {option.name}=SOMETHING"
        )
    if not equals and not option.optional:
        if not rest or _is_option(rest[0]):
            raise wrong(f"{option.name} needs a value: {option.name} {option.value}")
        value = rest.pop(0)
    if option.choices and value not in option.choices:
        raise wrong(
            f"{option.name} is one of {', '.join(option.choices)}, not {value!r}"
            + nearest(value, option.choices)
        )
    return value


def _count_words(
    name: str, command: Command, words: list[str], values: dict[str, str]
) -> None:
    if "help" in values or "version" in values:
        return
    usage = f"brasscap {name} {command.words}".rstrip()
    if command.choices and words and words[0] not in command.choices:
        raise wrong(
            f"{name}: {words[0]!r} is none of {', '.join(command.choices)}"
            + nearest(words[0], command.choices)
        )
    if len(words) < command.least:
        raise wrong(f"something is missing; the command is written: {usage}")
    if 0 <= command.most < len(words):
        extra = " ".join(words[command.most :])
        raise wrong(f"too many words ({extra!r}); the command is written: {usage}")


def explain(name: str, line: str, command: Command, more: str = "") -> str:
    """Return what ``brasscap COMMAND --help`` prints.

    Parameters
    ----------
    name, line : str
        The command, and what it is for.
    command : Command
    more : str
        What it alone has to say: formats, actions.
    """
    from textwrap import wrap

    rows = [f"brasscap {name} {command.words}".rstrip(), f"  {line}"]
    for title, options in (("options", command.options), ("every command", GLOBAL)):
        if options:
            rows += ["", title]
        for option in options:
            value = "|".join(option.choices) or option.value
            joint = f"[={value}]" if option.optional else f" {value}"
            written = option.name + (joint if value else "")
            first, *rest = wrap(option.line, 48)
            if len(written) > 28:
                rows.append(f"  {written}")
                written = ""
            rows.append(f"  {written:<28} {first}")
            rows += [f"{'':31}{words}" for words in rest]
    if command.example:
        rows += ["", "example", f"  {command.example}"]
    if more:
        rows += ["", more.rstrip()]
    return "\n".join(rows) + "\n"
