"""Lengths, angles and yaw: read without guessing, shown without surprise."""

import doctest
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion import units
from motion.errors import UnitError
from motion.units import (
    figure,
    format_angle,
    format_length,
    in_digits,
    nearest_step,
    parse_angle,
    parse_length,
    side_word,
    turn_in_words,
    whole_number,
)


@pytest.mark.parametrize(
    ("text", "unit", "mm"),
    [
        ("26 in", "cm", 660.4),
        ("26in", "mm", 660.4),
        ('26"', "cm", 660.4),
        ("26 1/2 in", "cm", 673.1),
        ("26½ in", "cm", 673.1),
        ("1/2 inch", "cm", 12.7),
        ("½ in", "cm", 12.7),
        ("66 cm", "in", 660.0),
        ("66,5 cm", "in", 665.0),
        ("0,125 in", "cm", 3.175),
        ("660", "mm", 660.0),
        ("66", "cm", 660.0),
        ("26", "in", 660.4),
        (" -12 CM ", "in", -120.0),
        ("−12 cm", "in", -120.0),
        ("0.66 m", "in", 660.0),
        ("2 ft", "cm", 609.6),
        (66, "cm", 660.0),
        (".5 in", "cm", 12.7),
    ],
)
def test_a_length_is_read_in_the_unit_it_names_or_in_the_clubs(text, unit, mm):
    assert parse_length(text, unit) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "not_a_length"),
        ("twelve", "not_a_length"),
        ("12 34", "not_a_length"),
        ("1/0 in", "not_a_length"),
        ("12 ells", "unknown_unit"),
        ("1,234", "two_readings"),
        ("1,234.5", "two_readings"),
        ("1,2,3", "two_readings"),
        ("nan", "not_a_length"),
        ("1e5", "not_a_length"),
        (math.nan, "not_a_length"),
        (math.inf, "not_a_length"),
        ("99999999999 cm", "too_long"),
        ("=A1+1", "not_a_length"),
    ],
)
def test_a_length_that_needs_a_guess_is_refused_with_a_remedy(text, code):
    with pytest.raises(UnitError) as raised:
        parse_length(text, "cm")
    assert raised.value.code == code
    assert raised.value.message.endswith(".")


def test_an_unknown_default_unit_is_refused_even_when_the_text_names_its_own():
    with pytest.raises(UnitError) as raised:
        parse_length("26 in", "yd")
    assert raised.value.code == "unknown_unit"


@pytest.mark.parametrize(
    ("mm", "unit", "options", "shown"),
    [
        (660.4, "in", {}, "26 in"),
        (660.4, "mm", {}, "660 mm"),
        (655.0, "cm", {}, "65.5 cm"),
        (673.1, "in", {"fraction": 2}, "26 1/2 in"),
        (670.0, "in", {"fraction": 16}, "26 3/8 in"),
        (12.7, "in", {"fraction": 4}, "1/2 in"),
        (-12.7, "in", {"fraction": 4}, "-1/2 in"),
        (0.01, "in", {"fraction": 8}, "0 in"),
        (-0.01, "cm", {}, "0 cm"),
        (123.456, "cm", {"decimals": 3}, "12.346 cm"),
        (120.0, "cm", {"with_unit": False}, "12"),
        (1000.0, "mm", {}, "1000 mm"),
    ],
)
def test_a_length_is_shown_short_and_in_the_clubs_unit(mm, unit, options, shown):
    assert format_length(mm, unit, **options) == shown


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_no_number_is_never_shown_as_one(bad):
    with pytest.raises(UnitError):
        format_length(bad, "cm")
    with pytest.raises(UnitError):
        format_angle(bad)


def test_fractions_are_for_inches():
    with pytest.raises(UnitError):
        format_length(100.0, "cm", fraction=2)
    with pytest.raises(UnitError):
        format_length(100.0, "in", fraction=3)


@given(st.floats(-5000, 5000), st.sampled_from(["mm", "cm", "in"]))
def test_what_is_shown_reads_back_within_half_of_its_last_place(mm, unit):
    shown = format_length(mm, unit)
    half = {"mm": 0.5, "cm": 0.5, "in": 1.27}[unit]
    assert abs(parse_length(shown, "mm") - mm) <= half + 1e-6


