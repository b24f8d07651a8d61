"""From a picture's bytes to a measured table, or to the reason in words why it says nothing. What takes long is done by the measurer."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.club.marks.find import marks_in
from classroom.club.marks.measurer import measurer
from classroom.club.marks.numbers import CORNER_NAMES, table_in, table_number, whose
from classroom.club.marks.sheets import INSET_MM, ROBOT_SIDE_MM, SIDE_MM
from classroom.errors import ClassroomCode, InputError
from classroom.models import Club, Robot
from classroom.site.isolated import isolated
from missions.models import MissionVersion
from motion.errors import FitError
from motion.picture.camera.laid import LaidMark, SeenMark
from motion.picture.camera.measured import measure_table
from motion.picture.camera.robot_pose import RobotMark, SeenRobot, see_robot
from motion.picture.camera.table_fit import TablePicture
from planning.errors import PlanningCode

_MARKS = {
    "near left": gettext_noop("the near left mark"),
    "near right": gettext_noop("the near right mark"),
    "far left": gettext_noop("the far left mark"),
    "far right": gettext_noop("the far right mark"),
}


@dataclass(frozen=True)
class SeenTable:
    """A measured picture: by which set of the club's marks, and robots' marks in it, counted from 1."""

    table: TablePicture
    sheet_set: int
    robots: dict[int, SeenMark]
    sure_to_mm: float


def see_table(club: Club, version: MissionVersion, data: bytes) -> SeenTable:
    """Measure a picture of a mission's table.

    Raises
    ------
    InputError
        Whatever is wrong with the file, with the marks in it, or with what they say together.
    PicturesBusyError
        Another picture takes its time.
    """
    seen, size_px = measurer.ask(marks_in, data)
    sheet_set = table_in(club.pk, [mark.number for mark in seen])
    try:
        laid = laid_marks(club, version, sheet_set)
        table = measurer.ask(measure_table, laid, seen, size_px, version.width_mm, version.depth_mm)
        sure_to = table.sure_to_mm(version.width_mm, version.depth_mm)
    except FitError as error:
        raise InputError(error.code, error.message) from error
    robots = {found.robot: mark for mark in seen if (found := whose(club.pk, mark.number)) and found.robot}
    return SeenTable(table, sheet_set, robots, sure_to)


def laid_marks(club: Club, version: MissionVersion, sheet_set: int) -> list[LaidMark]:
    """The four sheets of a set as they are said to lie; none in a corner that the table lacks."""
    marks = []
    for corner, name in enumerate(CORNER_NAMES):
        if name == version.missing_corner:
            continue
        x = version.width_mm - INSET_MM if name.endswith("right") else INSET_MM
        y = version.depth_mm - INSET_MM if name.startswith("far") else INSET_MM
        number = table_number(club.pk, sheet_set, corner)
        marks.append(LaidMark(number, x, y, SIDE_MM, name=_(_MARKS[name])))
    return marks


def see_own_robot(seen: SeenTable, robot: Robot) -> SeenRobot:
    """Where the team's robot stands.

    Raises
    ------
    InputError
        ``no_mark`` (it has none, by the club's records), ``nothing_found`` (not in the picture), or that of the fit.
    """
    if robot.top_mark is None:
        raise InputError(
            PlanningCode.NO_MARK,
            _("%(robot)s has no printed mark yet. Ask your coach to print one and to fix it on.")
            % {"robot": isolated(robot.name)},
        )
    if robot.top_mark not in seen.robots:
        raise InputError(
            ClassroomCode.NOTHING_FOUND,
            _("The mark of %(robot)s is not found. Its number %(number)s must be in the picture, sharp and from above.")
            % {"robot": isolated(robot.name), "number": robot.top_mark},
        )
    mark = RobotMark(
        robot.top_mark,
        ROBOT_SIDE_MM,
        robot.top_mark_height_mm,
        ahead_mm=robot.top_mark_ahead_mm,
        left_mm=robot.top_mark_left_mm,
    )
    try:
        return measurer.ask(see_robot, seen.table, mark, seen.robots[robot.top_mark])
    except FitError as error:
        raise InputError(error.code, error.message) from error
