"""Write the example jobs: invented places, their noise drawn from fixed seeds.

    python tests/make_examples [FOLDER]

The files in networks/examples came from here (the default FOLDER); they are plain
text and are never made at run time. Everything is invented: places, marks, people,
coordinates. In each job one thing was booked wrongly on purpose: see its PLANTED.
"""

import sys
from pathlib import Path

import harbour
import harbour_later
import harbour_topo
import mill
import tramway
from survey import files, plan

EXAMPLES = {"harbour": harbour, "mill": mill, "tramway": tramway}
SHIPPED = Path(__file__).parents[2] / "networks" / "examples"


def make(name):
    """Return the files of an example: name to text."""
    made = files(EXAMPLES[name])
    if name == "harbour":
        made |= harbour_topo.topo(made)
        made |= harbour_later.later(made)
    return made


def planned(name):
    """Return the network of an example as planned, its marks at their true places."""
    return plan(EXAMPLES[name])


if __name__ == "__main__":
    into = Path(sys.argv[1]) if len(sys.argv) > 1 else SHIPPED
    for example in EXAMPLES:
        folder = into / example
        folder.mkdir(parents=True, exist_ok=True)
        for file, text in make(example).items():
            (folder / file).parent.mkdir(parents=True, exist_ok=True)
            (folder / file).write_text(text, "utf-8")
