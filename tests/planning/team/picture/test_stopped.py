"""Where a robot stopped, in the words and fields of a run's form."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest

from classroom.errors import InputError
from classroom.models import Robot
from motion.picture.camera.robot_pose import SeenRobot
from motion.scene.records import Pose
from planning.courses.scene_for import scene_for
from planning.team.picture.stopped import stopped_at_home, stopped_at_target
from tests import factories as make
from tests.oracles.club_picture import club_picture
from tests.pages import page_of

pytestmark = pytest.mark.django_db
SURE = np.diag([1.0, 1.0, 0.04])


@pytest.fixture
def edition(cast: Any) -> Any:
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[0].tier)
    return editions[0]


@pytest.fixture
def scene(cast: Any, edition: Any) -> Any:
    """The gate's pre-contact pose is (1670, 585, 0), its push leg 90 mm, the robot's nose 200 mm ahead and 15 mm left."""
    return scene_for(edition, cast.robot_a)


def at_target(scene: Any, pose: Pose, moment: str = "pushed", unit: str = "cm") -> Any:
    return stopped_at_target(SeenRobot(pose, SURE), scene, 0, moment, unit)


def test_a_robot_that_is_where_it_should_be_has_no_miss(scene: Any) -> None:
    said = at_target(scene, Pose(1760.0, 585.0, 0.0))
    assert [said.fields[name] for name in ("sideways", "along", "angle")] == ["0", "0", "0"]


def test_too_far_and_to_the_left_is_said_with_its_sign_in_the_fields_and_the_words(scene: Any) -> None:
    said = at_target(scene, Pose(1772.0, 591.0, 0.0))
    assert said.fields == {
        "sideways": "0.6", "side": "left", "along": "1.2", "way": "far", "angle": "0", "angle_side": "left",
    }  # fmt: skip
    assert said.words[1] == "1.2 ± 0.2 cm too far" and said.words[0].startswith("0.6 ± ")


def test_the_miss_is_that_of_the_nose_as_a_team_measures_it(scene: Any) -> None:
    """Turned by 3 degrees to the right about its axle, the nose is 200 sin 3 = 10.5 mm to the right of its place."""
    said = at_target(scene, Pose(1760.0, 585.0, -3.0), unit="mm")
    assert said.fields["side"] == "right" and float(said.fields["sideways"]) == pytest.approx(10.5, abs=0.1)
    assert said.fields["angle"] == "3" and said.fields["angle_side"] == "right"


def test_before_the_push_it_is_compared_with_where_the_push_begins(scene: Any) -> None:
    said = at_target(scene, Pose(1664.0, 585.0, 0.0), "before")
    assert (said.fields["along"], said.fields["way"]) == ("0.6", "short")


@pytest.mark.parametrize("pose", [Pose(400.0, 300.0, 0.0), Pose(1760.0, 585.0, 170.0)])
def test_a_robot_that_is_not_at_the_target_fills_nothing(scene: Any, pose: Pose) -> None:
    with pytest.raises(InputError) as refused:
        at_target(scene, pose)
    assert refused.value.code == "too_far"


@pytest.mark.parametrize(
    ("x", "fields", "words"),
    [
        (200.0, {"home": "yes"}, "All of it is inside"),
        (480.0, {"home": "no"}, "out of the base"),
        (320.0, {}, "Too near"),
    ],
)
def test_inside_the_base_is_only_said_where_the_picture_tells(scene: Any, x: float, fields: Any, words: str) -> None:
    """The base reaches from 0 to 520 by 450, the robot 200 mm ahead of its axle."""
    said = stopped_at_home(SeenRobot(Pose(x, 225.0, 0.0), SURE), scene, "cm")
    assert said.fields == fields and words in said.words[0]


def post(cast: Any, **more: Any) -> Any:
    robot = Robot.objects.get(pk=cast.robot_a.pk)
    held = (robot, (1766.0, 590.0, 1.0)) if robot.top_mark else None
    picture = io.BytesIO(club_picture(cast.club, robot=held).data)
    picture.name = "robot.jpg"
    return cast.as_team_a.post("/team/picture/stopped/", {"picture": picture, "moment": "pushed"} | more)


def test_a_picture_with_the_robots_mark_says_its_miss_also_without_a_script(cast: Any, edition: Any) -> None:
    Robot.objects.filter(pk=cast.robot_a.pk).update(top_mark=3, top_mark_height_mm=110, top_mark_ahead_mm=30)
    said = post(cast)
    assert said.status_code == 200 and "cm too far" in page_of(said) and "±" in page_of(said)


def test_a_robot_without_a_mark_and_a_moment_that_is_none_are_refused_in_words(cast: Any, edition: Any) -> None:
    assert "has no printed mark yet" in page_of(post(cast))
    assert "Say where the robot stands" in page_of(post(cast, moment="asleep"))
    Robot.objects.filter(pk=cast.robot_a.pk).update(top_mark=3, top_mark_height_mm=110)
    assert "too_far" not in page_of(post(cast, at_target="7")) and "Say where the robot" in page_of(
        post(cast, at_target="7")
    )
