"""Where the keys of job.toml stand, and findings about them."""

import re

from ...networks.findings import Finding


class Lines:
    """Where sections and keys stand, as well as a plain reading can tell."""

    def __init__(self, text: str) -> None:
        self._line: dict[str, int] = {}
        section = ""
        for number, line in enumerate(text.split("\n"), 1):
            if head := re.match(r"\s*\[+\s*([^\]]+?)\s*\]", line):
                section = re.sub(r"[\"']", "", head.group(1)).replace(" ", "")
                self._line.setdefault(section, number)
            elif key := re.match(r"\s*([\w.\"'-]+)\s*=", line):
                name = re.sub(r"[\"']", "", key.group(1))
                path = f"{section}.{name}" if section else name
                self._line.setdefault(path, number)

    def of(self, path: str) -> int:
        """Return the line of a key, or of the nearest section above it; 0 = none."""
        path = path.replace(" ", "")
        while path:
            if path in self._line:
                return self._line[path]
            path = path.rpartition(".")[0]
        return 0


def fault_at(
    lines: Lines,
    slug: str,
    path: str,
    booked: object = "",
    against: str = "",
    likely: str = "",
    mend: str = "",
    verdict: str = "fault",
) -> Finding:
    """Return a finding about a key of job.toml by its path: ``frame.kind``."""
    line = lines.of(path)
    section, _, key = path.rpartition(".")
    text = str(booked)
    return Finding(
        slug,
        verdict,
        f"[{section}] {key}" if section else key,
        file="job.toml",
        row=line,
        line=line,
        column=key,
        booked=text if len(text) <= 80 else text[:77] + "…",
        against=against,
        likely=likely,
        mend=mend,
    )
