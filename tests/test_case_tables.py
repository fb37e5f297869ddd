"""Printed tables of distributions, circles, ellipses and factors."""

import numpy as np
import pytest

from brasscap.adjust.judge import limits
from brasscap.adjust.precision import circle_cubic, circle_exact, ellipse


def axes(covariance):
    semi_major, semi_minor, azimuth = ellipse(np.asarray(covariance, dtype=float))
    return float(semi_major), float(semi_minor), float(np.degrees(azimuth))


def test_chi_square_and_student_tables(case):
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7."""
    freedoms = [1, 2, 3, 4, 5, 10]
    # The two-sided limits at 90 % and 95 % have 5 % and 2.5 % above them.
    case("nist_distribution_tables").check(
        chi2_upper_05_dof_1_2_3_4_5_10=[
            limits.chi_square_limits(f, 0.90)[1] for f in freedoms
        ],
        chi2_upper_025_dof_1_2_3_4_5_10=[
            limits.chi_square_limits(f, 0.95)[1] for f in freedoms
        ],
        t_975_dof_1_5=[limits.student_limit(0.95, f) for f in (1, 2, 3, 4, 5)],
        t_975_dof_10=limits.student_limit(0.95, 10),
        chi2_bounds_dof99_95=limits.chi_square_limits(99, 0.95),
        chi2_95_bounds_dof27=limits.chi_square_limits(27, 0.95),
    )


def test_non_centrality_by_significance_and_power(case):
    """W. Baarda, A Testing Procedure for Use in Geodetic Networks, 1968."""
    problem = case("baarda_constants")
    problem.check(
        delta0=[
            np.sqrt(limits.noncentrality(alpha, power))
            for alpha, power in problem["data"]["grid"]
        ],
        crit_001=limits.normal_limit(0.001),
        delta0_001_080=np.sqrt(limits.noncentrality(0.001, 0.80)),
        lambda0=limits.noncentrality(0.001, 0.80),
    )


def test_tau_table(case):
    """The modified Thompson table is Pope's τ, scaled by √((n − 1)/n)."""
    problem = case("modified_thompson_tau_table")
    alpha = problem["data"]["alpha"]
    problem.check(
        thompson=[
            limits.tau_limit(alpha, n - 1) * np.sqrt((n - 1) / n)
            for n in problem["data"]["n"]
        ]
    )


def test_numbers_of_the_standards(case):
    """Baarda, Teunissen, Pope, Leenhouts; each is named in the case."""
    problem = case("standards_numbers_a")
    data = problem["data"]
    half = data["leenhouts"]["b_over_a"]
    problem.check(
        sqrt_chi2=[np.sqrt(limits.chi_square_quantile(0.95, p)) for p in (2, 3)],
        lambda0=[limits.noncentrality(0.001, 0.80, p) for p in (1, 2, 3)],
        b_method=limits.b_method(0.001, 0.80, 3),
        tau=[
            limits.tau_limit(alpha, dof)
            for alpha, dof in zip(data["tau"]["alpha"], data["tau"]["dof"], strict=True)
        ],
        leenhouts=[circle_cubic(1.0, half), circle_exact(1.0, half)],
        iso17123_8=[
            *(np.sqrt(limits.chi_square_quantile(0.95, f) / f) for f in (56, 28)),
            *(limits.fisher_quantile(0.975, f, f) for f in (56, 28)),
        ],
        ellipse_f=np.sqrt(2 * limits.fisher_quantile(0.95, 2, 10)),
        sidak=limits.sidak(0.05, 100),
    )


def test_axes_of_a_cofactor_matrix(case):
    problem = case("analytic_error_ellipse_exam")
    semi_major, semi_minor, azimuth = axes(problem["data"]["Q"])
    problem.check(E2=semi_major**2, F2=semi_minor**2, azimuth=azimuth)


def test_relative_ellipse_of_correlated_points(case):
    """Law of propagation of covariance: C_A + C_B − C_AB − C_BA."""
    problem = case("analytic_relative_ellipse_a")
    whole = np.array(problem["data"]["covariance"])
    difference = np.hstack([-np.eye(2), np.eye(2)])
    covariances = {
        "A": whole[:2, :2],
        "B": whole[2:, 2:],
        "AB": difference @ whole @ difference.T,
    }
    factor = np.sqrt(limits.chi_square_quantile(0.95, 2))
    for name, covariance in covariances.items():
        semi_major, semi_minor, azimuth = axes(covariance)
        found = {
            "semi_major": semi_major,
            "semi_minor": semi_minor,
            "azimuth_deg": azimuth,
            "semi_major_95": factor * semi_major,
            "semi_minor_95": factor * semi_minor,
            "circle_95": circle_cubic(semi_major, semi_minor),
            "circle_95_exact": circle_exact(semi_major, semi_minor),
        }
        if name == "AB":
            # A circle has no azimuth.
            del found["azimuth_deg"]
        for key, value in found.items():
            other = problem["computed"]["ellipses"][name][key]
            assert value == pytest.approx(other, rel=1e-9, abs=0), (name, key)
    line = np.array(problem["data"]["line_EN"])
    along = line / np.linalg.norm(line)
    problem.check(
        relative_covariance=covariances["AB"],
        sd_distance=np.sqrt(along @ covariances["AB"] @ along),
    )


def test_ellipses_from_an_estimated_variance_factor(case):
    """Scaled by √(2 F): J. Mahun, open-access survey notes."""
    problem = case("ellipse_confidence_scale_f")
    scale = np.sqrt(2 * limits.fisher_quantile(0.95, 2, problem["data"]["dof"]))
    standard = problem["data"]["standard_axes"]
    problem.check(
        G_95=scale * np.array(standard["G"]), H_95=scale * np.array(standard["H"])
    )


def test_circles_and_heights_of_published_accuracies(case):
    """Sixteen rows of the US National Geodetic Survey's data sheets."""
    problem = case("ngs_local_network_accuracy")
    rows = problem["observations"]
    north, east, height, correlation = (
        np.array([row[key] for row in rows])
        for key in ("sd_n_cm", "sd_e_cm", "sd_h_cm", "corr_ne")
    )
    both = correlation * east * north
    covariances = np.array([[east**2, both], [both, north**2]]).transpose(2, 0, 1)
    semi_major, semi_minor, azimuth = ellipse(covariances)
    problem.check(
        horiz95_cm=circle_cubic(semi_major, semi_minor),
        ellip95_cm=limits.normal_limit(0.05) * height,
    )
    problem.check_computed(
        a=semi_major,
        b=semi_minor,
        az=np.degrees(azimuth),
        horiz95_exact_cm=circle_exact(semi_major, semi_minor),
    )
