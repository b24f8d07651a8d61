"""Least squares and its uncertainties against NIST, the GUM and scipy."""

from pathlib import Path

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

from motion.chance.least_squares import outliers, solve, straight_line, through_origin
from motion.errors import FitError
from tests.published import published, published_cases


@pytest.mark.parametrize("case", published_cases("least_squares", "NoInt"))
def test_through_the_origin_meets_nists_certified_values(case):
    x, y = np.array(case.given["x"], float), np.array(case.given["y"], float)
    fit = through_origin(x, y)
    assert fit.values[0] == case["slope"]
    assert fit.uncertainties[0] == case["slope_u"]
    assert fit.residual_sd == case["residual_sd"]
    assert 1 - fit.residuals @ fit.residuals / (y @ y) == case["r_squared"]
    by_n = np.sqrt(fit.residuals @ fit.residuals / len(x))
    assert by_n != pytest.approx(fit.residual_sd, rel=1e-3), "dividing by n would be another number"


def test_a_line_with_intercept_meets_norris():
    norris = published("least_squares", "Norris")
    path = Path(scipy.__file__).parent / "stats/tests/data/nist_linregress/Norris.dat"
    lines = path.read_text().splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("Data:") and "y" in line.split()[1:])
    data = np.array([[float(cell) for cell in line.split()] for line in lines[start + 1 :] if len(line.split()) == 2])
    assert len(data) == norris.given["rows"]
    fit = straight_line(data[:, 1], data[:, 0])
    assert list(fit.values) == norris["values"]
    assert list(fit.uncertainties) == norris["uncertainties"]
    assert fit.residual_sd == norris["residual_sd"]


def test_the_gums_thermometer():
    case = published("least_squares", "thermometer")
    given = case.given
    fit = straight_line(given["t"], given["b"], origin=given["origin"])
    assert list(fit.values) == case["values"]
    assert list(fit.uncertainties) == case["uncertainties"]
    assert fit.covariance[0, 1] / np.prod(fit.uncertainties) == case["correlation"]
    ahead = given["at"] - given["origin"]
    row = np.array([1.0, ahead])
    uncertainty = np.sqrt(row @ fit.covariance @ row)
    assert row @ fit.values == case["value_at"]
    assert uncertainty == case["uncertainty_at"]
    without_correlation = np.hypot(fit.uncertainties[0], ahead * fit.uncertainties[1])
    assert without_correlation == case["uncertainty_at_without_correlation"]
    assert uncertainty != pytest.approx(without_correlation, rel=0.1), "leaving r out is another number"


@given(st.integers(4, 20), st.integers(0, 2**32 - 1))
def test_weighted_fits_agree_with_scipy(n, seed):
    rng = np.random.default_rng(seed)
    x = rng.uniform(1, 10, n)
    y = 2 * x - 1 + rng.normal(size=n)
    sd = rng.uniform(0.5, 2, n)
    reference, covariance = optimize.curve_fit(lambda t, a, b: a + b * t, x, y, sigma=sd, absolute_sigma=True)
    fit = straight_line(x, y, sd)
    assert fit.values == pytest.approx(reference, rel=1e-4, abs=1e-4)
    assert fit.covariance == pytest.approx(covariance, rel=1e-3, abs=1e-6)


@pytest.mark.parametrize(
    ("design", "observed", "sd", "code"),
    [
        ([[1.0], [2.0]], [1.0], None, "shape"),
        ([[1.0, 2.0]], [1.0], None, "too_few"),
        ([[1.0, 2.0], [2.0, 4.0], [3.0, 6.0]], [1.0, 2.0, 3.0], None, "no_spread"),
        ([[0.0], [0.0]], [1.0, 2.0], None, "no_spread"),
        ([[1.0], [np.nan]], [1.0, 2.0], None, "not_finite"),
        ([[1.0], [2.0]], [1.0, np.inf], None, "not_finite"),
        ([[1.0], [2.0]], [1.0, 2.0], [1.0, 0.0], "bad_sd"),
        (np.zeros((0, 1)), [], None, "too_few"),
    ],
)
def test_measurements_that_fix_nothing_are_refused(design, observed, sd, code):
    with pytest.raises(FitError) as raised:
        solve(design, observed, sd)
    assert raised.value.code == code


def test_one_wild_reading_is_named():
    x = np.arange(1.0, 9.0)
    y = 2 * x + np.array([0.1, -0.1, 0.05, 0, -0.05, 5.0, 0.1, -0.1])
    assert outliers(through_origin(x, y)) == (5,)


def test_readings_that_agree_to_the_last_step_name_none_and_one_that_does_not():
    x = np.full(5, 600.0)
    assert outliers(through_origin(x, np.full(5, 612.0)), resolution=1.0) == ()
    assert outliers(through_origin(x, np.array([612, 612, 612, 612, 660.0])), resolution=1.0) == (4,)


def test_honest_readings_are_seldom_named():
    rng = np.random.default_rng(5)
    x = np.linspace(300, 900, 8)
    named = sum(bool(outliers(through_origin(x, x + rng.normal(0, 4, 8)))) for _ in range(2000))
    assert 0.03 < named / 2000 < 0.07  # the risk asked for is 0.05
