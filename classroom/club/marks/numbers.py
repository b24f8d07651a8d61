"""Whose mark a number is. A club prints from a block of its own, so that marks of another club are told apart.

The dictionary is AprilTag 36h11 (Olson 2011, "AprilTag: A robust and flexible visual fiducial system"; Wang and Olson
2016): open, 587 marks of eight by eight cells, any two of which differ in at least eleven. It has room for ten blocks, so
that one club in ten has the same as another: enough for marks that were carried from one room to the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from classroom.errors import ClassroomCode, InputError
from classroom.site.listed import strung

MARKS, BLOCK = 587, 58
BLOCKS = MARKS // BLOCK
#: Cells of a mark's side, its dark border with them.
MODULES = 8
MOST_TABLES, MARKS_OF_A_TABLE = 8, 4
MOST_ROBOTS = BLOCK - MOST_TABLES * MARKS_OF_A_TABLE
CORNER_NAMES = ("near left", "near right", "far left", "far right")


@dataclass(frozen=True)
class Whose:
    """A mark of a table's corner, or of a robot's top; numbers as people count, from 1."""

    table: int = 0
    corner: int = 0
    robot: int = 0


def table_number(club: int, table: int, corner: int) -> int:
    """The dictionary's number of the mark in a corner (0 to 3) of a table (1 to 8) of a club (its key)."""
    if not (1 <= table <= MOST_TABLES and 0 <= corner < MARKS_OF_A_TABLE):
        raise InputError(
            ClassroomCode.OUT_OF_MARKS,
            _("There are marks for %(most)s tables; choose one of them.") % {"most": MOST_TABLES},
        )
    return BLOCK * (club % BLOCKS) + MARKS_OF_A_TABLE * (table - 1) + corner


def robot_number(club: int, robot: int) -> int:
    """The dictionary's number of a robot's mark, the club's robots counted from 1."""
    if not 1 <= robot <= MOST_ROBOTS:
        raise InputError(
            ClassroomCode.OUT_OF_MARKS,
            _("There are marks for %(most)s robots; choose one of them.") % {"most": MOST_ROBOTS},
        )
    return BLOCK * (club % BLOCKS) + MOST_TABLES * MARKS_OF_A_TABLE + robot - 1


def whose(club: int, number: int) -> Whose | None:
    """Whose mark that number of the dictionary is; None when it is another club's."""
    place = number - BLOCK * (club % BLOCKS)
    if not 0 <= place < BLOCK:
        return None
    tables = MOST_TABLES * MARKS_OF_A_TABLE
    if place >= tables:
        return Whose(robot=place - tables + 1)
    return Whose(table=place // MARKS_OF_A_TABLE + 1, corner=place % MARKS_OF_A_TABLE)


def table_in(club: int, numbers: Sequence[int]) -> int:
    """Which of the club's tables (1 to 8) a picture with these marks shows.

    Raises
    ------
    InputError
        ``nothing_found`` (no mark at all), ``other_club``, ``no_table`` (robots only), ``two_tables``.
    """
    own = [found for number in numbers if (found := whose(club, number))]
    if not numbers:
        raise InputError(
            ClassroomCode.NOTHING_FOUND,
            _("No mark is found in this picture. All four marks of the table must be in it, sharp and without glare."),
        )
    if len(own) < len(numbers):
        raise InputError(
            ClassroomCode.OTHER_CLUB,
            _("There are marks in this picture that are not this club's; print this club's own, and put others away."),
        )
    tables = sorted({found.table for found in own if found.table})
    if not tables:
        raise InputError(
            ClassroomCode.NO_TABLE, _("Only robots' marks are found; get the table's four marks into the picture.")
        )
    if len(tables) > 1:
        raise InputError(
            ClassroomCode.TWO_TABLES,
            _("Marks of tables %(tables)s are in this picture; take one table at a time.")
            % {"tables": strung([str(table) for table in tables])},
        )
    return tables[0]
