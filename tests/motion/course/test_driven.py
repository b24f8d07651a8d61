"""What a robot is told and what it drives: by hand, and each the inverse of the other."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from motion.course.actions import Drive, Push, Tool, Turn
from motion.course.driven import as_driven, lean_deg, told_for
from motion.scene.records import Pose, Systematic

START = Pose(100, 200, 90)
EXACT = 1e-6  # degrees
references = pytest.mark.parametrize("reference", ["absolute", "relative"])


def turns(actions):
    return [(round(a.by_deg, 9), round(a.to_deg, 9)) for a in actions if isinstance(a, Turn)]


# By hand


@pytest.mark.parametrize(
    ("legs", "lean"),
    [
        ([1000], 2.0),  # at 4 degrees a metre the chord leans by half of what the leg turns
        ([-1000], -2.0),  # backing curves the other way
        ([500, 500], 2.0),  # two legs in a row are one
        ([600, 0, 400], 1.2),  # but not across a leg of nothing: what comes then is another course
        ([600, -400], 1.2),  # nor across a change of direction
        ([0, 300], 0.0),
        ([], 0.0),
    ],
)
def test_the_chord_leans_by_half_of_the_curve_up_to_a_change_of_direction(legs, lean):
    assert lean_deg(legs, 4.0) == pytest.approx(lean)


def test_with_absolute_yaw_each_turn_has_its_own_bias_and_takes_back_the_curve():
    told = (Turn(30, 120), Drive(1000), Turn(-50, 70), Drive(500), Turn(20, 90))
    known = Systematic(turn_bias_deg=2, drift_deg_per_m=4)
    # 90 + 30 + 2 and half of 4; then 120 - 50 - 2 and half of 2; then 70 + 20 + 2 with no leg to lean
    assert turns(as_driven(START, told, known, "absolute")) == [(34, 124), (-55, 69), (23, 92)]


def test_with_relative_yaw_biases_and_curves_add_up():
    told = (Turn(30, 120), Drive(1000), Turn(-50, 70), Drive(500), Turn(20, 90))
    known = Systematic(turn_bias_deg=2, drift_deg_per_m=4)
    # it stands at 122 and, a metre on, at 126; 126 - 50 - 2 = 74 and half of 2; half a metre on 76, and 20 + 2 more
    assert turns(as_driven(START, told, known, "relative")) == [(34, 124), (-49, 75), (23, 98)]


@references
def test_a_leg_after_a_reversal_does_not_change_what_is_told_before_the_first(reference):
    known = Systematic(drift_deg_per_m=4)
    there = (Turn(30, 120), Drive(1000))
    (first,) = turns(told_for(START, there, known, EXACT, reference))
    (same,) = turns(told_for(START, (*there, Drive(-400), Drive(200)), known, EXACT, reference))
    assert first == same == (28, 118)


def test_backing_takes_the_curve_back_before_the_next_relative_turn():
    known = Systematic(drift_deg_per_m=4)
    told = (Drive(1000), Drive(-1000), Turn(90, 180))
    assert turns(as_driven(START, told, known, "relative")) == [(90, 180)]


def test_a_curve_before_the_first_turn_is_taken_back_by_that_turn():
    known, course = Systematic(drift_deg_per_m=4), (Drive(1000), Turn(-90, 0), Drive(500))
    # a metre on it stands at 94: relative it is told to turn by 94 and 1 more for the next leg
    assert turns(told_for(START, course, known, EXACT, "relative")) == [(-95, -5)]
    assert turns(told_for(START, course, known, EXACT, "absolute")) == [(-91, -1)]


@references
def test_a_turn_of_nothing_has_no_bias(reference):
    known = Systematic(turn_bias_deg=3)
    assert turns(as_driven(START, (Turn(0, 90), Drive(100)), known, reference)) == [(0, 90)]


def test_what_is_told_of_a_whole_turn_is_whole_and_of_any_other_exact():
    known, steps = Systematic(turn_bias_deg=1.7), 5
    course = (Turn(30, 120), Turn(31, 151))
    # 30 - 1.7 is nearest to 30, which comes out at 121.7; to get from the 120 told to 151 with its bias: 29.3
    assert turns(told_for(START, course, known, steps, "absolute")) == [(30, 120), (29.3, 149.3)]
    # really at 121.7, 29.3 more are wanted, less the bias
    assert turns(told_for(START, course, known, steps, "relative")) == [(30, 120), (27.6, 147.6)]


# Whatever the course

angles = st.floats(-180, 180).filter(lambda by: abs(by) > 8)
moves = st.lists(
    st.one_of(
        st.builds(lambda by: Turn(by, 0), angles),
        st.builds(Drive, st.floats(-900, 900)),
        st.builds(Push, st.floats(10, 200)),
        st.just(Tool("lower", 1.0)),
    ),
    max_size=9,
)
sizes = st.builds(Systematic, turn_bias_deg=st.floats(-3, 3), drift_deg_per_m=st.floats(-5, 5))


def with_headings(actions):
    heading, out = START.heading_deg, []
    for action in actions:
        if isinstance(action, Turn):
            heading += action.by_deg
            action = Turn(action.by_deg, math.remainder(heading, 360))
        out.append(action)
    return tuple(out)


@given(moves, st.sampled_from(["absolute", "relative"]))
def test_of_a_robot_that_does_nothing_every_time_course_and_numbers_are_the_same(actions, reference):
    course = with_headings(actions)
    assert told_for(START, course, Systematic(), 1, reference) == course
    came = as_driven(START, course, Systematic(), reference)
    assert [a for a in came if not isinstance(a, Turn)] == [a for a in course if not isinstance(a, Turn)]
    assert [a.by_deg for a in came if isinstance(a, Turn)] == pytest.approx(
        [a.by_deg for a in course if isinstance(a, Turn)], abs=1e-9
    )


def furthest(course, came):
    """How far off the meant headings of its legs a robot comes out (degrees), turn by turn."""
    off = worst = 0.0
    for meant, real in zip(course, came, strict=True):
        if isinstance(meant, Turn):
            off += real.by_deg - meant.by_deg
            worst = max(worst, abs(off))
        else:
            assert real == meant
    return worst


@given(moves, sizes, st.sampled_from(["absolute", "relative"]))
def test_what_is_told_brings_the_course_back(actions, known, reference):
    """Turns of more than 8 degrees: the most that bias (3) and a lean could take back without turning a turn round."""
    course = with_headings(actions)
    assume(safe(course, known))
    came = as_driven(START, told_for(START, course, known, EXACT, reference), known, reference)
    assert furthest(course, came) <= 1e-5


@given(moves, sizes, st.sampled_from(["absolute", "relative"]), st.sampled_from([0.5, 1.0, 2.0, 5.0]))
def test_in_whole_steps_every_leg_comes_out_within_half_a_step(actions, known, reference, step):
    whole = [Turn(step * round(a.by_deg / step), 0) if isinstance(a, Turn) else a for a in actions]
    course = with_headings(whole)
    assume(safe(course, known))
    told = told_for(START, course, known, step, reference)
    assert all(abs(a.by_deg / step - round(a.by_deg / step)) < 1e-9 for a in told if isinstance(a, Turn))
    assert furthest(course, as_driven(START, told, known, reference)) <= step / 2 + 1e-6


def safe(course, known):
    """No turn is so small that what is taken back (bias, curve, half a step) turns it round, and its bias with it."""
    curve = sum(abs(a.distance_mm) for a in course if isinstance(a, Drive | Push)) / 1000 * abs(known.drift_deg_per_m)
    most = abs(known.turn_bias_deg) * 2 + curve * 2 + 5.0
    return all(abs(a.by_deg) > most for a in course if isinstance(a, Turn))
