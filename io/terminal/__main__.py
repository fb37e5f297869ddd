"""The command: ``brasscap``, also as ``python -m brasscap``.

Nothing heavy is imported before a command needs it, so that ``--help`` and a fault
in a table come at once.
"""

import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from brasscap.arguments import (
    GLOBAL,
    Command,
    Request,
    explain,
    find_command,
    nearest,
    parse,
    wrong,
)
from brasscap.catalogue import COMMANDS, overview
from brasscap.printing import deliver, prepare, wants_colour, write

if TYPE_CHECKING:
    from brasscap.networks import BrasscapError

_BARE = Command("", 0, 0)


def main(argv: Sequence[str] | None = None) -> int:
    """Answer one command line.

    Parameters
    ----------
    argv : sequence of str, optional
        Words after ``brasscap``; those of the process if left out.

    Returns
    -------
    int
        The exit code: 0 done and nothing fails, 1 something fails, 2 command line
        wrong, 3 input cannot be used, 4 no solution, 5 a record
        does not match, 6 a part is missing, 7 cannot
        write, 70 a defect of ours, 130 stopped by the user.
    """
    words = list(sys.argv[1:] if argv is None else argv)
    prepare()
    try:
        return _answer(words)
    except KeyboardInterrupt:
        write(sys.stderr, "\nbrasscap: stopped by the user; nothing is half-written")
        return 130
    except Exception as error:
        from brasscap.networks import BrasscapError

        if isinstance(error, BrasscapError):
            return _say_failure(error, words)
        return _say_defect(error, words)


def _answer(argv: list[str]) -> int:
    at = find_command(argv)
    name = argv[at] if at >= 0 else ""
    rest = [w for i, w in enumerate(argv) if i != at]
    if name not in {"", "help", *COMMANDS}:
        known = ["help", *COMMANDS]
        known_options = {option.name for option in GLOBAL}
        for word in argv[: max(at, 0)]:
            if word.startswith("-") and word.partition("=")[0] not in known_options:
                parse("", _BARE, [word])
        hint = nearest(name, known)
        raise wrong(f"there is no command {name!r}{hint} (brasscap --help)")
    module = _module(name) if name else None
    command = module.COMMAND if module else _BARE
    request = parse(name, command, rest)
    if "version" in request.values:
        from brasscap import __version__

        write(sys.stdout, f"brasscap {__version__}")
    elif "help" in request.values:
        line = COMMANDS[name][1] if name in COMMANDS else "what a word means"
        more = module.more() if module and hasattr(module, "more") else ""
        write(sys.stdout, explain(name, line, command, more) if name else overview())
    else:
        return _run(request)
    return 0


def _run(request: Request) -> int:
    from brasscap.named_folder import named, named_words
    from brasscap.progress import Progress, chosen
    from brasscap.reports.text import text

    if "dated" in request.values:
        from brasscap.steps import time_utc

        time_utc(request)
    module = _module(request.command or "stands")
    with Progress(chosen(request.values)) as progress:
        answer = module.run(request, progress)
    colour = wants_colour(sys.stdout, request.values)
    elsewhere = "" if request.command == "new" else request.values.get("job", "")
    document = named(answer.document, elsewhere)
    deliver(text(document, colour=colour), answer.data, request.values)
    if "quiet" not in request.values:
        notes = "\n".join(f"note: {note}" for note in answer.notes)
        write(sys.stderr, named_words(notes, elsewhere))
    return int(answer.exit_code)


def _module(name: str) -> Any:
    from importlib import import_module

    # `import` is a word of the language and cannot name a module of ours.
    return import_module(
        "brasscap.commands." + ("import_" if name == "import" else name)
    )


def _say_failure(error: "BrasscapError", argv: list[str]) -> int:
    from brasscap.failures import failure_of
    from brasscap.named_folder import named
    from brasscap.reports.text import text

    failure = failure_of(error)
    values = _json_asked(argv)
    document = named(failure.document, _folder_named(argv))
    write(sys.stderr, text(document, colour=wants_colour(sys.stderr, values)))
    _say_object(values, argv, failure.facts)
    return error.exit_code


def _say_object(values: dict[str, str], argv: list[str], facts: dict[str, Any]) -> None:
    """Print the command's object where it was asked for, with what is known of it."""
    if "json" not in values:
        return
    from brasscap.json_schemas import empty_object
    from brasscap.networks import CannotWrite

    at = find_command(argv)
    # What cannot be written has been said, or the command's own failure is the more
    # important one.
    with suppress(CannotWrite):
        data = empty_object(argv[at] if at >= 0 else "stands") | facts
        deliver("", data, values)


def _json_asked(argv: list[str]) -> dict[str, str]:
    asked = [w for w in argv if w == "--json" or w.startswith("--json=")]
    values = {"json": asked[-1].partition("=")[2]} if asked else {}
    return values | ({"no-colour": ""} if "--no-colour" in argv else {})


def _folder_named(argv: list[str]) -> str:
    """Return the job's folder that the command line names; empty for none."""
    folder = ""
    for word, after in zip(argv, (*argv[1:], ""), strict=False):
        if word == "--job":
            folder = after
        elif word.startswith("--job="):
            folder = word.partition("=")[2]
    return folder


def _say_defect(error: Exception, argv: list[str]) -> int:
    from pathlib import Path

    from brasscap.defects import write_bundle

    folder = Path(_folder_named(argv))
    bundle = write_bundle(folder, argv)
    where = (
        f"all that reproduces it, your tables included, is in {bundle}; nothing was "
        "sent anywhere: look into it before you pass it on"
        if bundle
        else "and nothing could be written that would reproduce it"
    )
    write(
        sys.stderr,
        f"brasscap: a defect of this program, not of your data: "
        f"{type(error).__name__}: {error}\n  {where}",
    )
    facts = {"error": f"{type(error).__name__}: {error}", "exit_code": 70}
    _say_object(_json_asked(argv), argv, facts)
    return 70


if __name__ == "__main__":
    sys.exit(main())
