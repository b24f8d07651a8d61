"""A diagnosis in words: every sentence in full; and the corrected numbers, worked out by hand."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest

from motion.calibration.diagnosis_words import advice_for, corrected_actions, mean_in_words, slip_words, words_for
from motion.chance.logged import Miss
from motion.course.actions import Drive, Push, Tool, Turn


@dataclass(frozen=True)
class Cause:
    parameter: str
    size: float = 1.0


@pytest.mark.parametrize(
    ("parameter", "size", "u", "words"),
    [
        ("distance_scale", 0.0312, 0.0071, "distances come out 3.1 ± 0.7 % too long"),
        ("distance_scale", -0.0312, 0.0071, "distances come out 3.1 ± 0.7 % too short"),
        ("turn_scale", 0.0312, 0.0071, "turns come out 3.1 ± 0.7 % too big"),
        ("turn_scale", -0.0312, 0.0071, "turns come out 3.1 ± 0.7 % too small"),
        ("turn_bias", 3.12, 0.71, "turns come out 3.1 ± 0.7 degrees too big"),
        ("turn_bias", -3.12, 0.71, "turns come out 3.1 ± 0.7 degrees too small"),
        ("drift", 3.12, 0.71, "it curves 3.1 ± 0.7 degrees a metre to the left"),
        ("drift", -3.12, 0.71, "it curves 3.1 ± 0.7 degrees a metre to the right"),
        ("start_heading", 3.12, 0.71, "it starts turned 3.1 ± 0.7 degrees to the left"),
        ("start_heading", -3.12, 0.71, "it starts turned 3.1 ± 0.7 degrees to the right"),
        ("start_x", 12.4, 3.3, "it starts 12 ± 3 mm too near to the right edge"),
        ("start_x", -12.4, 3.3, "it starts 12 ± 3 mm too near to the left edge"),
        ("start_y", 12.4, 3.3, "it starts 12 ± 3 mm too near to the far edge"),
        ("start_y", -12.4, 3.3, "it starts 12 ± 3 mm too near to the near edge"),
        ("target_along", 12.4, 3.3, "the target stands 12 ± 3 mm farther on than the plan has it"),
        ("target_along", -12.4, 3.3, "the target stands 12 ± 3 mm nearer than the plan has it"),
        ("target_lateral", 12.4, 3.3, "the target stands 12 ± 3 mm farther to the left than the plan has it"),
        ("target_lateral", -12.4, 3.3, "the target stands 12 ± 3 mm farther to the right than the plan has it"),
        ("target_heading", 3.12, 0.71, "the target is turned 3.1 ± 0.7 degrees farther to the left than in the plan"),
        ("target_heading", -3.12, 0.71, "the target is turned 3.1 ± 0.7 degrees farther to the right than in the plan"),
        (
            "battery",
            -0.0212,
            0.0031,
            "distances come out shorter from run to run, 2.1 ± 0.3 % over ten runs, as with a battery that runs down",
        ),
        ("battery", 0.0212, 0.0031, "distances come out longer from run to run, 2.1 ± 0.3 % over ten runs"),
        # Less than one and nothing at all: the sign alone tells the way.
        ("turn_bias", -0.5, 0.1, "turns come out 0.5 ± 0.1 degrees too small"),
        ("drift", -0.5, 0.1, "it curves 0.5 ± 0.1 degrees a metre to the right"),
        ("start_heading", -0.5, 0.1, "it starts turned 0.5 ± 0.1 degrees to the right"),
        ("start_heading", 0.5, 0.1, "it starts turned 0.5 ± 0.1 degrees to the left"),
        ("start_x", 0.9, 0.1, "it starts 1 ± 0 mm too near to the right edge"),
        ("start_x", -0.9, 0.1, "it starts 1 ± 0 mm too near to the left edge"),
        ("distance_scale", 0.0, 0.01, "distances come out 0.0 ± 1.0 % too short"),
        ("turn_scale", 0.0, 0.01, "turns come out 0.0 ± 1.0 % too small"),
        ("turn_bias", 0.0, 0.1, "turns come out 0.0 ± 0.1 degrees too small"),
        ("drift", 0.0, 0.1, "it curves 0.0 ± 0.1 degrees a metre to the right"),
        ("start_heading", 0.0, 0.1, "it starts turned 0.0 ± 0.1 degrees to the right"),
        ("start_x", 0.0, 3.0, "it starts 0 ± 3 mm too near to the left edge"),
    ],
)
def test_what_is_off_by_how_much_and_which_way(parameter, size, u, words):
    assert words_for(parameter, size, u) == words


NUMBERS = "Type the corrected numbers, run again, and change nothing else."
PLACE = "Keep the numbers; place the robot anew against a block or a line, then run again."
BACK = "Keep the numbers; put the target back where the plan has it, then run again."


@pytest.mark.parametrize(
    ("causes", "advice"),
    [
        (["distance_scale"], NUMBERS),
        (["turn_bias", "drift"], NUMBERS),
        (["start_heading", "distance_scale"], NUMBERS),
        (["start_heading"], PLACE),
        (["start_x", "start_y"], PLACE),
        (["target_along"], BACK),
        (["target_lateral", "target_along"], BACK),
        (["target_heading"], BACK),
        (
            ["start_x", "target_heading"],
            "Keep the numbers; place the robot anew against a block or a line and put the target back where the plan has "
            "it, then run again.",
        ),
        (["battery"], "Keep the numbers; let the robot and its battery warm up, then run again."),
        (
            ["turn_bias", "target_along"],
            "Put the target back where the plan has it. Then type the corrected numbers, run again, and change nothing "
            "else.",
        ),
    ],
)
def test_what_to_try_when_the_cause_is_known(causes, advice):
    assert advice_for([Cause(name) for name in causes], []) == advice


def test_a_battery_that_runs_down_is_charged_as_its_maker_says():
    falling, bias = Cause("battery", -0.02), Cause("turn_bias", 4.0)
    assert advice_for([falling], []) == (
        "Keep the numbers; charge the battery as the kit's maker says, then run again."
    )
    assert advice_for([falling, bias], []) == (
        "Charge the battery as the kit's maker says. Then type the corrected numbers, run again, and change nothing else."
    )


@pytest.mark.parametrize(
    ("first", "others", "checks"),
    [
        ("target_along", ["target_lateral"], "a tape from two edges to the target"),
        ("start_heading", ["target_heading"], "a start against a square block, then a square held against the target"),
        (
            "distance_scale",
            ["battery"],
            "straight runs by tape, then runs with the battery charged as the kit's maker says",
        ),
        ("turn_scale", ["turn_bias"], "spins of several whole turns, then spins of several sizes"),
        ("distance_scale", ["start_x", "start_y"], "straight runs by tape, then a start against a block"),
        ("start_heading", ["start_x"], "a start against a square block, then a start against a block"),
        (
            "drift",
            ["start_heading"],
            "straight runs with the sideways miss measured, then a start against a square block",
        ),
        ("start_x", ["start_y"], "a start against a block"),
    ],
)
def test_what_would_tell_causes_apart_is_named_once_each(first, others, checks):
    assert advice_for([Cause(first)], [Cause(name) for name in others]) == (
        f"These runs cannot tell the causes apart; {checks} will. Until then try the first."
    )


@pytest.mark.parametrize(
    ("misses", "runs", "words"),
    [
        ([], 0, "No run has a measured miss yet."),
        ([Miss(), Miss(math.nan)], 0, "No run has a measured miss yet."),
        ([Miss(20.0)], 1, "Rests on 1 run: on average 20 mm left."),
        ([Miss(-20.0), Miss(-10.0)], 2, "Rests on 2 runs: on average 15 mm right."),
        ([Miss(None, 8.0)], 1, "Rests on 1 run: on average 8 mm too far."),
        ([Miss(None, -8.0)], 1, "Rests on 1 run: on average 8 mm short."),
        ([Miss(None, None, 2.26)], 1, "Rests on 1 run: on average 2.3 degrees turned left."),
        ([Miss(None, None, -2.26)], 1, "Rests on 1 run: on average 2.3 degrees turned right."),
        (
            [Miss(20.0, -8.0, 1.0), Miss(40.0, None, 2.0), Miss(None, -4.0)],
            3,
            "Rests on 3 runs: on average 30 mm left, 6 mm short, 1.5 degrees turned left.",
        ),
        ([Miss(-0.2), Miss(0.1)], 2, "Rests on 2 runs: on average 0 mm left."),
        ([Miss(math.inf, 5.0), Miss(6.0)], 2, "Rests on 2 runs: on average 6 mm left, 5 mm too far."),
    ],
)
def test_the_average_miss_in_a_sentence(misses, runs, words):
    assert mean_in_words(misses, runs) == words


@pytest.mark.parametrize(
    ("outliers", "words"),
    [
        ([(3, 0, 150.4)], "Run 3 stands out: it landed 150 mm farther on than the others."),
        ([(3, 0, -150.4)], "Run 3 stands out: it landed 150 mm shorter than the others."),
        ([(1, 1, 80.0)], "Run 1 stands out: it landed 80 mm farther to the left than the others."),
        ([(1, 1, -80.0)], "Run 1 stands out: it landed 80 mm farther to the right than the others."),
        ([(2, 2, 31.2)], "Run 2 stands out: it landed turned 31 degrees farther to the left than the others."),
        ([(2, 2, -31.2)], "Run 2 stands out: it landed turned 31 degrees farther to the right than the others."),
        (
            [(2, 0, -90.0), (7, 1, 60.0)],
            "Run 2 and run 7 stand out: they landed 90 mm shorter and 60 mm farther to the left than the others.",
        ),
    ],
)
def test_a_run_that_stands_out_is_named_with_how_far(outliers, words):
    assert slip_words(outliers) == words


def test_what_the_average_leaves_out_is_named():
    assert mean_in_words([Miss(20.0)], 1, "run 2") == "Rests on 1 run without run 2: on average 20 mm left."
    assert mean_in_words([Miss(20.0)] * 3, 3, "run 2 and run 5") == (
        "Rests on 3 runs without run 2 and run 5: on average 20 mm left."
    )


# Corrected numbers

COURSE = (Turn(90, 90), Drive(1000), Turn(-90, 0), Drive(400), Tool("lower", 1.0), Push(100))


def numbers(actions):
    """Each action's numbers, rounded against the dust of binary fractions."""
    return [
        (round(a.by_deg, 6), round(a.to_deg, 6)) if isinstance(a, Turn) else round(a.distance_mm, 6)
        for a in actions
        if not isinstance(a, Tool)
    ]


