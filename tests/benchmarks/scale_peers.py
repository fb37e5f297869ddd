"""General libraries on the same equations as the tool: one peer, one size, a process.

    python3 tests/benchmarks/scale_peers.py NAME MARKS KIND

Prints one JSON object: seconds, or why not. ``scale.py`` calls it. Each is given what
suits it (whitened rows, or the normal matrix already summed) before the clock starts,
and is held to our solution.
"""

import json
import sys
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import scipy.sparse as sp
from scale import rounds_at, timed

from brasscap.adjust import estimate
from brasscap.networks.simulate import simulate
from brasscap.networks.simulate.country import country


class Problem(NamedTuple):
    """min |A x − l|, and its normal equations."""

    design: sp.csr_array
    misclosure: np.ndarray
    normal: sp.csc_array
    right: np.ndarray


def problem(marks: int, kind: str) -> Problem:
    """Return whitened rows of a made-up country at its solution, with a new l."""
    made = estimate(simulate(country(marks, kind), seed=1))
    count, start = int(made.columns.max()) + 1, 0
    parts = []
    for batch in made.whitened:
        clusters, rows, _ = batch.design.shape
        row = start + np.arange(clusters * rows).reshape(clusters, rows, 1)
        column = np.broadcast_to(batch.columns[:, None], batch.design.shape)
        row = np.broadcast_to(row, batch.design.shape)
        keep = (column >= 0) & (batch.design != 0)
        parts.append((batch.design[keep], row[keep], column[keep]))
        start += clusters * rows
    value, row, column = (np.concatenate(part) for part in zip(*parts, strict=True))
    design = sp.csr_array(sp.coo_array((value, (row, column)), shape=(start, count)))
    misclosure = np.random.default_rng(0).standard_normal(start)
    normal = sp.csc_array(design.T @ design)
    return Problem(design, misclosure, normal, design.T @ misclosure)


def statsmodels_gls(one: Problem) -> np.ndarray:
    from statsmodels.api import GLS

    fit = GLS(one.misclosure, one.design.toarray()).fit()
    assert fit.normalized_cov_params.shape == one.normal.shape
    return fit.params


def least_squares(one: Problem) -> np.ndarray:
    from scipy.optimize import least_squares as solve

    made = solve(
        lambda x: one.design @ x - one.misclosure,
        np.zeros(one.normal.shape[0]),
        jac=lambda x: one.design.toarray(),
        method="lm",
    )
    np.linalg.inv(made.jac.T @ made.jac)
    return made.x


