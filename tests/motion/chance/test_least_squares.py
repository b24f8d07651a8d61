"""Least squares and its uncertainties against NIST, the GUM and scipy."""

from pathlib import Path

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

from motion.chance.least_squares import outliers, solve, straight_line, through_origin, widen
from motion.errors import FitError


@pytest.mark.parametrize(
    ("x", "y", "b", "se", "s", "r2"),
    [
        (
            range(60, 71),
            range(130, 141),
            2.07438016528926,
            0.0165289256198347,
            3.56753034006338,
            0.999365492298663,
        ),
        ([4, 5, 6], [3, 4, 4], 0.727272727272727, 0.0420827318078432, 0.369274472937998, 0.993348115299335),
    ],
    ids=["NoInt1", "NoInt2"],
)
def test_through_the_origin_meets_nists_certified_values(x, y, b, se, s, r2):
    # NIST Statistical Reference Datasets, NoInt1 and NoInt2 (certified values second-hand)
    x, y = np.array(x, float), np.array(y, float)
    fit = through_origin(x, y)
    assert fit.values[0] == pytest.approx(b, rel=1e-13)
    assert fit.uncertainties[0] == pytest.approx(se, rel=1e-11)
    assert fit.residual_sd == pytest.approx(s, rel=1e-12)
    assert 1 - fit.residuals @ fit.residuals / (y @ y) == pytest.approx(r2, rel=1e-13)
    by_n = np.sqrt(fit.residuals @ fit.residuals / len(x))
    assert by_n != pytest.approx(s, rel=1e-3), "dividing by n would be another number"


def test_a_line_with_intercept_meets_norris():
    # NIST Norris with its certificate, as installed with scipy
    path = Path(scipy.__file__).parent / "stats/tests/data/nist_linregress/Norris.dat"
    lines = path.read_text().splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("Data:") and "y" in line.split()[1:])
    data = np.array([[float(cell) for cell in line.split()] for line in lines[start + 1 :] if len(line.split()) == 2])
    assert len(data) == 36
    fit = straight_line(data[:, 1], data[:, 0])
    assert fit.values == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-11)
    assert fit.uncertainties == pytest.approx([0.232818234301152, 0.000429796848199937], rel=1e-10)
    assert fit.residual_sd == pytest.approx(0.884796396144373, rel=1e-11)


T = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
B = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]


def test_the_gums_thermometer():
    # JCGM 100:2008, H.3
    fit = straight_line(T, B, origin=20.0)
    assert fit.values == pytest.approx([-0.171203790131, 0.00218269773989], rel=1e-10)
    assert fit.uncertainties == pytest.approx([0.00287759783516, 0.000667938773228], rel=1e-9)
    assert fit.correlation(0, 1) == pytest.approx(-0.930429603093, rel=1e-9)
    value, uncertainty = fit.predict([1.0, 10.0])
    assert value == pytest.approx(-0.149376812732, rel=1e-10)
    assert uncertainty == pytest.approx(0.00413859575285, rel=1e-9)
    without_correlation = np.hypot(fit.uncertainties[0], 10 * fit.uncertainties[1])
    assert without_correlation == pytest.approx(0.00727, abs=5e-6)
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


def test_few_runs_are_widened_as_in_the_gums_table():
    # JCGM 100:2008 table G.2, column 68.27 %
    for degrees, factor in [(1, 1.84), (2, 1.32), (3, 1.20), (4, 1.14), (9, 1.06), (19, 1.03)]:
        assert widen(degrees + 1) == pytest.approx(factor, abs=0.006)
    with pytest.raises(FitError):
        widen(1)