@pytest.mark.parametrize("reference", ["absolute", "relative"])
def test_nothing_found_changes_nothing(reference):
    assert corrected_actions(COURSE, {}, reference) == list(COURSE)
    assert corrected_actions(COURSE, {"start_x": 9.0, "start_heading": 2.0}, reference) == list(COURSE)


@pytest.mark.parametrize("reference", ["absolute", "relative"])
def test_a_robot_that_goes_a_quarter_too_far_is_told_four_fifths(reference):
    found = corrected_actions(COURSE, {"distance_scale": 0.25}, reference)
    assert numbers(found) == [(90, 90), 800, (-90, 0), 320, 80]
    assert [type(action) for action in found] == [type(action) for action in COURSE]
    assert found[4] == Tool("lower", 1.0)


@pytest.mark.parametrize(
    ("reference", "sizes", "turns"),
    [
        # A quarter too big: 72 makes 90.
        ("relative", {"turn_scale": 0.25}, [(72, 90), (-72, 0)]),
        # To a heading: 67.5 ends 22.5 short of 90 and the robot, a quarter of 90 too far, stands at it.
        ("absolute", {"turn_scale": 0.25}, [(67.5, 67.5), (-45, 22.5)]),
        # Four degrees too big, either way round.
        ("relative", {"turn_bias": 4.0}, [(86, 90), (-86, 0)]),
        ("absolute", {"turn_bias": 4.0}, [(86, 86), (-82, 4)]),
        ("relative", {"turn_bias": -4.0}, [(94, 90), (-94, 0)]),
        # Two degrees a metre to the left: aimed off to the right by half of what each leg will add (1000, then 500 mm).
        ("relative", {"drift": 2.0}, [(89, 89), (-91.5, -0.5)]),
        ("absolute", {"drift": 2.0}, [(89, 89), (-89.5, -0.5)]),
        ("relative", {"turn_scale": 0.25, "turn_bias": 4.0}, [(68.8, 90), (-68.8, 0)]),
    ],
)
def test_turns_are_told_so_that_they_come_out_as_meant(reference, sizes, turns):
    found = corrected_actions(COURSE, sizes, reference)
    assert [pair for pair in numbers(found) if isinstance(pair, tuple)] == turns
    assert [length for length in numbers(found) if not isinstance(length, tuple)] == [1000, 400, 100]


