"""The sheets with marks, as they are printed on A4: sizes, the marks' cells, and what is said on them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.club.marks.numbers import MODULES, MOST_TABLES, robot_number, table_number
from classroom.models import Club, Robot
from classroom.site.isolated import isolated

#: Sides of the marks of a table and of a robot, mm.
SIDE_MM, ROBOT_SIDE_MM = 150.0, 80.0
#: White around a mark up to where it is cut: a cell of it and a little more, so that its border stands out.
WHITE_MM, ROBOT_WHITE_MM = 20.0, 12.0
#: A mark's middle from the two edges of the table, its sheet's cut corner lying on the table's.
INSET_MM = WHITE_MM + SIDE_MM / 2.0
#: In the order of a set's marks.
CORNERS_SAID = (
    gettext_lazy("near left"),
    gettext_lazy("near right"),
    gettext_lazy("far left"),
    gettext_lazy("far right"),
)
#: A word for each set of four, so that nobody mixes two. Of boats, since every club has other teams' names.
#: The same in every language: what lies on a table outlives a change of the club's.
SET_WORDS = ("anchor", "buoy", "cleat", "dinghy", "ebb", "fender", "galley", "hawser")


@dataclass(frozen=True)
class PrintedMark:
    """One mark: its number in the dictionary, its black cells as the path of an SVG of 8 by 8, what it is called."""

    number: int
    path: str
    name: str


@dataclass(frozen=True)
class TableSheet:
    """``near`` and ``left`` say which corner of the sheet is cut to lie on the table's corner."""

    mark: PrintedMark
    corner: str
    near: bool
    left: bool


@dataclass(frozen=True)
class RobotSheet:
    mark: PrintedMark
    robot: Robot


def table_sheets(club: Club, sheet_set: int) -> list[TableSheet]:
    """The four of a set (1 to 8)."""
    sheets = []
    for corner, name in enumerate(CORNERS_SAID):
        mark = _printed(
            table_number(club.pk, sheet_set, corner),
            _("Set %(number)s %(word)s: %(corner)s")
            % {"number": sheet_set, "word": SET_WORDS[sheet_set - 1], "corner": name},
        )
        sheets.append(TableSheet(mark, str(name), corner < 2, corner % 2 == 0))
    return sheets


def robot_sheets(club: Club, robots: Iterable[Robot]) -> list[RobotSheet]:
    """Of those that have a mark."""
    marked = [robot for robot in robots if robot.top_mark]
    return [
        RobotSheet(
            _printed(
                robot_number(club.pk, robot.top_mark or 0),
                _("Robot %(mark)s: %(name)s") % {"mark": robot.top_mark, "name": isolated(robot.name)},
            ),
            robot,
        )
        for robot in sorted(marked, key=lambda robot: robot.top_mark or 0)
    ]


def set_choices() -> list[tuple[int, str]]:
    return [(number, SET_WORDS[number - 1]) for number in range(1, MOST_TABLES + 1)]


def _printed(number: int, name: str) -> PrintedMark:
    # OpenCV is loaded only by a process that is asked for marks; its dictionary has their cells.
    import cv2

    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    cells = cv2.aruco.generateImageMarker(dictionary, number, MODULES)
    # In one path, so that no hairline shows between two cells.
    path = "".join(
        f"M{column} {row}h1v1h-1z" for row in range(MODULES) for column in range(MODULES) if cells[row, column] < 128
    )
    return PrintedMark(number, path, name)
