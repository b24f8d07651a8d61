"""The card shows what to type so that the robot really does what was planned."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motion.course.actions import Drive, Push, Tool, Turn
from motion.scene.records import Pose
from planning.courses.rules.typing import KeptScales, card_rows, driving, scaled_actions, typed

START = Pose(120, 225, 0)


@dataclass
class Typing:
    yaw_sense: str = "ccw"
    yaw_reference: str = "absolute"
    distance_step_mm: float = 10.0
    turn_step_deg: float = 1.0
    travel_footprint: tuple = (((-50, -75), (150, -75), (150, 75), (-50, 75)),)
    working_footprint: tuple | None = None


COURSE = (Drive(890), Turn(46, 46), Drive(830), Turn(-46, 0), Push(330), Drive(-400), Tool("raise", 1.5))


def column(name: str, *args, **kwargs):
    return [getattr(row, name) for row in card_rows(*args, **kwargs)]


def test_words_say_left_right_and_back_so_that_nobody_trusts_a_sign():
    words = column("words", COURSE, Typing(), "cm")
    assert words == ["Drive", "Turn left", "Drive", "Turn right", "Push", "Back up", "Raise the tool"]


def test_distances_are_in_the_clubs_unit():
    distances = column("distance", COURSE, Typing(), "cm")
    assert distances == ["89 cm", "", "83 cm", "", "33 cm", "40 cm", ""]
    assert column("distance", (Drive(673.1),), Typing(distance_step_mm=12.7), "in") == ["26.5 in"]


def test_a_robot_that_turns_to_headings_is_told_headings_from_its_start():
    turned = (Turn(46, 136), Turn(-46, 90), Turn(-90, 0))
    assert column("turn", turned, Typing(), "cm") == ["46°", "0°", "-90°"]


def test_a_robot_that_turns_by_angles_is_told_angles():
    turned = (Turn(46, 46), Turn(-46, 0), Turn(-90, -90))
    assert column("turn", turned, Typing(yaw_reference="relative"), "cm") == ["46°", "-46°", "-90°"]


def test_a_robot_that_counts_clockwise_gets_the_other_sign_and_the_same_words():
    rows = card_rows((Turn(46, 46),), Typing(yaw_sense="cw"), "cm")
    assert (rows[0].turn, rows[0].words, rows[0].turn_words) == ("-46°", "Turn left", "left 46°")


def test_the_long_way_round_is_said():
    rows = card_rows((Turn(-200, 160), Turn(20, 180)), Typing(), "cm")
    assert [row.long_way for row in rows] == [True, False]
    assert rows[0].turn_words == "right 200°"


def test_a_robot_that_goes_too_far_is_told_less():
    """Source of the rule: true distance = scale x typed distance (calibration through the origin)."""
    told = typed((Drive(1020), Turn(91.8, 91.8)), START, Typing(), KeptScales(1.02, 1.02))
    rows = card_rows(told, Typing(), "cm")
    assert (rows[0].distance, rows[1].turn) == ("100 cm", "90°")


def test_a_heading_scales_with_all_that_was_turned():
    """A sensor that reads 2 % too little has done so for the whole of the way round, not for the last bit."""
    told = typed((Turn(183.6, -176.4), Turn(183.6, 7.2)), START, Typing(), KeptScales(1.0, 1.02))
    rows = card_rows(told, Typing(), "cm")
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
    rows = card_rows((Drive(890), Tool("wait", 2)), Typing(), "cm", check)
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


@given(moves, scales, st.floats(-3, 3), st.floats(-5, 5), st.sampled_from(["absolute", "relative"]))
def test_what_is_typed_is_always_on_the_robots_steps(actions, scale, bias, curve, reference):
    robot = Typing(yaw_reference=reference, turn_step_deg=5.0)
    for action in typed(actions, START, robot, KeptScales(scale, scale, bias, curve)):
        value, step = (action.by_deg, 5.0) if isinstance(action, Turn) else (action.distance_mm, 10.0)
        assert value / step == pytest.approx(round(value / step), abs=1e-6)


@given(moves, st.sampled_from([1.0, 5.0]))
def test_rounding_headings_does_not_add_up(actions, step):
    """With a yaw that counts from the start, the heading after n turns is off by half a step at most."""
    robot = Typing(turn_step_deg=step)
    wanted = got = 0.0
    for before, after in zip(actions, typed(actions, START, robot, KeptScales()), strict=True):
        if isinstance(before, Turn):
            wanted, got = wanted + before.by_deg, got + after.by_deg
            assert abs(wanted - got) <= step / 2 + 1e-6


# What the robot does every time is typed away

#: Left by 34 degrees for a metre, and back to where it looked for half a metre.
AND_BACK = (Turn(34, 34), Drive(1000), Turn(-34, 0), Drive(500))
#: Turns 2 degrees too far each time, curves 4 degrees to the left on each metre.
WAYS = KeptScales(turn_bias_deg=2.0, drift_deg_per_m=4.0)


@pytest.mark.parametrize(
    ("reference", "told", "shown"),
    [
        # The metre's chord lies half of 4 degrees left of how it begins: 34 - 2 - 2 = 30. The half metre's lies 1 left
        # of how that begins, so it looks to -1 first; a turn to the right takes it 2 further right than it is told, so
        # it is told to look to +1, 29 to the right of the 30 before.
        ("absolute", [30, -29], ["30°", "1°"]),
        # By angles: it turned by 32 and curved by 4, looks to 36, has to look to -1: 37 to the right, 2 of them unasked.
        ("relative", [30, -35], ["30°", "-35°"]),
    ],
)
def test_turning_too_far_and_curving_are_typed_away(reference, told, shown):
    robot = Typing(yaw_reference=reference)
    found = typed(AND_BACK, START, robot, WAYS)
    assert [action.by_deg for action in found if isinstance(action, Turn)] == pytest.approx(told)
    assert [row.turn for row in card_rows(found, robot, "cm") if row.kind == "turn"] == shown
    expected = driving(found, START, robot, WAYS).expected
    assert [getattr(action, "by_deg", 0.0) for action in expected] == pytest.approx([34, 0, -34, 0])


def test_numbers_that_allow_for_nothing_lead_where_the_robot_takes_them():
    """Told 34 and a metre it turns by 36 and ends 2 degrees further left still: 38. The rest from there."""
    robot = Typing()
    assert typed(AND_BACK, START, robot, KeptScales()) == AND_BACK
    drives = driving(AND_BACK, START, robot, WAYS)
    assert drives.told == AND_BACK, "what was typed asks for what was meant"
    # Told to look to 0 it comes to -2, and half a metre's chord lies 1 left of that.
    assert [action.to_deg for action in drives.expected if isinstance(action, Turn)] == pytest.approx([38, -1])


def test_scales_and_ways_are_allowed_for_together():
    """A turn of 34 true degrees that has to come out 4 less: 30 true ones, 30 / 1.2 = 25 to type; a metre: 1000 / 1.25."""
    scales = KeptScales(1.25, 1.2, 2.0, 4.0)
    turn, drive = typed(AND_BACK[:2], START, Typing(), scales)
    assert (turn.by_deg, drive.distance_mm) == (25, 800)
    told = driving((turn, drive), START, Typing(), scales).told
    assert (told[0].by_deg, told[1].distance_mm) == pytest.approx((30, 1000))


turned_legs = st.lists(
    st.tuples(st.floats(20, 170), st.sampled_from([-1, 1]), st.floats(50, 500)), min_size=1, max_size=6
).map(lambda legs: [action for by, side, leg in legs for action in (Turn(side * by, 0.0), Drive(leg))])


@given(turned_legs, st.floats(-3, 3), st.floats(-5, 5), scales)
def test_what_is_typed_is_driven_as_planned_to_a_step_in_every_heading(actions, bias, curve, scale):
    """Whole steps of told numbers round once where a turn is whole steps, and once more to what can be typed."""
    robot, numbers = Typing(), KeptScales(1.0, scale, bias, curve)
    expected = driving(typed(actions, START, robot, numbers), START, robot, numbers).expected
    wanted = got = 0.0
    for before, after in zip(actions, expected, strict=True):
        if isinstance(before, Turn):
            wanted, got = wanted + before.by_deg, got + after.by_deg
            assert abs(wanted - got) <= scale * robot.turn_step_deg + 0.1  # the legs' rounding shifts a chord a little
