"""Error growth on courses so plain that every number can be worked out on paper."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from motion.chance.error import chain_of, first_order, grow, sensitivity
from motion.chance.landing import landing, landing_errors, miss, parameter_jacobian, until_landing
from motion.course.actions import Drive, Push, Share, Tool, Turn
from motion.errors import MotionError
from motion.scene.records import Noise, Pose, Window
from tests.motion.scenes import plain_scene, target_at

SILENT = Noise(0, 0, 0, 0, 0, 0)
START = Pose(1000, 600, 0)
#: Straight to the pre-contact pose of the plain scene, then the push.
STRAIGHT = (Drive(600), Push(90))


# Where a push ends, told from where it should have


@pytest.mark.parametrize(
    ("heading", "pose", "landed"),
    [
        # The push leg is 90 mm: 30 mm to the target and 60 mm with it.
        (0, (190, 100, 0), (0, 0, 0)),
        (0, (200, 105, 4), (10, 5, 4)),
        (0, (185, 98, -4), (-5, -2, -4)),
        (90, (100, 190, 90), (0, 0, 0)),
        (90, (95, 200, 95), (10, 5, 5)),
        (180, (0, 95, 178), (10, 5, -2)),
        (-90, (105, 0, -90), (10, 5, 0)),
        # Along 30 degrees: cos 0.8660, sin 0.5. 90 mm along is (77.942, 45).
        (30, (177.942, 145, 30), (0, 0, 0)),
        (30, (177.942 + 8.660, 145 + 5, 30), (10, 0, 0)),
        (30, (177.942 - 5, 145 + 8.660, 33), (0, 10, 3)),
        (30, (177.942 + 8.660 - 2.5, 145 + 5 + 4.330, 27), (10, 5, -3)),
        # Headings are told the short way round.
        (170, (11.3673, 115.6283, -175), (0, 0, 15)),
    ],
)
def test_a_miss_is_told_along_the_push_and_to_its_left(heading, pose, landed):
    scene = plain_scene(target=target_at(100, 100, heading))
    assert miss(scene, Pose(*pose)) == pytest.approx(landed, abs=2e-3)


# What counts of a course


@pytest.mark.parametrize(
    ("actions", "counted"),
    [
        ((Push(90),), 1),
        ((Drive(10), Push(90), Drive(-40), Turn(90, 90)), 2),
        ((Push(30), Drive(-20), Push(90), Drive(-40)), 3),
    ],
)
def test_what_follows_the_last_push_does_not_count(actions, counted):
    assert list(until_landing(actions)) == list(actions[:counted])


def refused(act):
    with pytest.raises(MotionError) as raised:
        act()
    return raised.value.code, raised.value.message, raised.value.place


@pytest.mark.parametrize(
    ("act", "said"),
    [
        (
            lambda: until_landing((Drive(100),)),
            ("no_push", "The course never pushes; add the push leg to know where it lands.", "actions"),
        ),
        (
            lambda: chain_of(START, (Drive(10), Turn(math.nan, 0)), SILENT),
            ("not_finite", "A distance or an angle is missing; fill it in.", "actions[1]"),
        ),
        (
            lambda: chain_of(START, (Push(math.inf),), SILENT),
            ("not_finite", "A distance or an angle is missing; fill it in.", "actions[0]"),
        ),
        (
            lambda: chain_of(START, (), replace(SILENT, drift_sd_deg_per_m=-0.1)),
            ("bad_noise", "Every spread is zero or more; calibrate the robot again.", "noise"),
        ),
        (
            lambda: chain_of(START, (), replace(SILENT, yaw_reference="guess")),
            ("bad_noise", "Yaw is counted “absolute” (from the start) or “relative”.", "noise"),
        ),
        (lambda: grow([0.0, 1.0], [1.0]), ("shape", "Give one turn and one distance a leg.", "")),
        (lambda: grow([[0.0]], [[1.0]]), ("shape", "Give one turn and one distance a leg.", "")),
    ],
)
def test_what_cannot_be_grown_says_why_and_where(act, said):
    assert refused(act) == said


# Chains


def test_a_course_without_legs_has_empty_legs_and_stands_where_it_starts():
    chain = chain_of(Pose(1, 2, 30), (Turn(60, 90), Tool("wait", 1.0)), SILENT)
    assert (chain.turn_of.shape, chain.length_of.shape, chain.length.shape) == ((0, 11), (0, 11), (0,))
    growth = first_order(chain)
    assert growth.mean == pytest.approx([1, 2, math.pi / 2])
    assert growth.covariance == pytest.approx(np.zeros((3, 3)))


def test_each_spread_stands_in_its_own_column_in_mm_or_radians():
    noise = Noise(
        distance_scale_sd=0.01,
        start_position_sd_mm=3,
        start_heading_sd_deg=1,
        turn_sd_deg=2,
        drift_sd_deg_per_m=4,
        distance_sd_fraction=0.005,
    )
    chain = chain_of(START, (Turn(-90, -90), Drive(-500), Tool("wait", 1.0), Push(1000)), noise)
    degree = math.pi / 180
    scale_and_starts, systematic = [0.01, 3, 3, degree], [0, 0, 0]
    own = [2 * degree, 0, 2.5, 2 * degree, 0, 0, 5, 4 * degree]  # two an action
    assert chain.sd == pytest.approx([*scale_and_starts, *systematic, *own])
    assert chain.length == pytest.approx([-500, 1000])
    assert chain.heading == pytest.approx([-math.pi / 2, -math.pi / 2])


@pytest.mark.parametrize(("kappa", "chord"), [(0.5, 0.5), (1.0, 1.0)])
def test_drift_turns_the_chord_by_its_share_and_the_heading_by_all_of_it(kappa, chord):
    noise = replace(SILENT, yaw_reference="relative")
    chain = chain_of(START, (Drive(1000), Drive(-500)), noise, kappa=kappa)
    assert chain.turn_of[:, 6] == pytest.approx([chord, 1 - 0.5 * kappa])  # per radian a metre
    assert chain.end_turn_of[6] == pytest.approx(0.5)
    assert chain.length_of[:, 0] == pytest.approx([1000, -500])


@pytest.mark.parametrize(
    ("reference", "scale", "bias", "own", "drift"),
    [("relative", math.radians(30), 0, (1, 1), 1.0), ("absolute", math.radians(-60), -1, (0, 1), 0.0)],
)
def test_a_turn_starts_from_where_the_robot_stands_or_takes_back_what_came_before(reference, scale, bias, own, drift):
    actions = (Turn(90, 90), Drive(1000), Turn(-60, 30))
    end = chain_of(START, actions, replace(SILENT, yaw_reference=reference)).end_turn_of
    assert end[3] == 1.0, "the start heading stays"
    assert (end[4], end[5], end[6]) == pytest.approx((scale, bias, drift))
    assert (end[7], end[11]) == own


def test_growing_puts_each_legs_spreads_where_they_belong():
    """Two legs of 100 mm, a right angle between: what each spread does at the end, in squares."""
    quarter = math.pi / 2
    for spread, covariance in [
        ({"turn_sd": [0.1, 0.0]}, (100, 100)),  # the end stands at (100, 100): swung about the start
        ({"turn_sd": [0.0, 0.1]}, (100, 0)),  # the second leg alone, along y
        ({"leg_sd": [0.0, 0.1]}, (25, 0)),  # half of it turns the chord
        ({"leg_sd": [0.0, 0.1], "kappa": 1.0}, (100, 0)),
        ({"distance_sd": [2.0, 3.0]}, (4, 9)),
        ({"scale_sd": 0.01}, (1, 1)),
        ({"start_heading_sd": 0.1}, (100, 100)),
    ]:
        found = grow([0.0, quarter], [100, 100], **spread)
        assert found.mean == pytest.approx([100, 100, quarter])
        assert np.diag(found.covariance)[:2] == pytest.approx(covariance), spread


def test_the_sensitivity_of_one_leg_to_each_error():
    """1000 mm along x: scale moves x, headings move y, drift half of that."""
    chain = chain_of(Pose(0, 0, 0), (Drive(1000),), SILENT)
    assert sensitivity(chain) == pytest.approx(
        np.array(
            [
                [1000, 1, 0, 0, 0, 0, 0, 1, 0],
                [0, 0, 1, 1000, 0, 0, 500, 0, 500],
                [0, 0, 0, 1, 0, 0, 1, 0, 1],
            ]
        )
    )


# Landing


@pytest.mark.parametrize(
    ("noise", "spread"),
    [
        (replace(SILENT, distance_scale_sd=0.01), (6.9, 0, 0)),
        (replace(SILENT, start_position_sd_mm=3), (3, 3, 0)),
        (replace(SILENT, start_heading_sd_deg=1), (0, 12.043, 1)),  # 690 mm times a degree
        (replace(SILENT, distance_sd_fraction=0.01), (6.067, 0, 0)),  # of 600 and 90 mm, as squares
    ],
)
def test_the_spread_of_a_straight_course_at_its_landing(noise, spread):
    result, _ = landing(plain_scene(noise=noise), START, STRAIGHT)
    assert (result.along_mm, result.lateral_mm, result.heading_deg) == pytest.approx((0, 0, 0))
    found = result.along_sd_mm, result.lateral_sd_mm, result.heading_sd_deg
    assert found == pytest.approx(spread, abs=1e-3)
    assert result.covariance_xy_mm2[0][0] == pytest.approx(spread[0] ** 2, abs=0.05)
    assert result.covariance_xy_mm2[1][1] == pytest.approx(spread[1] ** 2, abs=0.05)


def test_a_course_that_ends_short_and_aside_is_told_so_in_the_targets_frame():
    scene = plain_scene(target=target_at(1600, 600, 90), noise=SILENT)
    result, _ = landing(scene, Pose(1610, 500, 90), (Drive(80), Turn(2, 92), Push(90)))
    assert result.along_mm == pytest.approx(-20, abs=0.06)
    assert result.lateral_mm == pytest.approx(-10 + 90 * math.sin(math.radians(2)))
    assert result.heading_deg == pytest.approx(2)
    errors = landing_errors(scene, Pose(1610, 500, 90), (Drive(80), Push(90)))
    assert errors.jacobian[:, 1] == pytest.approx([0, -1, 0])  # a start farther right lands farther right
    assert errors.jacobian[:, 2] == pytest.approx([1, 0, 0])


def test_the_covariance_on_the_table_is_told_both_ways_round():
    scene = plain_scene(target=target_at(1600, 600, 45), noise=replace(SILENT, distance_scale_sd=0.1))
    result, _ = landing(scene, Pose(1500, 500, 45), (Drive(100 * math.sqrt(2)), Push(90)))
    (xx, xy), (yx, yy) = result.covariance_xy_mm2
    assert xx == pytest.approx(yy) and xy == pytest.approx(yx) == pytest.approx(xx)


@pytest.mark.parametrize(
    ("column", "slope"),
    [
        (0, (690, 0, 0)),  # a scale of 1 more
        (1, (1, 0, 0)),
        (2, (0, 1, 0)),
        (3, (0, 12.0428, 1)),  # a degree at the start: 690 mm times pi / 180
        (6, (0, 4.1548, 0.69)),  # a degree a metre: 0.69 degrees in all, half of it on the chord of each leg
    ],
)
def test_the_slopes_of_a_straight_course(column, slope):
    found = parameter_jacobian(plain_scene(noise=SILENT), START, STRAIGHT)
    assert found[:, column] == pytest.approx(slope, abs=1e-3)
    at_nose = parameter_jacobian(plain_scene(noise=SILENT), START, STRAIGHT, front_mm=200)
    assert at_nose[1, column] == pytest.approx(slope[1] + 200 * math.radians(slope[2]), abs=1e-3)
    assert (at_nose[0, column], at_nose[2, column]) == pytest.approx((slope[0], slope[2]), abs=1e-9)


# Shares


def shares_of(noise, actions=STRAIGHT, **window):
    scene = plain_scene(noise=noise)
    scene = replace(scene, target=replace(scene.target, window=replace(scene.target.window, **window)))
    return landing(scene, START, actions)[1]


@pytest.mark.parametrize(
    ("noise", "source"),
    [
        (replace(SILENT, distance_scale_sd=1e-6), "scale"),
        (replace(SILENT, start_position_sd_mm=1e-3), "start"),
        (replace(SILENT, start_heading_sd_deg=40.0), "start"),
    ],
)
def test_however_small_or_large_what_is_the_only_cause_has_all_of_it(noise, source):
    assert shares_of(noise) == (Share(-1, pytest.approx(1.0), source),)


def test_length_errors_of_two_legs_share_by_their_squares():
    """600 and 90 mm: 360,000 and 8,100 of 368,100."""
    assert shares_of(replace(SILENT, distance_sd_fraction=0.01)) == (
        Share(0, pytest.approx(0.978, abs=5e-4), "distance"),
        Share(1, pytest.approx(0.022, abs=5e-4), "distance"),
    )


def test_turns_and_drift_have_shares_by_their_action_and_tools_have_none():
    actions = (Turn(0, 0), Tool("lower", 1.0), *STRAIGHT)
    assert shares_of(replace(SILENT, turn_sd_deg=1.0), actions) == (Share(0, pytest.approx(1.0), "turn"),)
    found = shares_of(replace(SILENT, drift_sd_deg_per_m=1.0), actions)
    assert [(share.action, share.source) for share in found] == [(2, "drift"), (3, "drift")]


@pytest.mark.parametrize(
    ("window", "along"),
    [
        ({"short_mm": 20, "long_mm": 30, "lateral_mm": 25}, 0.5),
        ({"short_mm": 40, "long_mm": 60, "lateral_mm": 25}, 0.2),
        ({"short_mm": 20, "long_mm": 30, "lateral_mm": 50}, 0.8),
        ({"short_mm": 0, "long_mm": 0, "lateral_mm": 0}, 0.5),
    ],
)
def test_each_side_is_measured_in_its_own_window(window, along):
    """A start position of 3 mm either way: with windows of 25 and 25 mm half of it each."""
    scene = plain_scene(noise=replace(SILENT, start_position_sd_mm=3, distance_sd_fraction=3 / math.hypot(600, 90)))
    scene = replace(scene, target=replace(scene.target, window=Window(heading_deg=5, **window)))
    shares = {share.source: 0.0 for share in landing(scene, START, STRAIGHT)[1]}
    for share in landing(scene, START, STRAIGHT)[1]:
        shares[share.source] += share.fraction
    # The length errors add as much along as the start does: one part of along + along + aside.
    assert shares["distance"] == pytest.approx(along / (2 * along + 1 - along))
