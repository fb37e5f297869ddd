"""The page of ``scale.py``: its tables, and in words what bounds the figures.

What is written by hand stands in ``BOUNDS`` here, so that it survives a re-making.
"""

import platform
import subprocess
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).parent
Found = dict[tuple[int, str, bool], dict[str, Any]]
"""By size, kind and whether with set-ups: what was measured."""
BOUNDS = """\
## What bounds it

Profiles in processor seconds, one BLAS thread, a busy machine; the tables above were
measured with other work on the second core. Where a goal above is missed, this is why.

**60 marks (180 unknowns, dense).** Of 0.40 ms LAPACK takes 0.31: the factor 0.10, the
inverse of the triangle 0.13, its product with itself 0.075; assembly takes 0.03, the
solution 0.017, writing both halves of the inverse 0.03. So statsmodels × 50 (0.35 ms)
and least_squares × 80 (0.26 ms) would need a quicker LAPACK, not less Python. Tried
and no quicker: `dpotri` (0.24 to 0.29 ms against 0.21 by halves), rectangular packed
storage (`dpftri` 0.19, and it must be unpacked), the inverse by blocks with `dtrsm`
(0.30); `dtrmm` for the products of halves would save 0.01. One cut through the
network, so that two halves see each other over a border of 7 to 11 marks alone: 0.34
ms in all (0.30 with the best of 240 cuts) and 0.14 ms to find it, so nothing is gained
for one adjustment; at 200 marks, where the sparse factor takes over, 7.9 instead of
11.3 ms. The sparse factor has a twentieth of the flops and takes 0.58 ms: six stacks
of fronts are calls and little else, and the analysis is 10 ms. CHOLMOD, compiled, sums
its matrix in 0.05 ms and factors it in 0.045, as much together as
LAPACK's dense factor alone.

**500 and 5 000 marks.** 20 and 120 stacks of fronts; the calls of one cost 0.08 ms in
the factor and 0.03 in the inverse (as of eight tiny ones at 60 marks with set-ups):
two thirds of the factor's time at 500, a third at 5 000. Fewer stacks means more
padding: what that is worth is in `grouping.py`.

**200 000 marks, the rate of the factor.** A third of the time goes into fronts under
160 rows, which have 7 % of the flops, at 1 to 7 GFlop/s of 48 (numpy's products of
small matrices: 8 µs for a front of 18 + 30 rows, of which 1 in Cholesky, 2 in the
inverse of the triangle, 2.5 in products, 0.5 in the difference, the rest unexplained,
likely first touches of memory); a third into large fronts, which OpenBLAS does at 10
to 36 GFlop/s (`dtrsm` and `dpotrf` of 90 rows at 16 to 20 for themselves); a third
into filling the fronts and adding what children leave. Tried, with times within 5 %
of each other: leaves of 4 to 20 nodes (14 500 to 5 200 fronts at 50 000 marks, so
that merging small fronts buys nothing), stacks of 2 to 8 MB (of 0.5 and 1 MB: slower),
large fronts from 128 to 200 rows, an allocator that keeps its memory.

**Analysis.** At a million marks the order took 48 s of the processor, half of it
maximum flow; now 23 s in the same run: nodes are numbered by place, so that what is
read together lies together, and flows are found some parts at a time, since a search
goes through all parts for as long as one still finds a way. At 60 to 500 marks it is
10 to 20 ms of calls, a third of them in making small sparse matrices; larger leaves
save 2 to 6 ms and cost more in every iteration. The first analysis of a process loads
scipy.sparse, 50 ms.

**Tests.** Without set-ups they take 26 to 34 % of the factor from 50 000 uniform on.
With set-ups there are 1.4 of them to a vector and two tests for each, of the height
and of all three components: told by the one observation that ties a set-up to its
mark, they take as long as the vectors' and half as much again, under half of what they
took when all that was observed from each was summed up (0.5 s at 50 000 marks, against
1.3). What is left is spread thin: reading covariances, chances, verdicts, and the
noise of set-ups in what a shift is measured against, a tenth or less each. Clustered
networks have a factor of half the time and as many tests.

**A million marks.** With nothing else at work 88.8 s by the clock and 7.12 GB in all,
the network's own 1.6 among them (`cluster.py --once 1000000 0`), against 2 minutes and
8 GB; it was 121.7 s with two iterations, which factored twice. The start, carried from
all known marks at once and with the heights of antennas, now lies within 0.2 m of a
uniform country (within 2 m of a clustered one of 200 000), and one iteration does: axes
turn by 2e-8 over that, and so much its covariances differ from those of the last place.
(A factor could be kept to 1e-9 over 6 mm only.)

**A million marks as a folder of CSV.** `adjust` of 2.75 million vectors on 3.67 million
set-ups, from the folder to all tables of results, takes 8 min 48 s by the clock (374 s
of the processor, with other work on both cores) and 15.7 GB, against 10 minutes and 16
GB; before, it would have taken 29 GB. Reading and checking are 77 s of it, the start 22
s, adjusting 306 s, tests 45 s, writing 13 million rows 77 s. `run`, which also looks
for causes, takes 37 s and 1.7 GB at 50 000 marks: some 12 minutes and 30 GB at a
million, not measured. What is alive at the peak, from arrays: 13.7 kB a mark at 200 000
marks (20.6 before; 5.7 without set-ups): the fronts take 5.5 of it (6.2 at a million),
and go as the inverse is formed; the matrix and its inverse 1.2 each, nodes 0.7, places
of products and entries 1.3, rows and equations 2.9 and tests 2.2 when the fronts are
gone. Half of the triangles L⁻¹ that fronts keep, 0.8 kB, is zeros.

**Clustered networks.** 1.5 times the flops of METIS's order at 5 000 and at 50 000
marks, 1.7 at 500 and at 200 000, ours counted as fronts; 1.2 to 1.5 times column by
column. It was 2.0 and 2.4 times: most of that went when pieces into which a part falls
became parts of their own (one cut through several surveys had made their separators one
front), the rest when a cut was measured by the nodes joined across it instead of by
pairs (a survey hangs on few marks by many), and leaves of 4 instead of 6 nodes took the
place of larger ones above 2 000 nodes. Cuts up to 0.3 instead of 0.2 off the middle
make it 6 to 10 % more. Much of what is left is in leaves, where fronts hold zeros
(METIS orders its last parts by least degree): leaves of 3 nodes have 4 % fewer flops
and take 5 to 9 % longer. The numeric phase takes half the time of a uniform country's
all the same, most of it in calls and in memory. Not tried: the better of two orders.
Many surveys that all hang on the same few marks, in one place, are still cut through
together, unless these have so many vectors that they are taken for bases; those marks
alone would part them.
"""