@given(st.floats(-5000, 5000), st.sampled_from([2, 4, 8, 16]))
def test_fractions_of_an_inch_read_back_within_half_a_step(mm, fraction):
    shown = format_length(mm, "in", fraction=fraction)
    assert abs(parse_length(shown, "mm") - mm) <= 25.4 / fraction / 2 + 1e-6


@given(st.text(max_size=30))
def test_any_text_is_a_length_or_a_unit_error(text):
    try:
        assert math.isfinite(parse_length(text, "cm"))
    except UnitError:
        pass


@pytest.mark.parametrize(
    ("value", "decimals", "shown"),
    [
        (2.7499999999998708, 1, "2.8"),
        (2.75, 1, "2.8"),
        (-2.75, 1, "-2.8"),
        (2.749, 1, "2.7"),
        (0.5, 0, "1"),
        (1.5, 0, "2"),
        (2.5, 0, "3"),
        (100 * 0.285, 0, "29"),
        (1.005, 2, "1.01"),
        (-0.04, 1, "0.0"),
        (1234567.5, 0, "1234568"),
        (0.00005, 4, "0.0001"),
        (math.nan, 1, "–"),
        (-math.inf, 1, "–"),
    ],
)
def test_a_number_is_said_with_halves_away_from_zero_and_noise_decides_nothing(value, decimals, shown):
    assert figure(value, decimals) == shown


def test_a_plus_is_said_when_asked_for_and_nothing_has_no_sign():
    assert [figure(value, 1, sign=True) for value in (0.25, -0.25, 0.01, -0.01)] == ["+0.3", "-0.3", "0.0", "0.0"]


@pytest.mark.parametrize(
    ("value", "digits", "shown"),
    [
        (1.025, 3, "1.03"),
        (0.98765, 3, "0.988"),
        (9.9996, 4, "10"),
        (1270.0, 3, "1270"),
        (0, 3, "0"),
        (-12.345, 4, "-12.35"),
        (math.inf, 3, "–"),
    ],
)
def test_a_size_is_said_in_so_many_digits(value, digits, shown):
    assert in_digits(value, digits) == shown


def test_steps_are_counted_to_the_nearest_and_halves_away_from_zero():
    assert nearest_step(509.8, 10) == 510
    assert nearest_step(2.25, 0.5) == 2.5 and nearest_step(-2.25, 0.5) == -2.5
    assert whole_number(0.1 * 3 / 0.2) == 2, "1.5000000000000002 and 1.4999999999999998 are both one and a half"


@given(st.integers(-40_000, 40_000), st.integers(0, 3), st.floats(-1e-12, 1e-12))
def test_a_half_is_a_half_on_every_machine(halves, decimals, noise):
    value = halves / 2 / 10**decimals
    assert figure(value * (1 + noise), decimals) == figure(value, decimals)
    assert whole_number(halves / 2 * (1 + noise)) == whole_number(halves / 2)
    assert in_digits(value * (1 + noise), 3) == in_digits(value, 3)
    assert format_length(value * (1 + noise), "cm") == format_length(value, "cm")


@given(st.floats(-1e6, 1e6), st.integers(0, 4))
def test_what_is_said_is_within_half_of_its_last_place(value, decimals):
    assert abs(float(figure(value, decimals)) - value) <= 0.5 * 10**-decimals * (1 + 1e-5) + abs(value) * 1e-9


@pytest.mark.parametrize(("text", "deg"), [("90", 90.0), ("-45 deg", -45.0), ("22.5°", 22.5), (30, 30.0)])
def test_an_angle_is_read_in_degrees(text, deg):
    assert parse_angle(text) == deg


@pytest.mark.parametrize("text", ["", "left", "90 rad", math.nan])
def test_an_angle_that_is_none_is_refused(text):
    with pytest.raises(UnitError):
        parse_angle(text)


def test_turns_say_left_or_right_so_that_nobody_trusts_a_sign():
    assert turn_in_words(90) == "left 90°"
    assert turn_in_words(-200.0) == "right 200°"
    assert turn_in_words(0.01) == "no turn"
    assert side_word(0.0) == "straight"


def test_the_examples_in_the_docstrings_hold():
    assert doctest.testmod(units).failed == 0
