"""Marks on paper: their cells, their sheets, and which robot has which."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from classroom.club.marks.numbers import robot_number, table_number
from classroom.club.marks.sheets import robot_sheets, table_sheets
from classroom.models import AuditEntry, Robot
from tests import factories as make
from tests.oracles.rendered_table import cells_of
from tests.pages import page_of

pytestmark = pytest.mark.django_db


def said_of(path: str) -> set[tuple[int, int]]:
    """(row, column) of each black cell of a printed mark."""
    return {(int(row), int(column)) for column, row in re.findall(r"M(\d) (\d)h1v1h-1z", path)}


def test_the_printed_cells_are_those_of_the_dictionary(cast: Any) -> None:
    for corner, sheet in enumerate(table_sheets(cast.club, 2)):
        white = cells_of(table_number(cast.club.pk, 2, corner))
        assert sheet.mark.number == table_number(cast.club.pk, 2, corner)
        assert said_of(sheet.mark.path) == {(r, c) for r in range(8) for c in range(8) if not white[r, c]}


def test_each_sheet_of_a_set_says_which_corner_it_is_for(cast: Any) -> None:
    page = page_of(cast.as_coach.get("/picture/sheets/?set=2"))
    for corner in ("near left", "near right", "far left", "far right"):
        assert f"Set 2 buoy · {corner} · mark" in page
    assert "This line is 100 mm long" in page and "kit maker’s instructions" in page


@pytest.mark.parametrize("chosen", ["0", "9", "x", "1e9", ""])
def test_a_set_that_is_none_shows_robots_instead(cast: Any, chosen: str) -> None:
    assert "No robot has a mark yet" in page_of(cast.as_coach.get("/picture/sheets/", {"set": chosen}))


def give(cast: Any, robot: Robot, **more: str) -> Any:
    data = {"do": "fix", "height": "11", "ahead": "3", "left": "-0.5"} | more
    return cast.as_coach.post(f"/picture/robots/{robot.pk}/", data)


def test_a_robot_gets_the_first_free_mark_and_keeps_it(cast: Any) -> None:
    second = make.RobotFactory(club=cast.club, name="Kit 2")
    give(cast, second)
    give(cast, cast.robot_a)
    give(cast, second, height="12")
    marks = {robot.name: robot.top_mark for robot in Robot.objects.filter(club=cast.club)}
    assert marks == {"Kit 2": 1, "Kit 1": 2}
    second.refresh_from_db()
    assert (second.top_mark_height_mm, second.top_mark_ahead_mm, second.top_mark_left_mm) == (120.0, 30.0, -5.0)
    sheets = robot_sheets(cast.club, Robot.objects.filter(club=cast.club))
    assert [sheet.mark.number for sheet in sheets] == [robot_number(cast.club.pk, 1), robot_number(cast.club.pk, 2)]
    assert AuditEntry.objects.filter(verb="said where its mark is", subject=f"robot:{second.pk}").count() == 2


def test_a_mark_that_is_taken_off_is_free_again(cast: Any) -> None:
    give(cast, cast.robot_a)
    cast.as_coach.post(f"/picture/robots/{cast.robot_a.pk}/", {"do": "off"})
    cast.robot_a.refresh_from_db()
    assert cast.robot_a.top_mark is None
    second = make.RobotFactory(club=cast.club)
    give(cast, second)
    second.refresh_from_db()
    assert second.top_mark == 1


@pytest.mark.parametrize("height", ["", "0", "-3", "tall", "900"])
def test_a_height_that_is_none_is_refused(cast: Any, height: str) -> None:
    assert give(cast, cast.robot_a, height=height).status_code == 422
    cast.robot_a.refresh_from_db()
    assert cast.robot_a.top_mark is None


def test_no_more_robots_have_marks_than_there_are(cast: Any) -> None:
    for number in range(1, 27):
        make.RobotFactory(club=cast.club, top_mark=number, top_mark_height_mm=100)
    answer = give(cast, cast.robot_a)
    assert answer.status_code == 422 and "marks for 26 robots" in page_of(answer)


@pytest.mark.parametrize("wrong", [{"top_mark": 27}, {"top_mark": 0}, {"top_mark": 1, "top_mark_height_mm": 0}])
def test_the_database_itself_refuses_a_mark_that_is_not_printed_or_has_no_height(cast: Any, wrong: Any) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Robot.objects.filter(pk=cast.robot_a.pk).update(**{"top_mark_height_mm": 100} | wrong)
    make.RobotFactory(club=cast.club, top_mark=4, top_mark_height_mm=100)
    with pytest.raises(IntegrityError), transaction.atomic():
        Robot.objects.filter(pk=cast.robot_a.pk).update(top_mark=4, top_mark_height_mm=100)
