"""The square path both ways: Borenstein and Feng 1996 (formulas second-hand and re-derived)."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.calibration.square import corner_errors, fit_square, ratios, square_return
from motion.errors import FitError
from tests.published import published

U1, U2, U3 = (published("square_path", name) for name in ("U1", "U2", "U3"))
U2_CW, U2_CCW = U2.given["cw"], U2.given["ccw"]


def twice(point):
    return [point, point]


def fit_published(case, repeat=1, **how):
    given = case.given
    return fit_square(given["cw"] * repeat, given["ccw"] * repeat, given["side_mm"], given["track_mm"], passes=1, **how)


def test_u1_one_pass_meets_the_derived_values():
    fit = fit_published(U1, repeat=2)
    assert fit.alpha_deg == U1["alpha_deg"]
    assert math.radians(fit.alpha_deg) == U1["alpha_rad"]
    assert math.radians(fit.beta_deg) == U1["beta_rad"]
    assert fit.wheel_ratio == U1["wheel_ratio"]
    assert fit.track_ratio == U1["track_ratio"]
    assert fit.track_to_type_mm == U1["track_to_type_mm"]
    assert fit.left_factor == U1["left_factor"]
    assert fit.right_factor == U1["right_factor"]
    assert fit.largest_error_mm == U1["largest_error_mm"]
    assert 4000 / 2 / math.sin(math.radians(fit.beta_deg) / 2) == U1["radius_mm"]


def test_u1_the_slip_of_halving_the_sine_is_another_number():
    slipped_radius = 4000 / 2 / (math.sin(0.01) / 2)
    slipped = (slipped_radius + 170) / (slipped_radius - 170)
    assert ratios(0.015, 0.01, 4000, 340)[0] == U1["wheel_ratio"]
    assert slipped != U1["wheel_ratio"]
    # with a curve large enough for a classroom the slip is far outside of what the fit may be wrong by
    big = ratios(0.0, 0.4, 1000, 120)[0]
    radius = 500 / (math.sin(0.4) / 2)
    assert abs((radius + 60) / (radius - 60) - big) > 5e-4


def test_u2_meets_the_published_example():
    from_x = fit_published(U2, axis="x")
    assert from_x.centre_cw_mm == U2["centre_cw_mm"]
    assert from_x.centre_ccw_mm == U2["centre_ccw_mm"]
    assert from_x.largest_error_mm == U2["largest_error_mm"]
    assert from_x.alpha_deg == U2["alpha_deg"]
    assert from_x.beta_deg == U2["beta_deg"]
    assert from_x.wheel_ratio == U2["wheel_ratio"]
    assert from_x.track_ratio == U2["track_ratio"]
    assert from_x.track_to_type_mm == U2["track_to_type_mm"]
    from_y = fit_published(U2, axis="y")
    assert from_y.wheel_ratio == U2["wheel_ratio_from_y"]
    assert from_y.track_ratio == U2["track_ratio_from_y"]


def u3(**errors):
    return tuple(np.array(square_return(4000, 340, **errors, clockwise=clockwise)) for clockwise in (True, False))


def u3_as_given():
    return u3(wheel_ratio=U3.given["wheel_ratio"], track_ratio=U3.given["track_ratio"])


def test_u3_exact_arcs_return_where_derived():
    cw, ccw = u3_as_given()
    assert list(cw) == U3["cw"]
    assert list(ccw) == U3["ccw"]


def test_u3_one_pass_is_not_exact_and_iterating_is():
    cw, ccw = u3_as_given()
    x_only = fit_square(twice(cw), twice(ccw), 4000, 340, axis="x", passes=1)
    assert x_only.track_ratio == U3["one_pass_x_track_ratio"]
    assert x_only.wheel_ratio == U3["one_pass_x_wheel_ratio"]
    averaged = fit_square(twice(cw), twice(ccw), 4000, 340, passes=1)
    assert averaged.track_ratio == U3["one_pass_both_track_ratio"]
    assert averaged.wheel_ratio == U3["one_pass_both_wheel_ratio"]
    assert averaged.largest_error_mm == U3["largest_error_mm"]
    converged = fit_square(twice(cw), twice(ccw), 4000, 340)
    given = (U3.given["track_ratio"], U3.given["wheel_ratio"])
    assert (converged.track_ratio, converged.wheel_ratio) == pytest.approx(given, abs=1e-10)


@pytest.mark.parametrize("axis", ["x", "both"])
def test_u3_driving_again_with_corrected_numbers_shrinks_the_error_as_derived(axis):
    wheel, track = U3.given["wheel_ratio"], U3.given["track_ratio"]
    sizes = []
    for _ in range(3):
        cw, ccw = u3(wheel_ratio=wheel, track_ratio=track)
        sizes.append(max(np.hypot(*cw), np.hypot(*ccw)))
        found_wheel, found_track = ratios(*corner_errors(cw, ccw, 4000, axis), 4000, 340)
        wheel, track = wheel / found_wheel, track / found_track
    assert sizes == U3[f"corrected_again_{axis}_mm"]


@given(st.floats(-0.06, 0.06), st.floats(-0.06, 0.06), st.floats(300, 4000), st.floats(80, 200))
def test_any_sane_pair_of_errors_is_recovered_exactly(alpha, beta, side, track):
    wheel_ratio, track_ratio = ratios(alpha, beta, side, track)
    centres = [
        square_return(side, track, wheel_ratio=wheel_ratio, track_ratio=track_ratio, clockwise=clockwise)
        for clockwise in (True, False)
    ]
    fit = fit_square(twice(centres[0]), twice(centres[1]), side, track)
    assert fit.wheel_ratio == pytest.approx(wheel_ratio, abs=1e-8)
    assert fit.track_ratio == pytest.approx(track_ratio, abs=1e-8)


def test_the_stated_uncertainty_is_the_spread_of_repeated_fits():
    rng = np.random.default_rng(3)
    fits = [
        fit_square(rng.normal((-60, -50), 8, (5, 2)), rng.normal((20, -15), 8, (5, 2)), 1000, 120) for _ in range(400)
    ]
    for value, stated in (("wheel_ratio", "wheel_ratio_u"), ("track_ratio", "track_ratio_u")):
        spread = np.std([getattr(fit, value) for fit in fits])
        claimed = np.sqrt(np.mean([getattr(fit, stated) ** 2 for fit in fits]))
        assert claimed == pytest.approx(spread, rel=0.12)


def test_a_corners_uncertainty_is_the_spread_of_repeated_fits():
    rng = np.random.default_rng(3)
    fits = [
        fit_square(rng.normal((-60, -50), 8, (5, 2)), rng.normal((20, -15), 8, (5, 2)), 1000, 120) for _ in range(400)
    ]
    for name in ("alpha_deg", "beta_deg"):
        stated = np.sqrt(np.mean([fit.alpha_u_deg**2 for fit in fits]))
        assert stated == pytest.approx(np.std([getattr(fit, name) for fit in fits]), rel=0.12)


def driven_squares(turn_sd_deg, relative, rng):
    """200 returns of squares of 600 mm whose corners alone vary, walked side by side."""
    returns = []
    for _ in range(200):
        slips = np.radians(rng.normal(0, turn_sd_deg, 3))
        heading = np.pi / 2 * np.arange(4) + np.concatenate([[0], np.cumsum(slips) if relative else slips])
        returns.append((600 * np.cos(heading).sum(), 600 * np.sin(heading).sum()))
    return returns


@pytest.mark.parametrize(("yaw_reference", "relative"), [("absolute", False), ("relative", True)])
def test_the_scatter_of_squares_says_how_a_turn_of_90_degrees_varies(yaw_reference, relative):
    rng = np.random.default_rng(12)
    fit = fit_square(driven_squares(1.5, relative, rng), driven_squares(1.5, relative, rng), 600, 120)
    assert fit.turn_sd_deg(yaw_reference) == pytest.approx(1.5, rel=0.08)
    assert fit.free == 398


@pytest.mark.parametrize("odd", [(90, 0), (0, 90)])
def test_a_wild_square_is_flagged_and_kept(odd):
    rng = np.random.default_rng(13)
    cw, ccw = rng.normal(-10, 4, (5, 2)), rng.normal(10, 4, (5, 2))
    assert fit_square(cw, ccw, 1000, 120).outliers == ()
    ccw[2] += odd
    fit = fit_square(cw, ccw, 1000, 120)
    assert fit.outliers == (7,) and fit.runs == 10


def test_none_stands_out_where_all_belong_together():
    rng = np.random.default_rng(14)
    flagged = [
        bool(fit_square(rng.normal(-10, 6, (5, 2)), rng.normal(10, 6, (5, 2)), 1000, 120).outliers) for _ in range(600)
    ]
    assert np.mean(flagged) < 0.05 + 3 * math.sqrt(0.05 * 0.95 / 600)


@pytest.mark.parametrize(
    ("cw", "ccw", "side", "code"),
    [
        ([(1, 2)], U2_CCW, 2000, "too_few"),
        (U2_CW, [(1, 2), (np.nan, 2)], 2000, "not_finite"),
        (U2_CW, [(1, 2, 3)], 2000, "shape"),
        (U2_CW, U2_CCW, 0, "absurd"),
        (U2_CW, U2_CCW, 200, "absurd"),
        ([], [], 2000, "shape"),
    ],
)
def test_garbage_is_refused(cw, ccw, side, code):
    with pytest.raises(FitError) as raised:
        fit_square(cw, ccw, side, 135)
    assert raised.value.code == code
