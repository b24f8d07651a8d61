"""A team measures its robot's outline and takes that back while nobody else has changed it."""

from __future__ import annotations

import pytest

from classroom.errors import ConflictError
from classroom.models import Robot
from classroom.robots.services.reshape_robot import can_undo, reshape_robot, undo_reshape
from tests import factories as make

NOW = make.NOW
SQUARE = [[[0, 0], [100, 0], [100, 100], [0, 100]]]
WIDER = [[[0, 0], [120, 0], [120, 120], [0, 120]]]


@pytest.fixture(autouse=True)
def another_robot(cast):
    return make.RobotFactory(club=cast.club)


def outline(robot):
    return Robot.objects.values_list("travel_footprint", "working_footprint").get(pk=robot.pk)


def test_the_outline_is_kept_and_what_undoes_it_is_told(cast):
    undo = reshape_robot(cast.robot_a, cast.team_a, SQUARE, WIDER, now=NOW)
    assert outline(cast.robot_a) == (SQUARE, WIDER)
    assert undo == {
        "robot": cast.robot_a.pk,
        "before": [make.BOX_WITH_TOOL, None],
        "after": [SQUARE, WIDER],
    }


def test_undoing_puts_both_outlines_back(cast):
    undo = reshape_robot(cast.robot_a, cast.team_a, SQUARE, WIDER, now=NOW)
    undo_reshape(cast.robot_a, cast.team_a, undo, now=NOW)
    assert outline(cast.robot_a) == (make.BOX_WITH_TOOL, None)


@pytest.mark.parametrize("since", ["travel", "working"])
def test_an_outline_that_was_changed_since_stays(cast, since):
    undo = reshape_robot(cast.robot_a, cast.team_a, SQUARE, None, now=NOW)
    Robot.objects.update(**{f"{since}_footprint": WIDER})
    stands = outline(cast.robot_a)
    with pytest.raises(ConflictError) as refused:
        undo_reshape(cast.robot_a, cast.team_a, undo, now=NOW)
    assert (refused.value.code, refused.value.message) == (
        "changed_meanwhile",
        "The outline has been changed since. Look at it, and measure again.",
    )
    assert outline(cast.robot_a) == stands


def test_there_is_nothing_to_undo_without_a_change_or_for_another_robot(cast):
    undo = reshape_robot(cast.robot_a, cast.team_a, SQUARE, None, now=NOW)
    robot = Robot.objects.get(pk=cast.robot_a.pk)
    assert can_undo(robot, undo)
    assert not can_undo(robot, None)
    assert not can_undo(make.RobotFactory(travel_footprint=SQUARE), undo)
