"""What a calibration says is said in words and numbers that can be typed."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from classroom.robots.kinds import KINDS
from classroom.robots.pages.measuring import CAUTION
from classroom.robots.pages.pictures import outline_picture, series_picture
from motion.calibration import fit_rest_drift, fit_set_down, fit_spin, fit_square, fit_straight
from tests import factories as make
from tests.published import published

SHORT = fit_straight([600, 600, 900], [588, 590, 882])


def kind_of_fit(fit):
    return next(kind for kind in KINDS.values() if isinstance(fit, kind.fit_class))


def found(fit, unit):
    return kind_of_fit(fit).found(fit, unit)


def corrections(fit, robot, unit):
    return kind_of_fit(fit).corrections(fit, robot, unit)


def settings_to_type(fit, robot, unit):
    return kind_of_fit(fit).settings(fit, robot, unit)


@pytest.fixture
def robot():
    return make.RobotFactory.build(distance_step_mm=10, turn_step_deg=5, wheel_diameter_mm=56, track_width_mm=112)


@pytest.mark.parametrize(
    ("unit", "said"),
    [
        ("cm", "Told 100 cm it goes 98.1 cm"),
        ("in", "Told 100 in it goes 98.1 in"),
        ("mm", "Told 1000 mm it goes 981 mm"),
    ],
)
def test_a_straight_fit_is_said_in_the_clubs_unit(unit, said):
    assert said in found(SHORT, unit) and "1.9 % too little" in found(SHORT, unit)


def test_a_curve_is_said_only_when_it_is_more_than_its_uncertainty():
    steady = fit_straight([1000] * 4, [990, 991, 990, 989], sideways_mm=[20, 21, 19, 20])
    unsteady = fit_straight([1000] * 4, [990, 991, 990, 989], sideways_mm=[20, -21, 19, -20])
    assert "It curves left by 2.3° a metre." in found(steady, "cm")
    assert "no steady curve" in found(unsteady, "cm")


def test_how_a_curve_varies_is_said_without_how_the_robot_was_set_down():
    sideways = [20, -25, 12, -10, 30]
    usual = fit_straight([1000] * 5, [990] * 5, sideways_mm=sideways)
    own = fit_straight([1000] * 5, [990] * 5, sideways_mm=sideways, set_down_sd_deg=0.5)
    two = fit_straight(
        [500] * 5 + [1500] * 5, [495] * 5 + [1485] * 5, sideways_mm=[3, -4, 2, 5, -2, 60, -75, 30, -40, 55]
    )
    assert "once 1.0° of setting it down (a kit's usual) is taken out. To tell the two apart" in found(usual, "cm")
    assert "once 0.5° of setting it down (as measured by itself) is taken out." in found(own, "cm")
    assert "measure as many runs again at a second distance, twice as long." in found(own, "cm")
    assert "From run to run its curve varies by" in found(two, "cm") and "° of setting it down." in found(two, "cm")
    assert "second distance" not in found(two, "cm")
    hardly = fit_straight([1000] * 4, [990] * 4, sideways_mm=[20, 21, 19, 20])
    assert "Its curve hardly varies, once" in found(hardly, "cm")


def test_a_record_from_before_curve_and_setting_down_were_told_apart_says_nothing_of_it():
    fit = fit_straight([1000] * 5, [990] * 5, sideways_mm=[20, -25, 12, -10, 30])
    assert found(replace(fit, start_heading_from=""), "cm").endswith("no steady curve to either side.")


def test_an_overshoot_of_every_turn_is_told_apart_from_a_scale():
    fit = fit_spin([360, 360, 1080, 1080], [363, 362.6, 1083, 1082.6])
    assert "ends 2.8° too far" in found(fit, "cm") and "just what it is told" in found(fit, "cm")


def test_spins_of_one_size_ask_for_the_other():
    large, small = found(fit_spin([1080, 1085], [1071, 1076]), "cm"), found(fit_spin([90, 90], [91, 91]), "cm")
    assert "A turn of 90° varies by" in large and "if it grows with the angle as a kit's usually does." in large
    assert "add spins of 90°, the turns of most courses: three to each side." in large
    assert "add spins of 1080°: three to each side." in small
    both = found(fit_spin([90, -90, 90, 1080, -1080, 1080], [91, -90, 89, 1081, -1083, 1079]), "cm")
    assert "° as a rule. A turn of 90° varies by" in both and "add spins" not in both


def test_an_old_record_of_spins_says_nothing_of_a_turns_scatter():
    old = replace(fit_spin([1080, 1080], [1071, 1072]), turn_sd_deg=None)
    assert found(old, "cm").endswith("Single spins differ by 0.7° as a rule.")


#: Calibrations that come out at an edge of rounding: 2.75 degrees, 0.05 per cent, half a millimetre, ...
AT_AN_EDGE = {
    "a bias of 2.75": lambda k: fit_spin([360, 360, 1080, 1080], [363 * k, 362.5, 1083, 1082.5 * k]),
    "a scale of 1.0005": lambda k: fit_straight([1000, 1000, 2000], [1000.5 * k, 1000.5, 2001 * k]),
    "a scale of 0.9985": lambda k: fit_straight([600, 600, 1200], [599.1, 599.1 * k, 1198.2 * k]),
    "a scale of 1.0125": lambda k: fit_spin([1080, 1080], [1093.5 * k, 1093.5]),
    "a yaw of 360.25": lambda k: fit_spin([1080, 1080], [1080, 1080], yaw_deg=[1080.75 * k, 1080.75]),
    "a square that turns as told": lambda k: fit_square(
        [(-100, 100 * k)] * 2, [(100 * k, 100)] * 2, 4000, 340, passes=1
    ),
    "a square that runs straight": lambda k: fit_square(
        [(100, 100 * k)] * 2, [(100 * k, -100)] * 2, 4000, 340, passes=1
    ),
    "a square": lambda k: fit_square([(-200 * k, -200)] * 2, [(-40, 40 * k)] * 2, 4000, 340, passes=1),
    "a rest of 0.75": lambda k: fit_rest_drift([0, 60, 120, 180], [0, 0.75 * k, 1.5, 2.25 * k]),
}


@pytest.mark.parametrize("case", AT_AN_EDGE)
@pytest.mark.parametrize("unit", ["mm", "cm", "in"])
@given(noise=st.floats(-1e-12, 1e-12))
def test_another_machines_last_digits_change_no_word(case, unit, noise):
    robot = make.RobotFactory.build()
    tidy, noisy = AT_AN_EDGE[case](1.0), AT_AN_EDGE[case](1.0 + noise)
    assert found(noisy, unit) == found(tidy, unit)
    assert corrections(noisy, robot, unit) == corrections(tidy, robot, unit)
    assert settings_to_type(noisy, robot, unit) == settings_to_type(tidy, robot, unit)


def test_the_square_says_what_each_corner_and_side_does():
    given = published("square_path", "U1").given  # alpha 0.015 rad (0.859 degrees), beta 0.01 rad to the left
    fit = fit_square(given["cw"] * 2, given["ccw"] * 2, given["side_mm"], given["track_mm"], passes=1)
    assert "Each corner turns 0.86° short" in found(fit, "mm") and "curves left by 0.57°" in found(fit, "mm")


def test_the_square_says_how_sure_it_is():
    fit = fit_square([(-13, -12), (-17, -10)], [(5, -5), (7, -3)], 1000, 120)
    words = found(fit, "mm")
    assert f"(both give or take {fit.alpha_u_deg:.2f}°)" in words
    assert f"is {fit.wheel_ratio:.4f} times the left (give or take {fit.wheel_ratio_u:.4f})" in words
    assert f"the track {fit.track_ratio:.4f} times what was believed (give or take {fit.track_ratio_u:.4f})" in words
    assert f"as turns of 90° do that vary by {fit.turn_sd_deg():.1f}°." in words


def test_a_square_that_stands_out_is_named_by_its_place_on_the_sheet(robot):
    returns = [(-10, -9), (10, 11), (-12, -10), (12, 9), (-9, -11), (150, 9), (-11, -9), (9, 10), (-10, -12), (11, 11)]
    runs = [{"way": ("cw", "ccw")[i % 2], "x_mm": x, "y_mm": y, "side_mm": 1000} for i, (x, y) in enumerate(returns)]
    kind = KINDS["square"]
    assert kind.outliers(kind.fit_runs(robot, runs)) == (5,)


def test_a_yaw_at_rest_that_stays_put_is_not_called_drifting():
    assert "stays put" in found(fit_rest_drift([0, 60, 120, 180], [0, 0.1, -0.1, 0]), "cm")
    assert "+1.0° a minute" in found(fit_rest_drift([0, 60, 120, 180], [0, 1.0, 2.0, 3.0]), "cm")


def test_what_to_type_makes_the_robot_do_what_is_wanted(robot):
    line = corrections(SHORT, robot, "cm")[1]
    assert (line.wanted, line.typed, line.settable) == ("go 50 cm", "50.96 cm", "51 cm")
    turns = corrections(fit_spin([1080, 1080], [1071, 1071]), robot, "cm")
    assert (turns[1].wanted, turns[1].typed, turns[1].settable) == ("turn 90°", "90.8°", "90°")


def test_sizes_to_set_once_for_all_are_the_corrected_ones(robot):
    # Goes too short, so its wheels are smaller than believed; turns too little, so they stand further apart.
    assert settings_to_type(SHORT, robot, "mm") == [("Wheel diameter", "54.9 mm")]
    assert settings_to_type(fit_spin([1080, 1080], [1071, 1071]), robot, "mm") == [("Track width", "112.9 mm")]


def test_every_kind_says_how_to_measure_and_what_to_mind():
    for kind in KINDS.values():
        assert {"Get ready", "Mark", "Measure", "How often"} <= {step.head for step in kind.steps}, kind.key
    assert "kit maker's instructions come first" in CAUTION


def test_setting_down_says_how_exactly_and_what_all_have_in_common():
    even = fit_set_down([3, -3, 3, -3], [6, -6, 0, 0], [-2, 2, -2, 2], 150.0)
    assert "within 2.8 mm of its usual place as a rule (give or take 0.8 mm)" in found(even, "mm")
    assert "within 2.6° of its usual heading (give or take 1.1)." in found(even, "mm")
    assert "On the whole it stands at its marks." in found(even, "mm")
    off = fit_set_down([-4, -5, -4, -5], [9, 10, 9, 10], [1, 2, 1, 2], 150.0)
    assert "On the whole it stands 0.5 cm behind and 0.6 cm to the left and 3.1° turned left of its marks" in found(
        off, "cm"
    )
    right = fit_set_down([4, 5, 4, 5], [-9, -10, -9, -10], [-1, -2, -1, -2], 150.0)
    assert "0.5 cm ahead and 0.6 cm to the right and 3.1° turned right of its marks: mind that" in found(right, "cm")


# Pictures

DAYS = st.dates(dt.date(2026, 1, 1), dt.date(2026, 12, 31))
VALUES = st.floats(-1e4, 1e4, allow_subnormal=False)


@given(st.lists(st.tuples(DAYS, VALUES, st.floats(0, 100)), min_size=1, max_size=20))
def test_every_mark_and_whisker_lies_within_its_picture(points):
    rows = sorted((day, value, value - half, value + half) for day, value, half in points)
    picture = series_picture(rows)
    for mark in picture.marks:
        assert picture.left <= mark.x <= picture.right
        assert -0.1 <= mark.high <= mark.y <= mark.low <= picture.bottom + 0.1
    heights = [y for y, _ in picture.ticks]
    assert 2 <= len(heights) <= 8 and heights == sorted(heights, reverse=True)


def test_higher_values_stand_higher_and_later_days_further_right():
    start = dt.date(2026, 11, 1)
    rows = [(start + dt.timedelta(days=i), float(i), float(i), float(i)) for i in range(5)]
    marks = series_picture(rows).marks
    assert [m.y for m in marks] == sorted((m.y for m in marks), reverse=True)
    assert [m.x for m in marks] == sorted(m.x for m in marks)


def test_a_length_from_zero_starts_at_zero():
    day = dt.date(2026, 11, 1)
    picture = series_picture([(day, 5.0, 4.0, 6.0), (day, 7.0, 6.0, 8.0)], suffix=" cm", from_zero=True)
    assert picture.ticks[0] == (picture.bottom, "0 cm")


def test_a_share_has_no_tick_over_what_it_can_be():
    day = dt.date(2026, 11, 1)
    picture = series_picture(
        [(day, 60.0, 20.0, 100.0), (day, 90.0, 70.0, 100.0)], suffix=" %", most=100.0, from_zero=True
    )
    assert [words for _, words in picture.ticks] == ["0 %", "50 %", "100 %"]
    assert min(mark.high for mark in picture.marks) == picture.ticks[-1][0]


def test_nothing_measured_is_no_picture():
    assert series_picture([]) is None


def test_an_outline_is_drawn_to_scale_with_left_up():
    drawn = outline_picture([[[-50, -75], [150, -75], [150, 80]]], None, wheel_mm=56, track_mm=112, unit="in")
    assert drawn.travel == ("-50.0,75.0 150.0,75.0 150.0,-80.0",)
    assert drawn.bar_words == "2 in" and "H0.8" in drawn.bar_path  # from x = -50 mm over 50.8 mm