def test_both_scales_a_tenth_too_big_are_both_taken_back():
    found = corrected_actions(COURSE, {"distance_scale": 0.1, "turn_scale": 0.1}, "relative")
    lengths = [length for length in numbers(found) if not isinstance(length, tuple)]
    assert lengths == pytest.approx([1000 / 1.1, 400 / 1.1, 100 / 1.1], abs=0.01)
    assert [action.by_deg for action in found if isinstance(action, Turn)] == pytest.approx([90 / 1.1, -90 / 1.1])


def test_drift_is_counted_by_the_metre_told():
    """A robot that goes a quarter too far is told 800 for 1000; two degrees a metre told add 1.6 on that leg."""
    found = corrected_actions(COURSE, {"distance_scale": 0.25, "drift": 2.0}, "absolute")
    assert numbers(found) == [(89.2, 89.2), 800, (-89.6, -0.4), 320, 80]
    relative = corrected_actions(COURSE, {"distance_scale": 0.25, "drift": 2.0}, "relative")
    assert numbers(relative) == [(89.2, 89.2), 800, (-91.2, -0.4), 320, 80]


def test_backing_up_takes_drift_back():
    there_and_back = (Turn(90, 90), Drive(600), Drive(-600), Turn(-90, 0), Push(100))
    found = corrected_actions(there_and_back, {"drift": 2.0}, "relative")
    assert numbers(found) == [(90, 90), 600, -600, (-90.1, -0.1), 100]


def test_a_turn_of_nothing_is_not_taken_for_one_to_the_left():
    """What has to be turned decides the way, not what was planned: 0 with half a degree of drift to take back."""
    found = corrected_actions((Turn(0, 0), Drive(500)), {"drift": 2.0, "turn_bias": 1.0}, "relative")
    assert numbers(found) == [(0.5, -0.5), 500]
