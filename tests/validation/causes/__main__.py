"""Is the right cause named? Invented networks with planted faults, counted.

    python tests/validation/causes [NETWORKS [PROCESSES]]

Off by default: 2,000 networks take minutes on two processes. Four families (vectors,
total station, levels, all three mixed), each network adjusted once; a survey is then
one draw of whitened noise with a fault added, through the functions that the command
uses. Faults of a natural size go the whole way through ``simulate``, ``estimate`` and
``suspects``; forty surveys go through folders and the command itself. With at least
400 networks CAUSES.md is written; else the page is only printed.
"""

import multiprocessing
import os
import sys
import time
from pathlib import Path

# Before numpy is imported: two processes of one thread each.
for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

PAGE = Path(__file__).parents[1] / "CAUSES.md"


def run(count, processes):
    """Return the tally of so many networks."""
    from tally import Tally, surveyed

    tally = Tally()
    if processes == 1:
        for number in range(count):
            tally.add(surveyed(number))
        return tally
    with multiprocessing.get_context("fork").Pool(processes) as pool:
        for one in pool.imap_unordered(surveyed, range(count), 4):
            tally.add(one)
    return tally


def main(count, processes):
    """Print the page, and write it where there are networks enough."""
    from faults import WAYS
    from folders import through_folders
    from page import page

    start = time.monotonic()
    tally = run(count, processes)
    seconds = time.monotonic() - start
    folders = through_folders(40 if count >= 400 else 3)
    text = page(tally, count, processes, seconds, WAYS, folders)
    print(text)
    if count >= 400:
        PAGE.write_text(text, "utf-8")


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    main(*(given + [2000, 2][len(given) :]))
