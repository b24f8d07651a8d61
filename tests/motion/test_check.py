from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motion.check import check_course
from motion.course.actions import Drive, Push, Turn
from motion.ground import outlines
from motion.scene.records import Obstacle, Pose
from tests.motion.picture.test_picture import SCENE
from tests.oracles.judge import judge_course

START = SCENE.start
# Out along y = 600 to the gate, push, back off, and all the way back.
GOOD = (
    Turn(45, 45), Drive(530), Turn(-45, 0), Drive(1225), Push(90), Drive(-1315), Turn(45, 45), Drive(-530), Turn(-45, 0),
)  # fmt: skip
EMPTY = replace(SCENE, obstacles=())


def told(check):
    return [(t.action, t.what) for t in check.touches]


def test_a_course_that_keeps_clear_is_called_clear():
    check = check_course(EMPTY, START, GOOD, runs=500)
    assert check.touches == ()
    assert check.clear
    assert check.success is not None
    assert check.landing is not None
    assert check.duration_s == pytest.approx(
        check.outbound_s + check.return_s + 1.24, abs=0.01
    )  # push: 90/120 + 120/500 + .25


def test_a_leg_into_an_obstacle_is_named_with_its_place():
    check = check_course(SCENE, START, GOOD, runs=500)
    assert (3, "obstacle") in told(check)
    touch = check.touches[0]
    assert touch.name == "gravel & mud"
    assert 900 <= touch.x_mm <= 1200
    assert 500 <= touch.y_mm <= 700
    assert touch.message == "Step 4, a drive, runs into the gravel & mud."


def test_coming_nearer_than_the_margin_is_told_apart_from_running_in():
    near = replace(SCENE, obstacles=(Obstacle(((900, 677), (1200, 677), (1200, 800), (900, 800)), "bank"),))
    check = check_course(near, START, GOOD, runs=500)
    touch = next(t for t in check.touches if t.what == "obstacle")
    assert touch.message == "Step 4, a drive, comes too near the bank."
    assert touch.overlap_mm == pytest.approx(3 - (677 - check.poses[4].y_mm - 75), abs=0.01)


def test_the_edge_has_a_name():
    check = check_course(EMPTY, START, (Turn(180, 180), Drive(200)))
    assert check.touches[0].name == "the left edge"


def test_a_course_without_a_push_is_checked_as_far_as_it_goes():
    check = check_course(EMPTY, START, GOOD[:3])
    assert told(check) == [(3, "push")]
    assert check.success is None


def test_two_pushes_are_one_too_many():
    assert (5, "push") in told(check_course(EMPTY, START, (*GOOD[:5], Push(10), *GOOD[5:])))


def test_a_start_outside_the_base_is_told():
    assert told(check_course(EMPTY, Pose(500, 225, 0), ()))[0] == (-1, "base")


def test_landing_beside_the_window_is_told_with_its_side():
    late = (Turn(45, 45), Drive(600), *GOOD[2:])
    messages = [t.message for t in check_course(EMPTY, START, late, runs=500).touches if t.what == "window"]
    assert any("to the left" in m for m in messages)


def test_a_push_at_a_slant_is_told_in_degrees():
    slant = (*GOOD[:2], Turn(-37, 8), *GOOD[3:])
    messages = [t.message for t in check_course(EMPTY, START, slant, runs=500).touches if t.what == "window"]
    assert any("turned 8° too far to the left" in m for m in messages)


def test_a_push_too_short_or_too_long_is_told():
    for push, words in ((60, "short"), (130, "past")):
        check = check_course(EMPTY, START, (*GOOD[:4], Push(push), *GOOD[5:]), runs=500)
        assert any(words in t.message for t in check.touches if t.what == "window")


def test_a_target_that_was_not_moved_is_never_done_however_wide_the_window():
    wide = replace(EMPTY, target=replace(EMPTY.target, window=replace(EMPTY.target.window, short_mm=500)))
    for push in (30, 5, 0, -40):  # the gap before the target is 30 mm
        check = check_course(wide, START, (*GOOD[:4], Push(push), *GOOD[5:]), quick=True)
        assert (4, "window") in told(check)
    assert (4, "window") not in told(check_course(wide, START, (*GOOD[:4], Push(31), *GOOD[5:]), quick=True))


def test_a_turn_by_nothing_is_told_and_one_that_a_known_drift_makes_real_is_not():
    idle = (*GOOD[:3], Turn(0, 0), *GOOD[3:])
    check = check_course(EMPTY, START, idle, quick=True)
    assert told(check) == [(3, "turn")]
    assert check.touches[0].message == "Step 4 turns by nothing. Give it a number, or take it out."
    real = (*GOOD[:3], Turn(0.5, 0.5), *GOOD[3:])
    assert (3, "turn") not in told(check_course(EMPTY, START, real, quick=True, told=idle))


def test_turning_before_backing_off_is_told():
    check = check_course(EMPTY, START, (*GOOD[:5], Turn(90, 90), Drive(-100)), runs=500)
    assert (5, "target") in told(check)


def test_ending_outside_the_base_is_told():
    assert (6, "base") in told(check_course(EMPTY, START, (*GOOD[:5], Drive(-400)), runs=500))


def test_a_quick_check_leaves_the_simulation_out():
    check = check_course(EMPTY, START, GOOD, quick=True)
    assert check.success is None
    assert check.landing is not None


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.one_of(
            st.builds(lambda a: Turn(a, 0), st.floats(-270, 270)), st.builds(Drive, st.floats(-600, 900)),
        ),
        min_size=1,
        max_size=4,
    ),
    st.integers(0, 2**32 - 1),
)  # fmt: skip
def test_both_judges_agree_on_random_courses(moves, seed):
    """The kernels and shapely share no code; only a hair's breadth about the margin may be seen differently."""
    rng = np.random.default_rng(seed)
    heading, actions = START.heading_deg, []
    for move in moves:
        if isinstance(move, Turn):
            heading += move.by_deg
            move = Turn(move.by_deg, heading)
        actions.append(move)
    corners = rng.uniform((600, 100), (2000, 1000))
    block = tuple((corners[0] + dx, corners[1] + dy) for dx, dy in ((0, 0), (150, 0), (150, 100), (0, 100)))
    scene = replace(SCENE, obstacles=(Obstacle(block),))
    ours, theirs = check_course(scene, START, actions, quick=True), judge_course(scene, START, actions)
    for i in range(len(actions)):
        if abs(theirs.room_mm[i] - scene.margin_mm) > 0.05:
            assert (ours.room_mm[i] < scene.margin_mm) == (theirs.room_mm[i] < scene.margin_mm)


def test_each_touch_sweeps_its_own_action_once_however_long_the_course(monkeypatch):
    swept, whole = [], outlines._swept

    def counted(*args):
        swept.append(args)
        return whole(*args)

    monkeypatch.setattr(outlines, "_swept", counted)
    turns = tuple(Turn(350, 350 * (k + 1)) for k in range(20))
    check = check_course(EMPTY, replace(START, y_mm=80), turns)
    assert len([t for t in check.touches if t.what == "edge"]) == 20
    assert len(swept) == 20


def test_a_turn_of_many_rounds_is_drawn_as_one():
    (once,) = outlines.swept_outlines(EMPTY, START, (Turn(360, 360),))
    (often,) = outlines.swept_outlines(EMPTY, START, (Turn(3600, 3600),))
    assert often.rings == once.rings
