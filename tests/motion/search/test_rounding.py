"""Courses in whole steps: what is rounded, what is split, how far to push; by hand on a table with nothing in the way."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from benchmarks.plain_rounding import rounded_one_by_one
from motion.course.actions import Drive, Push, Tool, Turn
from motion.scene.contact import Nose
from motion.scene.records import Pose, Window
from motion.search import rounding
from motion.search.paths import Way
from motion.search.phases import Caution, Phases, push_end
from motion.search.rounding import Rounded, rounded_into_base, rounded_to_goal
from tests.motion.scenes import ROBOT, plain_scene, target_at

START = Pose(120, 120, 90)


def way_of(turns_deg, distances):
    """A way as the search finds it: a turn before each leg and one after the last."""
    return Way(
        cost=9.0,
        turns=tuple(math.radians(turn) for turn in turns_deg),
        distances=tuple(distances),
        points=(),
        directions=tuple(float(k) for k in range(len(distances))),
        last_heading=0.25,
    )


def way_of_legs(count):
    return way_of((0,) * (count + 1), (100,) * count)


def degrees(turns):
    return [round(math.degrees(turn), 6) for turn in turns]


@pytest.mark.parametrize(("count", "step", "whole"), [(3, 0.1, 0.3), (7, 0.1, 0.7), (-3, 2.5, -7.5), (0, 2.5, 0)])
def test_whole_steps_carry_no_dust(count, step, whole):
    assert rounding._whole(count, step) == whole


@pytest.mark.parametrize(
    ("distances", "split", "turns", "directions"),
    [
        ((100, 400, 200), (100, 220, 180, 200), (1, 2, 0, 3, 4), (0, 1, 1, 2)),
        ((500, 400), (275, 225, 400), (1, 0, 2, 3), (0, 0, 1)),
        ((100, -400), (100, -220, -180), (1, 2, 0, 3), (0, 1, 1)),
        ((300, 300), (165, 135, 300), (1, 0, 2, 3), (0, 0, 1)),
    ],
)
def test_the_longest_leg_is_cut_a_little_past_its_middle_without_a_turn(distances, split, turns, directions):
    cut = rounding._split(way_of(range(1, len(distances) + 2), distances))
    assert cut.distances == pytest.approx(split)
    assert degrees(cut.turns) == list(turns)
    assert cut.directions == directions
    assert (cut.cost, cut.last_heading) == (9.0, 0.25)


def test_headings_are_wound_along_the_turns_from_the_start():
    task = Phases(plain_scene()).out_task(Caution(), Pose(120, 120, 90))
    found = rounding._headings(task, way_of((-90, 200, 300, 7), (100, 100, 100)))
    assert degrees(found) == [0, 200, 500]


@pytest.mark.parametrize(
    ("legs", "wide", "spread"), [(1, False, 1), (4, False, 1), (1, True, 2), (4, True, 2), (5, True, 1)]
)
def test_few_legs_may_be_tried_two_steps_either_side(legs, wide, spread):
    assert rounding._freedom(way_of_legs(legs), False, False, wide).spread == spread


@pytest.mark.parametrize(("first", "last"), [(True, False), (False, True)])
def test_a_heading_that_stands_already_is_held(first, last):
    freedom = rounding._freedom(way_of_legs(2), first, last, False)
    assert (freedom.first_fixed, freedom.last_fixed) == (first, last)


def test_attempts_go_from_the_way_as_it_is_to_two_splits_and_most_of_the_window():
    way = way_of((0, 0), (1000,))
    lengths = [([round(d) for d in tried.distances], share, wide) for tried, share, wide in rounding._attempts(way)]
    assert lengths == [
        ([1000], 0.4, False),
        ([1000], 0.4, True),
        ([550, 450], 0.4, False),
        ([1000], 0.8, True),
        ([550, 450], 0.8, True),
        ([302, 248, 450], 0.8, False),
    ]


# How far to push

NOSE = Nose(200, 15)  # the test robot's


@pytest.mark.parametrize(
    ("pose", "window", "step", "push"),
    [
        # The push leg is 90 mm; the window's middle is 5 mm past its end.
        ((1600, 600, 0), (20, 30), 10, 100),  # 95 is as near to 90 as to 100; the even count of steps
        ((1600, 600, 0), (20, 20), 10, 90),
        ((1600, 600, 0), (20, 30), 1, 95),
        ((1590, 600, 0), (20, 30), 1, 105),
        ((1607, 600, 0), (20, 30), 1, 88),
        ((1600, 700, 0), (20, 30), 1, 95),  # to the side costs nothing along the push
        # At 4 degrees a nose 200 mm ahead and 15 mm to the left is 1.534 mm short: 96.534 along, by the cosine 96.770.
        ((1600, 600, 4), (20, 30), 1, 97),
        ((1600, 600, -4), (20, 30), 1, 95),  # and turned right 0.559 mm past: 94.441, by the cosine 94.671
        ((1600, 600, 60), (20, 30), 1, 416),  # at 60 degrees 100 and 12.990 short and it takes twice as far
        ((1600, 600, 0), (1, 1), 40, None),  # 80 ends 10 short, 120 ends 30 past
        ((1600, 600, 0), (20, 30), 1000, None),
        ((1700, 600, 0), (20, 30), 1, None),  # there already: nothing is left to push
        # Not at the window's very end: 0.95 of it.
        ((1609.4, 600, 0), (0, 10), 100, 100),
        ((1609.6, 600, 0), (0, 10), 100, None),
        ((1590.6, 600, 0), (10, 0), 100, 100),
        ((1590.4, 600, 0), (10, 0), 100, None),
    ],
)
def test_the_push_ends_nearest_the_middle_of_the_window_or_not_at_all(pose, window, step, push):
    scene = plain_scene()
    target = replace(scene.target, window=Window(22, 5, *window))
    if step == 100:
        target = replace(target, push_mm=70)
    assert rounding._push_for(Pose(*pose), target, NOSE, step) == push


def test_along_is_counted_in_the_pushs_own_direction():
    target = replace(target_at(1000, 500, 90), window=Window(22, 5, 20, 20))
    assert rounding._push_for(Pose(1010, 490, 90), target, NOSE, 1) == 100
    slanted = replace(target_at(1000, 500, 30), window=Window(22, 5, 20, 20))
    assert rounding._push_for(Pose(1000 + 8.660, 500 + 5, 30), slanted, NOSE, 1) == 80


# Turns in whole steps


@pytest.mark.parametrize(
    ("by", "turned", "step", "told"),
    [
        (30, 30, 5, 30),
        (-30, -30, 5, -30),
        (-330, 30, 5, 30),
        (30, -330, 5, -330),
        (0, 360, 5, 360),
        (0, 0, 5, 0),
        (30, 390, 5, 390),
        (30, 30.1, 5, None),
        (32, 32, 5, None),
        (0, 360, 7, None),  # a full circle is no whole number of steps of 7
        (28, 28, 7, 28),
        (22.5, 22.5, 2.5, 22.5),
    ],
)
def test_a_turn_goes_the_way_that_was_found_free_in_whole_steps(by, turned, step, told):
    assert rounding._as_turned(by, turned, step) == told


# A whole way


def out_and_start(start=START, **changes):
    scene = plain_scene(**changes)
    return scene, Phases(scene).out_task(Caution(), start), start


def rounded(way, most=3, start=START, **changes):
    scene, task, start = out_and_start(start, **changes)
    return rounded_to_goal(task, way, start, scene.robot, scene.target, most), scene


#: Straight right, up, right: 1480 and 480 mm to the pre-contact pose at (1600, 600), facing along x.
CORNERS = way_of((-90, 90, -90, 0), (1000.3, 480.2, 479.6))


def test_a_way_of_right_angles_comes_out_in_whole_steps_at_the_goal():
    """Within 0.4 of the window of 22 mm to the side, and 0.95 of 20 and 30 mm along, as the robot really drives it."""
    found, _ = rounded(CORNERS)
    assert 1 <= len(found) <= 3
    for item in found:
        at, heading = [120.0, 120.0], 90.0
        for action in item.actions:
            if isinstance(action, Turn):
                assert action.by_deg == round(action.by_deg)
                heading += action.by_deg
                assert action.to_deg == heading
            else:
                assert action.distance_mm % 10 == 0
                at[0] += action.distance_mm * math.cos(math.radians(heading))
                at[1] += action.distance_mm * math.sin(math.radians(heading))
        assert (item.end.x_mm, item.end.y_mm, item.end.heading_deg) == pytest.approx((*at, 0))
        assert abs(at[1] - 600) <= 8.8
        assert item.push_mm % 10 == 0 and -19 <= at[0] + item.push_mm - 1690 <= 28.5


@pytest.mark.parametrize("most", [1, 2])
def test_no_more_are_given_than_are_wanted(most):
    assert len(rounded(CORNERS, most)[0]) == most


def test_a_goal_whose_heading_is_no_whole_step_leans_within_the_window_or_is_not_reached():
    """Steps of 10 degrees and a target at 4: 4 degrees off is within 5; within 3 it is not."""
    coarse = replace(ROBOT, turn_step_deg=10)
    target = target_at(1600, 600, 4)
    way = way_of((-90, 18.0, -14.0), (700.0, 780.0))
    for window, found in [(5, True), (3, False)]:
        narrowed = replace(target, window=Window(22, window, 20, 30))
        given, _ = rounded(way, robot=coarse, target=narrowed)
        assert all(item.end.heading_deg == 0 for item in given)
        if not found:
            assert given == []


@pytest.mark.parametrize(("off", "window", "reached"), [(2, 12, True), (2, 10, False), (3, 18, True), (3, 14, False)])
def test_a_way_that_leans_is_offered_only_if_its_nose_meets_the_window(off, window, reached):
    """Headings in steps of 10 degrees: pushing at 0 where 2 or 3 are asked for swings the nose, (200 + 95) mm ahead, aside.

    By 10.3 and 15.4 mm, which the legs take back only in small part.
    """
    coarse = replace(ROBOT, turn_step_deg=10, distance_step_mm=1)
    target = replace(target_at(1600, 600, off), window=Window(window, 5, 20, 30))
    found, _ = rounded(way_of((-90, 18.0, off - 18.0), (780.0, 780.0)), robot=coarse, target=target)
    assert bool(found) == reached
    c, s = math.cos(math.radians(off)), math.sin(math.radians(off))
    for item in found:
        assert item.end.heading_deg == 0
        for ahead in (30, item.push_mm):  # at contact and at the end of the push
            aside = (item.end.y_mm + 15 - 600) * c - (item.end.x_mm + 200 + ahead - 1600) * s - 15
            # reckoned to the end of the push leg, pushed some 5 mm past it, to the window's middle: 0.26 mm at 3 degrees
            assert abs(aside) <= 0.8 * window + 0.3


def test_a_start_that_stands_askew_counts_its_steps_from_there():
    start = Pose(120, 120, 90.5)
    target = target_at(1600, 600, 0.5)
    found, _ = rounded(CORNERS, start=start, target=target)
    assert found, "the lean of half a degree is taken back by the legs"
    for item in found:
        assert (item.end.heading_deg - 90.5) % 1 == pytest.approx(0)
        turns = [action for action in item.actions if isinstance(action, Turn)]
        assert all(action.by_deg == round(action.by_deg) for action in turns)
        assert all((action.to_deg - 90.5) % 1 == pytest.approx(0) for action in turns)


def test_what_stands_in_the_way_is_not_driven_through():
    from motion.scene.records import Obstacle
    from tests.motion.scenes import box

    wall = Obstacle(box(600, 0, 100, 400), "wall")
    assert rounded(CORNERS, obstacles=(wall,))[0] == []


def test_of_many_legs_the_first_are_rounded_with_the_rest():
    """Seven legs, of which the second passes a slot that 200 mm up misses by 4 mm and 210 mm up by nothing."""
    from motion.scene.records import Obstacle
    from tests.motion.scenes import box

    way = way_of((0, -90, 90, -90, 90, -90, -90, 90), (204.9, 500.0, 150.0, 250.0, 225.1, 730.0, 100.0))
    slot = (Obstacle(box(420, 0, 60, 246), "below"), Obstacle(box(420, 412, 60, 788), "above"))
    found, _ = rounded(way, robot=replace(ROBOT, turn_step_deg=5), obstacles=slot)
    assert found and all(item.actions[0] == Drive(210) for item in found)


# The way home


def home(way, most=2, robot=ROBOT):
    scene = plain_scene(robot=robot, base=((0, 0), (900, 0), (900, 900), (0, 900)), target=target_at(1300, 450, 0))
    end = push_end(scene)
    task = Phases(scene).home_task(Caution(), end)
    return rounded_into_base(task, way, end, robot, most), end


def test_the_way_home_backs_off_in_whole_steps_and_needs_no_push():
    found, end = home(way_of((0, 0), (-720.0,)))
    assert found and len(found) <= 2
    for item in found:
        assert item.push_mm is None and item.end.heading_deg == end.heading_deg
        (drive,) = item.actions
        assert isinstance(drive, Drive) and drive.distance_mm % 10 == 0
        assert item.end.x_mm == pytest.approx(end.x_mm + drive.distance_mm)
        assert item.end.x_mm + 200 <= 900 + 1e-6, "all of the robot is in the base"
    assert len(home(way_of((0, 0), (-720.0,)), most=1)[0]) == 1


def test_a_way_home_that_ends_short_of_the_base_is_not_one():
    assert home(way_of((0, 0), (-100.0,)))[0] == []


# One number at a time


@pytest.mark.parametrize(
    ("actions", "told"),
    [
        ((Drive(104.9), Drive(-105.1)), [100, -110]),
        ((Turn(33.4, 123.4), Drive(50), Turn(33.4, 156.8)), [(35, 125), 50, (30, 155)]),
        ((Turn(-2.4, 87.6), Turn(-2.4, 85.2)), [(0, 90), (-5, 85)]),
    ],
)
def test_rounding_each_number_by_itself_keeps_the_heading_near_the_true_one(actions, told):
    robot = replace(ROBOT, turn_step_deg=5)
    found = rounded_one_by_one(actions, Pose(0, 0, 90), robot)
    assert [(a.by_deg, a.to_deg) if isinstance(a, Turn) else a.distance_mm for a in found] == told


def test_pushes_and_tools_are_left_as_they_are():
    actions = (Tool("lower", 1.0), Push(93.3))
    assert rounded_one_by_one(actions, Pose(0, 0, 90), ROBOT) == actions


def test_a_rounded_way_is_plain_values():
    end = Pose(1, 2, 3)
    assert Rounded((Drive(10),), end, None) == Rounded((Drive(10),), end, None) != Rounded((Drive(10),), end, 90)


# What is asked of the joint rounding


@pytest.fixture
def asked(monkeypatch):
    """Freedom, arrival and tries that the joint rounding was asked with; it finds nothing."""
    heard = []
    monkeypatch.setattr(
        rounding,
        "round_to_goal",
        lambda exact, steps, freedom, arrival, tries: heard.append((freedom, arrival, tries)) or (0, None),
    )
    return heard


def once(way, target, share=0.4):
    scene, task, start = out_and_start(robot=replace(ROBOT, turn_step_deg=10), target=target)
    assert list(rounding._round_once(task, way, start, scene.robot, target, share, False)) == []


@pytest.mark.parametrize(
    ("lean_deg", "window_deg", "share", "tried"),
    [(3.9, 5, 0.4, True), (4.1, 5, 0.4, False), (4.1, 5, 0.8, True), (4.9, 5, 0.8, True), (4.9, 4.8, 0.8, False)],
)
def test_a_lean_uses_at_most_twice_the_share_of_the_window_and_never_more_than_it(
    asked, lean_deg, window_deg, share, tried
):
    target = replace(target_at(1600, 600, lean_deg), window=Window(22, window_deg, 20, 30))
    once(way_of((-90, 18.0, lean_deg - 18.0), (700.0, 780.0)), target, share)
    assert bool(asked) is tried
    if tried:
        freedom, arrival, most = asked[0]
        assert (arrival.lateral, arrival.heading_step) == (pytest.approx(share * 22), -9)
        assert (freedom.checks, most) == (rounding.CHECKS, rounding.KEPT)


@pytest.mark.parametrize(
    ("turns", "distances", "first", "last"),
    [
        ((-90, 90, -90, 0), (1000, 480, 480), False, True),
        ((0, -90, 90, -90), (100, 1000, 480), True, False),
        ((-90, 0), (1480,), False, False),  # of a single leg only one end can be held
        ((-90, 0, 0), (700, 780), False, True),
    ],
)
def test_ends_that_need_no_turn_are_held(asked, turns, distances, first, last):
    once(way_of(turns, distances), plain_scene().target)
    freedom, arrival, _ = asked[0]
    assert (freedom.first_fixed, freedom.last_fixed) == (first, last)
    assert (arrival.push_leg, arrival.gap) == (plain_scene().target.push_leg_mm, plain_scene().target.gap_mm)


def test_a_way_straight_ahead_needs_no_turn_at_its_end():
    found, _ = rounded(way_of((0, 0), (480.4,)), target=target_at(120, 600, 90))
    assert found and all(item.end.heading_deg == 90 for item in found)
    assert all([type(action) for action in item.actions] == [Drive] for item in found)
