"""The square path both ways: Borenstein and Feng 1996 (formulas second-hand and re-derived)."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.calibration.square import corner_errors, fit_square, ratios, square_return
from motion.errors import FitError

U2_CW = [(-131.6, -134), (-127, -135.1), (-128.7, -131), (-135.3, -129.1), (-135.6, -130.1)]
U2_CCW = [(46.3, -58.1), (51.3, -47.8), (47.1, -56.2), (54.1, -46.1), (53.4, -53.8)]


def twice(point):
    return [point, point]


def test_u1_one_pass_meets_the_derived_values():
    fit = fit_square(twice((-200, -200)), twice((-40, 40)), 4000, 340, passes=1)
    assert fit.alpha_deg == pytest.approx(0.8594366927, abs=1e-10)
    assert math.radians(fit.beta_deg) == pytest.approx(0.01, abs=1e-12)
    assert fit.wheel_ratio == pytest.approx(1.000850357859, abs=1e-12)
    assert fit.track_ratio == pytest.approx(1.009641364838, abs=1e-12)
    assert fit.track_to_type_mm == pytest.approx(343.278064045, abs=1e-9)
    assert fit.left_factor == pytest.approx(0.999575001771, abs=1e-12)
    assert fit.right_factor == pytest.approx(1.000424998229, abs=1e-12)
    assert fit.largest_error_mm == pytest.approx(282.842712475, abs=1e-9)
    assert 4000 / 2 / math.sin(math.radians(fit.beta_deg) / 2) == pytest.approx(400001.6666715, abs=1e-6)


def test_u1_the_slip_of_halving_the_sine_is_another_number():
    slipped_radius = 4000 / 2 / (math.sin(0.01) / 2)
    slipped = (slipped_radius + 170) / (slipped_radius - 170)
    assert ratios(0.015, 0.01, 4000, 340)[0] == pytest.approx(1.000850357859, abs=1e-12)
    assert slipped != pytest.approx(1.000850357859, abs=1e-12)
    # with a curve large enough for a classroom the slip is far outside of what the fit may be wrong by
    big = ratios(0.0, 0.4, 1000, 120)[0]
    radius = 500 / (math.sin(0.4) / 2)
    assert abs((radius + 60) / (radius - 60) - big) > 5e-4


def test_u2_meets_the_published_example():
    from_x = fit_square(U2_CW, U2_CCW, 2000, 135, axis="x", passes=1)
    assert from_x.centre_cw_mm == pytest.approx((-131.64, -131.86))
    assert from_x.centre_ccw_mm == pytest.approx((50.44, -52.4))
    assert from_x.largest_error_mm == pytest.approx(186.322701784, abs=1e-8)
    assert from_x.alpha_deg == pytest.approx(0.581552162, abs=1e-8)
    assert from_x.beta_deg == pytest.approx(1.304051942, abs=1e-8)
    assert from_x.wheel_ratio == pytest.approx(1.001537447806, abs=1e-11)
    assert from_x.track_ratio == pytest.approx(1.006503715689, abs=1e-11)
    assert from_x.track_to_type_mm == pytest.approx(135.878001618, abs=1e-8)
    from_y = fit_square(U2_CW, U2_CCW, 2000, 135, axis="y", passes=1)
    assert from_y.wheel_ratio == pytest.approx(1.001555868808, abs=1e-11)
    assert from_y.track_ratio == pytest.approx(1.006363463506, abs=1e-11)


def u3(**errors):
    return tuple(np.array(square_return(4000, 340, **errors, clockwise=clockwise)) for clockwise in (True, False))


def test_u3_exact_arcs_return_where_derived():
    cw, ccw = u3(wheel_ratio=1.001, track_ratio=1.01)
    assert cw == pytest.approx((-209.9464276, -230.5013745), abs=1e-6)
    assert ccw == pytest.approx((-31.34108804, 31.34250538), abs=1e-6)


def test_u3_one_pass_is_not_exact_and_iterating_is():
    cw, ccw = u3(wheel_ratio=1.001, track_ratio=1.01)
    x_only = fit_square(twice(cw), twice(ccw), 4000, 340, axis="x", passes=1)
    assert (x_only.track_ratio, x_only.wheel_ratio) == pytest.approx((1.0096935887, 1.0009492863), abs=1e-9)
    averaged = fit_square(twice(cw), twice(ccw), 4000, 340, passes=1)
    assert (averaged.track_ratio, averaged.wheel_ratio) == pytest.approx((1.0101106838, 1.0010039340), abs=1e-9)
    assert averaged.largest_error_mm == pytest.approx(311.7825943, abs=1e-6)
    converged = fit_square(twice(cw), twice(ccw), 4000, 340)
    assert (converged.track_ratio, converged.wheel_ratio) == pytest.approx((1.01, 1.001), abs=1e-10)


@pytest.mark.parametrize(
    ("axis", "sizes"), [("x", [311.783, 12.1395, 0.01874]), ("both", [311.783, 2.47044, 0.000212])]
)
def test_u3_driving_again_with_corrected_numbers_shrinks_the_error_as_derived(axis, sizes):
    wheel, track = 1.001, 1.01
    for size in sizes:
        cw, ccw = u3(wheel_ratio=wheel, track_ratio=track)
        assert max(np.hypot(*cw), np.hypot(*ccw)) == pytest.approx(size, rel=2e-3)
        found_wheel, found_track = ratios(*corner_errors(cw, ccw, 4000, axis), 4000, 340)
        wheel, track = wheel / found_wheel, track / found_track


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
