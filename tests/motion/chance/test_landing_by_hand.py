"""Landings of courses so plain that every number can be worked out on paper."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from motion.chance.landing import landing, landing_errors, miss, parameter_jacobian, until_landing
from motion.course.actions import Drive, Push, Share, Tool, Turn
from motion.errors import MotionError
from motion.scene.records import Noise, Pose, Window
from tests.motion.scenes import FOOTPRINT, ROBOT, plain_scene, target_at

SILENT = Noise(0, 0, 0, 0, 0, 0)
START = Pose(1000, 600, 0)
#: Straight to the pre-contact pose of the plain scene, then the push.
STRAIGHT = (Drive(600), Push(90))


# Where a push ends, told from where it should have


#: A nose 200 mm ahead of the axle and 15 mm to its left, when the robot is turned by so many degrees, is this far (mm)
#: ahead and to the left of where it would be: 200 (cos - 1) - 15 sin and 200 sin + 15 (cos - 1), with a table of sines.
NOSE = {
    -4: (0.5592, -13.9878),
    -3: (0.5110, -10.4878),
    -2: (0.4017, -6.9890),
    0: (0, 0),
    3: (-1.0591, 10.4466),
    4: (-1.5335, 13.9148),
    5: (-2.0684, 17.3741),
    15: (-10.6971, 51.2527),
}


@pytest.mark.parametrize(
    ("heading", "pose", "axle"),
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
def test_a_miss_is_told_at_the_nose_along_the_push_and_to_its_left(heading, pose, axle):
    scene = plain_scene(target=target_at(100, 100, heading))
    along, lateral, turned = axle
    ahead, left = NOSE[turned]
    assert miss(scene, Pose(*pose)) == pytest.approx((along + ahead, lateral + left, turned), abs=2e-3)


def test_the_nose_that_pushes_is_the_lowered_tools():
    """A tool 300 mm ahead in the middle: turned by 3 degrees it is 300 (cos 3 - 1) = -0.4111 along, 15.7008 to the left."""
    tool = (*FOOTPRINT, ((200, -20), (300, -20), (300, 20), (200, 20)))
    scene = plain_scene(target=target_at(100, 100, 0), robot=replace(ROBOT, working_footprint=tool))
    assert miss(scene, Pose(190, 100, 3)) == pytest.approx((-0.4111, 15.7008, 3), abs=1e-3)


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


def test_a_course_that_never_pushes_lands_nowhere():
    with pytest.raises(MotionError) as raised:
        until_landing((Drive(100),))
    message = "The course never pushes; add the push leg to know where it lands."
    assert (raised.value.code, raised.value.message, raised.value.place) == ("no_push", message, "actions")


# Landing


@pytest.mark.parametrize(
    ("noise", "spread"),
    [
        (replace(SILENT, distance_scale_sd=0.01), (6.9, 0, 0)),
        (replace(SILENT, start_position_sd_mm=3), (3, 3, 0)),
        # The axle comes 690 mm and the nose is 200 mm ahead of it and 15 mm to its left: times a degree, 0.0174533.
        (replace(SILENT, start_heading_sd_deg=1), (0.2618, 15.5334, 1)),
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
    # Push and nose lean by 2 degrees over 90 + 200 mm; sin 0.0348995, 1 - cos 0.00060917; the nose is 15 mm to the left.
    assert result.along_mm == pytest.approx(-20 - 290 * 0.00060917 - 15 * 0.0348995, abs=1e-4)
    assert result.lateral_mm == pytest.approx(-10 + 290 * 0.0348995 - 15 * 0.00060917, abs=1e-4)
    assert result.heading_deg == pytest.approx(2)
    errors = landing_errors(scene, Pose(1610, 500, 90), (Drive(80), Push(90)))
    assert errors.jacobian[:, 1] == pytest.approx([0, -1, 0])  # a start farther right lands farther right
    assert errors.jacobian[:, 2] == pytest.approx([1, 0, 0])


def test_the_spread_on_the_table_is_the_noses():
    """A push along y, half a degree of heading: the nose, (15, 890) mm from the start, swings along x and a little along y."""
    scene = plain_scene(target=target_at(1600, 600, 90), noise=replace(SILENT, start_heading_sd_deg=0.5))
    result, _ = landing(scene, Pose(1600, 0, 90), STRAIGHT)
    (xx, xy), (_, yy) = result.covariance_xy_mm2
    half = 0.00872665
    # Turned to the left the nose goes to -x by 890 mm times that, and, being 15 mm to the left, to -y by 15 mm times that.
    assert (xx, xy, yy) == pytest.approx(((890 * half) ** 2, 890 * 15 * half**2, (15 * half) ** 2), rel=1e-5)


def test_a_heading_that_scatters_widely_lands_short_on_average():
    """Ten degrees at the start: on average a nose (890, 15) mm away gets exp(-0.0304617 / 2) = 0.984885 as far."""
    scene = plain_scene(noise=replace(SILENT, start_heading_sd_deg=10))
    linear, _ = landing(scene, START, STRAIGHT)
    result, _ = landing(scene, START, STRAIGHT, gaussian=True)
    assert (linear.along_mm, linear.lateral_mm) == pytest.approx((0, 0))
    assert (result.along_mm, result.lateral_mm) == pytest.approx((-890 * 0.015115, -15 * 0.015115), rel=1e-4)


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
        (3, (-0.2618, 15.5334, 1)),  # a degree at the start: the nose, (890, 15) mm away, times pi / 180
        # A degree a metre: 0.69 degrees in all, half of each leg's on its chord: 600 * 0.3 + 90 * 0.645 = 238.05 for
        # the axle and 200 * 0.69 more for the nose, back by 15 * 0.69; times pi / 180.
        (6, (-0.1806, 6.5633, 0.69)),
    ],
)
def test_the_slopes_of_a_straight_course(column, slope):
    found = parameter_jacobian(plain_scene(noise=SILENT), START, STRAIGHT)
    assert found[:, column] == pytest.approx(slope, abs=1e-3)


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
