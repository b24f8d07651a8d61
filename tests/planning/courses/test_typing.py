"""The card shows what to type so that the robot really does what was planned."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.course.actions import Drive, Push, Tool, Turn
from motion.scene.records import Pose
from planning.courses.rules.typing import card_rows, scaled_actions, typed

START = Pose(120, 225, 0)


@dataclass
class Typing:
    yaw_sense: str = "ccw"
    yaw_reference: str = "absolute"
    distance_step_mm: float = 10.0
    turn_step_deg: float = 1.0


@dataclass
class Scales:
    distance_scale: float = 1.0
    turn_scale: float = 1.0


COURSE = (Drive(890), Turn(46, 46), Drive(830), Turn(-46, 0), Push(330), Drive(-400), Tool("raise", 1.5))


def column(name: str, *args, **kwargs):
    return [getattr(row, name) for row in card_rows(*args, **kwargs)]


def test_words_say_left_right_and_back_so_that_nobody_trusts_a_sign():
    words = column("words", COURSE, START, Typing(), Scales(), "cm")
    assert words == ["Drive", "Turn left", "Drive", "Turn right", "Push", "Back up", "Raise the tool"]


def test_distances_are_in_the_clubs_unit():
    distances = column("distance", COURSE, START, Typing(), Scales(), "cm")
    assert distances == ["89 cm", "", "83 cm", "", "33 cm", "40 cm", ""]
    assert column("distance", (Drive(673.1),), START, Typing(distance_step_mm=12.7), Scales(), "in") == ["26.5 in"]


def test_a_robot_that_turns_to_headings_is_told_headings_from_its_start():
    turned = (Turn(46, 136), Turn(-46, 90), Turn(-90, 0))
    assert column("turn", turned, Pose(0, 0, 90), Typing(), Scales(), "cm") == ["46°", "0°", "-90°"]


def test_a_robot_that_turns_by_angles_is_told_angles():
    turned = (Turn(46, 46), Turn(-46, 0), Turn(-90, -90))
    assert column("turn", turned, START, Typing(yaw_reference="relative"), Scales(), "cm") == ["46°", "-46°", "-90°"]


def test_a_robot_that_counts_clockwise_gets_the_other_sign_and_the_same_words():
    rows = card_rows((Turn(46, 46),), START, Typing(yaw_sense="cw"), Scales(), "cm")
    assert (rows[0].turn, rows[0].words, rows[0].turn_words) == ("-46°", "Turn left", "left 46°")


def test_the_long_way_round_is_said():
    rows = card_rows((Turn(-200, 160), Turn(20, 180)), START, Typing(), Scales(), "cm")
    assert [row.long_way for row in rows] == [True, False]
    assert rows[0].turn_words == "right 200°"


def test_a_robot_that_goes_too_far_is_told_less():
    """Source of the rule: true distance = scale x typed distance (calibration through the origin)."""
    rows = card_rows((Drive(1020), Turn(91.8, 91.8)), START, Typing(), Scales(1.02, 1.02), "cm")
    assert (rows[0].distance, rows[1].turn) == ("100 cm", "90°")


def test_a_heading_scales_with_all_that_was_turned():
    """A sensor that reads 2 % too little has done so for the whole of the way round, not for the last bit."""
    rows = card_rows((Turn(183.6, -176.4), Turn(183.6, 7.2)), START, Typing(), Scales(1.0, 1.02), "cm")
    assert [row.turn for row in rows] == ["180°", "0°"]


def test_room_and_what_is_nearest_stand_beside_the_action():
    from motion.course.actions import Check

    check = Check(
        clear=True,
        touches=(),
        room_mm=(110.0, float("inf")),
        nearest=("gravel bank", ""),
        poses=(START, START, START),
        duration_s=1,
        outbound_s=1,
        return_s=0,
        clearance_mm=110.0,
        landing=None,
        success=None,
        shares=(),
    )
    rows = card_rows((Drive(890), Tool("wait", 2)), START, Typing(), Scales(), "cm", check)
    assert [(row.room_mm, row.nearest) for row in rows] == [(110.0, "gravel bank"), (None, "")]
    assert rows[1].seconds == "2 s"


lengths = st.floats(-2000, 2000, allow_nan=False)
angles = st.floats(-350, 350, allow_nan=False)
moves = st.lists(st.one_of(lengths.map(Drive), angles.map(lambda by: Turn(by, 0.0))), max_size=12)
scales = st.floats(0.8, 1.25)


@given(moves, scales, scales)
def test_typed_and_back_is_the_same_course(actions, distance, turn):
    true = scaled_actions(actions, START, distance, turn)
    back = scaled_actions(true, START, 1 / distance, 1 / turn)
    for before, after in zip(actions, back, strict=True):
        if isinstance(before, Turn):
            assert after.by_deg == pytest.approx(before.by_deg, abs=1e-9)
        else:
            assert after.distance_mm == pytest.approx(before.distance_mm, abs=1e-9)


@given(moves, scales, st.sampled_from(["absolute", "relative"]))
def test_what_is_typed_is_always_on_the_robots_steps(actions, scale, reference):
    robot = Typing(yaw_reference=reference, turn_step_deg=5.0)
    for action in typed(actions, START, robot, Scales(scale, scale)):
        value, step = (action.by_deg, 5.0) if isinstance(action, Turn) else (action.distance_mm, 10.0)
        assert value / step == pytest.approx(round(value / step), abs=1e-6)


@given(moves, st.sampled_from([1.0, 5.0]))
def test_rounding_headings_does_not_add_up(actions, step):
    """With a yaw that counts from the start, the heading after n turns is off by half a step at most."""
    robot = Typing(turn_step_deg=step)
    wanted = got = 0.0
    for before, after in zip(actions, typed(actions, START, robot, Scales()), strict=True):
        if isinstance(before, Turn):
            wanted, got = wanted + before.by_deg, got + after.by_deg
            assert abs(wanted - got) <= step / 2 + 1e-6