def splu(one: Problem) -> np.ndarray:
    from scipy.sparse.linalg import splu as factor

    made = factor(
        one.normal,
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    return made.solve(one.right)


def _cvxopt(one: Problem) -> tuple:
    from cvxopt import cholmod, matrix, spmatrix

    lower = sp.coo_array(sp.tril(one.normal))
    row, column = (part.tolist() for part in lower.coords)
    return cholmod, matrix(one.right), spmatrix(lower.data.tolist(), row, column)


def cholmod(one: Problem) -> Callable[[], np.ndarray]:
    """Numeric factor and solution; the order is found beforehand."""
    library, right, lower = _cvxopt(one)
    library.options["supernodal"] = 2
    symbol = library.symbolic(lower)

    def run() -> np.ndarray:
        library.numeric(lower, symbol)
        x = +right
        library.solve(symbol, x)
        return np.array(x).ravel()

    return run


def assembled(one: Problem) -> Callable[[], np.ndarray]:
    """CHOLMOD as above, its matrix summed from the rows by cvxopt's own product."""
    library, right, lower = _cvxopt(one)
    from cvxopt import base, spmatrix

    rows = sp.coo_array(one.design)
    design = spmatrix(rows.data.tolist(), *(c.tolist() for c in rows.coords))
    library.options["supernodal"] = 2
    symbol = library.symbolic(lower)

    def run() -> np.ndarray:
        summed = spmatrix([], [], [], lower.size)
        base.syrk(design, summed, trans="T")
        library.numeric(summed, symbol)
        x = +right
        library.solve(symbol, x)
        return np.array(x).ravel()

    return run


def takahashi(one: Problem) -> Callable[[], np.ndarray]:
    """CHOLMOD's factor and solution, and Takahashi's recursion on it, compiled."""
    library, right, lower = _cvxopt(one)
    recursion = _recursion()

    def run() -> np.ndarray:
        library.options["supernodal"] = 2
        symbol = library.symbolic(lower)
        library.numeric(lower, symbol)
        x = +right
        library.solve(symbol, x)
        factor = library.getfactor(symbol)
        start, index, value = (np.array(part).ravel() for part in factor.CCS)
        recursion(start, index, value)
        return np.array(x).ravel()

    run()
    return run


def _recursion() -> Callable[..., np.ndarray]:
    import numba

    @numba.njit
    def selected(start, index, value):
        count = len(start) - 1
        made, place = np.zeros(len(value)), np.full(count, -1, np.int64)
        work = np.zeros(count)
        for j in range(count - 1, -1, -1):
            first, end = start[j], start[j + 1]
            pivot = value[first]
            for q in range(first + 1, end):
                place[index[q]], work[index[q]] = q, 0.0
            for q in range(first + 1, end):
                k = index[q]
                share, total, own = value[q] / pivot, 0.0, start[k]
                work[k] += made[own] * share
                for p in range(own + 1, start[k + 1]):
                    other = place[index[p]]
                    if other >= 0:
                        work[index[p]] += made[p] * share
                        total += made[p] * value[other]
                work[k] += total / pivot
            diagonal = 1.0 / (pivot * pivot)
            for q in range(first + 1, end):
                made[q] = -work[index[q]]
                diagonal += work[index[q]] * value[q] / pivot
                place[index[q]] = -1
            made[first] = diagonal
        return made

    return selected


def gtsam_marginals(one: Problem) -> Callable[[], np.ndarray]:
    import gtsam

    count = one.normal.shape[0] // 3
    graph = gtsam.GaussianFactorGraph()
    for row in range(0, one.design.shape[0], 3):
        block = one.design[row : row + 3]
        marks = np.unique(block.indices // 3)
        at = [block[:, 3 * m : 3 * m + 3].toarray() for m in marks]
        terms = [part for m, a in zip(marks, at, strict=True) for part in (int(m), a)]
        graph.add(*terms, one.misclosure[row : row + 3], None)

    def run() -> np.ndarray:
        found = graph.optimize()
        marginals = gtsam.Marginals(graph, found)
        for mark in range(count):
            marginals.marginalCovariance(mark)
        return np.concatenate([found.at(mark) for mark in range(count)])

    return run


def pyceres_covariance(one: Problem) -> Callable[[], np.ndarray]:
    import pyceres

    class Row(pyceres.CostFunction):
        def __init__(self, parts: list[np.ndarray], misclosure: np.ndarray) -> None:
            super().__init__()
            self.parts, self.misclosure = parts, misclosure
            self.set_num_residuals(3)
            self.set_parameter_block_sizes([3] * len(parts))

        def Evaluate(self, at, residual, jacobians) -> bool:  # noqa: N802
            pairs = zip(self.parts, at, strict=True)
            residual[:] = sum(a @ x for a, x in pairs) - self.misclosure
            for k, part in enumerate(self.parts):
                if jacobians is not None and jacobians[k] is not None:
                    jacobians[k][:] = part.ravel()
            return True

    count = one.normal.shape[0] // 3

    def run() -> np.ndarray:
        places, rows = [np.zeros(3) for _ in range(count)], []
        found = pyceres.Problem()
        for row in range(0, one.design.shape[0], 3):
            block = one.design[row : row + 3]
            marks = np.unique(block.indices // 3).tolist()
            parts = [block[:, 3 * m : 3 * m + 3].toarray() for m in marks]
            rows.append(Row(parts, one.misclosure[row : row + 3]))
            found.add_residual_block(rows[-1], None, [places[m] for m in marks])
        options = pyceres.SolverOptions()
        options.linear_solver_type = pyceres.LinearSolverType.SPARSE_NORMAL_CHOLESKY
        options.function_tolerance = options.gradient_tolerance = 1e-15
        options.parameter_tolerance = 1e-15
        pyceres.solve(options, found, pyceres.SolverSummary())
        covariance = pyceres.Covariance(pyceres.CovarianceOptions())
        covariance.compute([(x, x) for x in places], found)
        for x in places:
            covariance.get_covariance_block(x, x)
        return np.concatenate(places)

    return run


PEERS = {
    "statsmodels": lambda one: lambda: statsmodels_gls(one),
    "least_squares": lambda one: lambda: least_squares(one),
    "splu": lambda one: lambda: splu(one),
    "cholmod": cholmod,
    "assembled": assembled,
    "takahashi": takahashi,
    "gtsam": gtsam_marginals,
    "pyceres": pyceres_covariance,
}


def main() -> None:
    name, marks, kind = sys.argv[1], int(sys.argv[2]), sys.argv[3]
    one = problem(marks, kind)
    try:
        run = PEERS[name](one)
    except ImportError as error:
        print(json.dumps({"missing": str(error)}))
        return
    best, x = timed(run, rounds_at(marks))
    off = np.linalg.norm(one.normal @ x - one.right) / np.linalg.norm(one.right)
    print(json.dumps({"seconds": best, "residual": float(off)}))


if __name__ == "__main__":
    main()
