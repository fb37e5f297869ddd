"""Regressions and small linear models of others, through the least-squares kernel."""

import json
from pathlib import Path

import numpy as np
import pytest

from brasscap.adjust import least_squares

CASES = Path(__file__).parent / "cases"


def of_kind(kind):
    return [
        path.stem
        for path in sorted(CASES.glob("*.json"))
        if json.loads(path.read_text("utf-8"))["kind"] == kind
    ]


def design_of(problem):
    """Return the design matrix that the case's model line describes."""
    x = np.array(problem["data"]["x"], dtype=float)
    one = np.ones((len(x), 1))
    model = problem["data"]["model"]
    if "x^2" in model:
        return np.hstack([one, x, x**2])
    return np.hstack([one, x]) if "b0" in model else x


@pytest.mark.parametrize("name", of_kind("linear_regression"))
def test_nist_certified_regressions(name, case):
    """NIST's certified estimates and standard deviations, to the digits of the case."""
    problem = case(name)
    design, observed = design_of(problem), np.array(problem["data"]["y"])
    solution = least_squares(design, observed, np.eye(len(observed)))
    rsd = np.sqrt(solution.vtpv / solution.degrees_of_freedom)
    problem.check(
        beta=solution.estimate,
        sd=rsd * np.sqrt(np.diag(solution.cofactor)),
        rsd=rsd,
        dof=solution.degrees_of_freedom,
    )


@pytest.mark.parametrize("name", of_kind("linear_model"))
def test_linear_models(name, case):
    problem = case(name)
    design = np.array(problem["data"]["A"], dtype=float)
    observed = np.array(problem["data"]["l"], dtype=float)
    covariance = np.array(
        problem["data"].get("covariance", np.eye(len(observed))), dtype=float
    )
    solution = least_squares(design, observed, covariance)
    s0_sq = solution.vtpv / solution.degrees_of_freedom
    adjusted = design @ solution.cofactor @ design.T
    found = {
        "dof": solution.degrees_of_freedom,
        "vtpv": solution.vtpv,
        "s0_sq": s0_sq,
        "s0": np.sqrt(s0_sq),
        "x": solution.estimate,
        "residuals": solution.residuals,
        "Q": solution.cofactor,
        "Cx": s0_sq * solution.cofactor,
        "redundancy": 1 - np.diag(adjusted @ np.linalg.inv(covariance)),
        "sd_adjusted": np.sqrt(s0_sq * np.diag(adjusted)),
    }
    if "directions_dms_sec" in problem["expected"]:
        # Seconds of 42°12′ and, added, of 102°08′ (13 + 15 = 28): the case's note.
        first, second, _ = solution.residuals
        found["directions_dms_sec"] = [13 + first, 28 + first + second]
    problem.check(**{key: found[key] for key in problem["expected"]})
    problem.check_computed(
        **{k: v for k, v in found.items() if k in problem["computed"]}
    )


def test_a_calibration_line_with_its_prediction(case):
    """The uncertainty of a predicted value needs the covariance term: GUM, H.3."""
    problem = case("gum_h3_calibration_line")
    data = problem["data"]
    t = np.array(data["t"]) - data["t0"]
    solution = least_squares(
        np.stack([np.ones_like(t), t], axis=1), np.array(data["b"]), np.eye(len(t))
    )
    s = np.sqrt(solution.vtpv / solution.degrees_of_freedom)
    covariance = s**2 * solution.cofactor
    u = np.sqrt(np.diag(covariance))
    at_30 = np.array([1.0, 30.0 - data["t0"]])
    problem.check(
        y1=solution.estimate[0],
        y2=solution.estimate[1],
        u_y1=u[0],
        u_y2=u[1],
        r=covariance[0, 1] / (u[0] * u[1]),
        s=s,
        b30=at_30 @ solution.estimate,
        u_b30=np.sqrt(at_30 @ covariance @ at_30),
    )


def test_exact_fractions_of_a_triangle(case):
    """Four angles, two conditions: the residuals are fifths of a minute."""
    problem = case("analytic_triangle_repeated_angle")
    # Unknowns: the angles at A and B; the angle at C is what remains of 180°.
    design = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0], [-1.0, -1.0]])
    start = np.array([0.0, 0.0, 0.0, 10800.0])
    observed = np.array(problem["data"]["l"], dtype=float)
    solution = least_squares(design, observed - start, np.eye(4))
    spread = np.eye(4) - design @ solution.cofactor @ design.T
    problem.check(
        dof=solution.degrees_of_freedom,
        v_times5=5 * solution.residuals,
        Qvv_times5=5 * spread,
    )