def grown(found: Found, what: str) -> list[str]:
    """Return the exponents of growth from one size of uniform countries to the next."""
    sizes = [size for size, kind, stood in found if kind == "uniform" and not stood]
    words = []
    for small, large in pairwise(sizes):
        if small < 5000:
            continue
        values = [found[size, "uniform", False].get(what) for size in (small, large)]
        if all(values):
            power = np.log(values[1] / values[0]) / np.log(large / small)
            words.append(f"{small} to {large} marks: n^{power:.2f}")
    return words


def rows_of(found: Found) -> list[str]:
    """Return the table of our own times, a row a network."""
    names = (
        "analysis", "assembly", "factor", "solve", "covariances", "numeric",
        "adjusting", "ellipses", "tests", "whole",
    )  # fmt: skip
    lines = [
        f"| marks | network | {' | '.join(f'{name} (s)' for name in names)} | "
        "tests / factor | of dgemm | numeric GB | whole GB |",
        f"|{'---|' * (len(names) + 6)}",
    ]
    for (size, kind, stood), one in found.items():
        words = kind + (", set-ups" if stood else "")
        if "missing" in one:
            lines.append(f"| {size} | {words} | {one['missing']} |")
            continue
        cells = [f"{one[name]:.3g}" for name in names]
        cells.append(f"{one['tests'] / one['factor']:.2f}")
        cells.append(f"{100 * one['of dgemm']:.0f} %")
        cells += [f"{one['memory']:.2f}", f"{one['whole memory']:.2f}"]
        lines.append(f"| {size} | {words} | {' | '.join(cells)} |")
    return lines


def written(found: Found, table: list[str], order: list[str]) -> str:
    """Return the page, with the tables of peers and of the order."""
    machine = f"{platform.machine()}, Python {platform.python_version()}"
    git = ["git", "-C", str(HERE), "log", "-1", "--format=%cs %h"]
    commit = subprocess.run(git, capture_output=True, text=True, check=False).stdout
    lines = [
        "# How the arithmetic grows",
        "",
        "Made by `tests/benchmarks/scale.py --update`; seconds of processor time, "
        f"one BLAS thread, {machine}, numpy {np.__version__}, {commit.strip()}.",
        "",
        "*numeric* is assembly, factor, solution and all covariances of marks and of "
        "the ends of observations; *whole* goes from arrays to all tests.",
        "",
        *rows_of(found),
        "",
        f"Growth, numeric: {'; '.join(grown(found, 'numeric')) or 'not measured'}.",
        f"Growth, memory: {'; '.join(grown(found, 'memory')) or 'not measured'}.",
        "",
        "Time of a peer over ours, numeric phase alone on both sides; ours always with "
        "all covariances.",
        "",
        *table,
        "",
        "Operations of our order of elimination over those of METIS's order of the "
        "same graph (goal for clustered networks 1.5): as our fronts take them, zeros "
        "in them included, and both column by column.",
        "",
        *order,
        "",
        BOUNDS,
    ]
    return "\n".join(lines)
