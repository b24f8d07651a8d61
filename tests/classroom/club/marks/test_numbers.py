"""Whose a mark is."""

from __future__ import annotations

import pytest

from classroom.club.marks.numbers import (
    BLOCKS,
    MARKS,
    MARKS_OF_A_TABLE,
    MOST_ROBOTS,
    MOST_TABLES,
    Whose,
    robot_number,
    table_in,
    table_number,
    whose,
)
from classroom.errors import ClassroomCode, InputError


def all_of(club: int) -> dict[int, Whose]:
    tables = {
        table_number(club, t, c): Whose(table=t, corner=c)
        for t in range(1, MOST_TABLES + 1)
        for c in range(MARKS_OF_A_TABLE)
    }
    return tables | {robot_number(club, r): Whose(robot=r) for r in range(1, MOST_ROBOTS + 1)}


def test_each_mark_of_a_club_is_one_of_the_dictionary_and_has_one_meaning():
    for club in (1, 7, 10, 23):
        marks = all_of(club)
        assert len(marks) == MOST_TABLES * MARKS_OF_A_TABLE + MOST_ROBOTS
        assert all(0 <= number < MARKS and whose(club, number) == meaning for number, meaning in marks.items())


def test_ten_clubs_one_after_the_other_share_no_mark():
    seen: set[int] = set()
    for club in range(41, 41 + BLOCKS):
        own = set(all_of(club))
        assert not own & seen
        seen |= own
        assert all(whose(club, number) is None for number in set(all_of(club + 1)))


@pytest.mark.parametrize(("table", "corner"), [(0, 0), (MOST_TABLES + 1, 0), (1, -1), (1, 4)])
def test_there_are_only_so_many_tables(table, corner):
    with pytest.raises(InputError) as refused:
        table_number(1, table, corner)
    assert refused.value.code == ClassroomCode.OUT_OF_MARKS


@pytest.mark.parametrize("robot", [0, MOST_ROBOTS + 1])
def test_there_are_only_so_many_robots(robot):
    with pytest.raises(InputError) as refused:
        robot_number(1, robot)
    assert refused.value.code == ClassroomCode.OUT_OF_MARKS


def test_a_picture_shows_one_table_of_this_club():
    club = 12
    table = [table_number(club, 3, corner) for corner in range(4)]
    assert table_in(club, [*table, robot_number(club, 2)]) == 3
    for numbers, code in (
        ([], ClassroomCode.NOTHING_FOUND),
        ([*table, table_number(club + 1, 3, 0)], ClassroomCode.OTHER_CLUB),
        ([*table, table_number(club, 4, 1)], ClassroomCode.TWO_TABLES),
        ([robot_number(club, 5)], ClassroomCode.NO_TABLE),
    ):
        with pytest.raises(InputError) as refused:
            table_in(club, numbers)
        assert refused.value.code == code
