"""Error growth on courses so plain that every number can be worked out on paper."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from motion.chance.error import chain_of, first_order, grow, sensitivity
from motion.course.actions import Drive, Push, Tool, Turn
from motion.errors import MotionError
from motion.scene.records import Noise, Pose, Systematic

SILENT = Noise(0, 0, 0, 0, 0, 0)
START = Pose(1000, 600, 0)


def refused(act):
    with pytest.raises(MotionError) as raised:
        act()
    return raised.value.code, raised.value.message, raised.value.place


@pytest.mark.parametrize(
    ("act", "said"),
    [
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


def test_what_a_robot_does_every_time_moves_the_mean():
    always = Systematic(
        distance_scale=0.01, start_x_mm=3, start_y_mm=-4, start_heading_deg=2, turn_bias_deg=1, drift_deg_per_m=5
    )
    growth = first_order(chain_of(START, (Turn(90, 90), Drive(1000)), SILENT, systematic=always))
    chord = math.radians(90 + 2 + 1 + 2.5)  # an even drift turns the chord by half of it
    where = [1003 + 1010 * math.cos(chord), 596 + 1010 * math.sin(chord), math.radians(90 + 2 + 1 + 5)]
    assert growth.mean == pytest.approx(where)


@pytest.mark.parametrize("reference", ["absolute", "relative"])
def test_what_is_told_beside_what_is_meant_adds_up_over_the_turns(reference):
    meant = (Turn(30, 30), Drive(100), Turn(30, 60), Drive(100))
    told = (Turn(32, 32), Drive(100), Turn(33, 65), Drive(100))
    chain = chain_of(START, meant, replace(SILENT, yaw_reference=reference), told=told)
    assert np.degrees(chain.heading) == pytest.approx([32, 65])
    assert math.degrees(chain.end_heading) == pytest.approx(65)


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
