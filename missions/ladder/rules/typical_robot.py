"""The robot that a mission is thought out with when nobody has chosen one."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.models import Club, Robot, RobotState
from motion.scene.contact import Nose, nose_of

#: A plain two-wheeled body, for a club that has entered no robot yet. Common practice, no source.
PLAIN_BODY = [[[-50.0, -75.0], [150.0, -75.0], [150.0, 75.0], [-50.0, 75.0]]]


#: Its name in rows, for a club that has entered no robot yet.
PLAIN_NAME = gettext_noop("a plain robot")


def robot_said(name: str) -> str:
    """A robot's name as a row has it; the plain one is called by the reader's language."""
    return _(PLAIN_NAME) if name == PLAIN_NAME else name


def typical_robot(club: Club) -> Robot | None:
    """Of the robots in service, the middle one by size, so that it is a real one; None when there is none."""
    robots = sorted(Robot.objects.filter(club=club, state=RobotState.IN_SERVICE), key=lambda r: (_size(r), r.pk))
    return robots[(len(robots) - 1) // 2] if robots else None


def pushing_body(robot: Robot | None) -> list[list[list[float]]]:
    """The footprint that meets the target."""
    return (robot.working_footprint or robot.travel_footprint) if robot else PLAIN_BODY


def typical_nose(club: Club) -> Nose:
    return nose_of([[(x, y) for x, y in part] for part in pushing_body(typical_robot(club))])


def _size(robot: Robot) -> float:
    return max(x * x + y * y for part in robot.travel_footprint for x, y in part)
