"""``help``: what a word of the trade, a command or a finding means, offline."""

from typing import TYPE_CHECKING

from brasscap.arguments import Command, Request, nearest, wrong
from brasscap.catalogue import COMMANDS

if TYPE_CHECKING:
    from brasscap.answer import Answer
    from brasscap.progress import Progress
    from brasscap.reports.document import Document

COMMAND = Command("[TOPIC]", 0, -1, example="brasscap help unchecked")


def run(request: Request, progress: "Progress") -> "Answer":
    """Print a page; without a topic, the list of them."""
    from brasscap.answer import Answer

    pages = topics()
    pages |= {name: _of_command(name) for name in COMMANDS if name not in pages}
    topic = " ".join(request.words).strip()
    key = _key(topic, pages) if topic else ""
    data = {
        "schema": "brasscap/help/1",
        "topic": key,
        "text": pages[key] if key else "",
        "topics": sorted(pages),
    }
    return Answer(_document(key, pages[key]) if key else _list(pages), data)


def _list(pages: dict[str, str]) -> "Document":
    """Return the topics: words, commands, and the names of findings."""
    from brasscap.reports.document import Document, Facts, Section

    findings = [key for key in pages if "\n\nMend: " in pages[key]]
    words = [key for key in pages if key not in (*findings, *COMMANDS)]
    names = sorted(name for key in findings for name in key.split(", "))
    facts = (
        ("words", ", ".join(sorted(words, key=str.lower))),
        ("commands", ", ".join(COMMANDS)),
        ("findings", ", ".join(names)),
    )
    title = "topics, each printed by  brasscap help TOPIC"
    return Document(title, (Section("", (Facts(facts),)),))


def topics() -> dict[str, str]:
    """Return every topic: its text, paragraphs parted by an empty line.

    Examples
    --------
    >>> "unchecked" in topics()
    True
    """
    from importlib.resources import files

    from brasscap.reports.glossary import GLOSSARY

    pages = dict(GLOSSARY)
    for file in (files("brasscap.commands") / "help").iterdir():
        if file.name.endswith(".txt"):
            pages |= _pages(file.read_text(encoding="utf-8"))
    return pages


def _of_command(name: str) -> str:
    """Return a command's line and usage; ``--help`` says the rest."""
    from importlib import import_module

    module = import_module(f"brasscap.commands.{name.replace('import', 'import_')}")
    command: Command = module.COMMAND
    usage = f"brasscap {name} {command.words}".rstrip()
    return f"{COMMANDS[name][1]}\n\n{usage}\n\nall of it: brasscap {name} --help"


def _pages(text: str) -> dict[str, str]:
    """Return the pages of a file: each starts with a line ``# topic``."""
    pages: dict[str, str] = {}
    for part in text.split("\n# "):
        head, _, body = part.removeprefix("# ").partition("\n")
        if head.strip() and body.strip():
            pages[head.strip()] = body.strip()
    return pages


def _key(topic: str, pages: dict[str, str]) -> str:
    folded = {key.lower(): key for key in pages}
    for term in (topic.lower(), topic.lower().replace(" ", "-")):
        if term in folded:
            return folded[term]
        # "stated, estimated" is one entry of the glossary for two words.
        for key in pages:
            if term in [word.strip().lower() for word in key.split(",")]:
                return key
    hint = nearest(topic, list(pages))
    raise wrong(f"help has no topic {topic!r}{hint} (brasscap help)")


def _document(topic: str, body: str) -> "Document":
    from brasscap.reports.document import Document, Paragraph, Section

    parts = []
    for part in body.split("\n\n"):
        # What is set in from the margin is to be typed: it keeps its lines.
        lines = part.splitlines() if part.startswith("  ") else [part]
        parts += [Paragraph(" ".join(line.split())) for line in lines]
    return Document(topic, (Section("", tuple(parts)),))
