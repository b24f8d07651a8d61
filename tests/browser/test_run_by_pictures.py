"""A robot is calibrated by pictures: ten set-downs one after the other, a straight run by two, a square without a free row."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from classroom.models import Calibration, Robot
from classroom.robots.numbers import fit_of
from tests.browser.test_picture import club
from tests.oracles.club_picture import club_picture

__all__ = ["club"]
pytestmark = pytest.mark.browser
MARKS = (700.0, 450.0, 0.0)


def photograph(page: Any, club: Any, pose: tuple[float, float, float]) -> None:
    """As a camera gives it: once it is taken, it is there, and is measured without a further press."""
    robot = Robot.objects.get(pk=club.robot_a.pk)
    data = club_picture(club.club, robot=(robot, pose)).data
    page.set_input_files("#run-picture-file", {"name": "robot.jpg", "mimeType": "image/jpeg", "buffer": data})


def accept(page: Any, row: int) -> None:
    page.get_by_role("button", name="Use these numbers").click()
    page.get_by_text(f"Run {row} is in the sheet.").wait_for()


def test_ten_set_downs_by_pictures_become_a_calibration_without_a_new_page(
    club: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    page = open_page(club.as_team_a, "/team/robot/set_down/", width=820, height=1180)
    page.fill("#surface", "the mission table")
    page.evaluate("window.samePage = true")
    page.get_by_role("link", name="Measure by pictures").click()
    page.get_by_text("First picture", exact=True).wait_for()
    axe_clean(page)
    photograph(page, club, MARKS)
    page.get_by_text("Seen where it stands. Now: Lift it").wait_for()
    rng = np.random.default_rng(10)
    off = rng.normal(0.0, (4.0, 3.0, 1.0), (10, 3))
    for row, (x, y, turn) in enumerate(off, start=1):
        photograph(page, club, (MARKS[0] + x, MARKS[1] + y, MARKS[2] + turn))
        if row == 1:
            page.get_by_role("button", name="Use these numbers").wait_for()
            axe_clean(page)
        accept(page, row)
    page.get_by_role("button", name="Back to the sheet").click()
    assert page.evaluate("window.samePage"), "no page was loaded in between"
    assert page.input_value("#side") == "25"
    for row, (x, _, _) in enumerate(off):
        assert float(page.input_value(f'[name="run-{row}-ahead"]')) == pytest.approx(x / 10, abs=0.25)
    page.fill('[name="run-9-ahead"]', str(round(off[9][0] / 10, 1)))  # what a picture said is changed by hand
    page.keyboard.press("Tab")
    page.get_by_text("Set down again and again it stands within").wait_for()
    page.get_by_role("button", name="Keep these numbers").click()
    page.get_by_role("heading", name="Kit 1").wait_for()
    kept = Calibration.objects.get(kind="set_down")
    assert len(kept.runs) == 10 and kept.measured_by_team_id == club.team_a.pk
    assert fit_of(kept).heading_sd_deg == pytest.approx(float(np.std(off[:, 2], ddof=1)), abs=0.25)
    assert fit_of(kept).along_mm == pytest.approx(float(np.mean(off[:, 0])), abs=1.5)


def test_a_straight_run_by_two_pictures_goes_into_the_next_free_row_of_the_coachs_sheet(
    club: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    page = open_page(club.as_coach, f"/robots/{club.robot_a.pk}/measure/straight/")
    page.fill('[name="run-0-commanded"]', "60")
    page.fill('[name="run-0-measured"]', "59")
    page.get_by_role("link", name="Measure by pictures").click()
    page.get_by_text("Run 2", exact=True).wait_for()
    page.get_by_label("Told (cm)").fill("50")
    photograph(page, club, (500.0, 450.0, 0.0))
    page.get_by_text("Seen where it stands. Now: It has driven and stopped.").wait_for()
    photograph(page, club, (995.0, 452.0, 0.5))
    page.get_by_role("button", name="Leave it out").click()
    page.get_by_text("Nothing was written.").wait_for()
    assert page.input_value('[name="run-1-measured"]') == ""
    for row, end in ((1, 995.0), (2, 994.0)):
        photograph(page, club, (500.0, 450.0, 0.0))
        page.get_by_text("Picture 2: after").wait_for()
        photograph(page, club, (end, 452.0, 0.5))
        accept(page, row + 1)
    axe_clean(page)
    page.keyboard.press("Escape")
    assert float(page.input_value('[name="run-1-measured"]')) == pytest.approx(49.5, abs=0.6)
    assert page.input_value('[name="run-2-commanded"]') == "50"
    for field in ("run-0-sideways", "run-1-sideways", "run-2-sideways"):
        page.fill(f'[name="{field}"]', "0")
    page.get_by_label("Surface").fill("club table")
    page.get_by_role("button", name="Work it out").click()
    page.get_by_role("button", name="Keep this calibration").click()
    page.get_by_text("Kept. Told 100 cm it goes").wait_for()
    assert len(Calibration.objects.get(kind="straight").runs) == 3


def test_a_full_sheet_gets_a_row_and_a_picture_that_says_nothing_leaves_all_as_it_was(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/robot/square/", width=360, height=740)
    for row in range(10):
        page.fill(f'[name="run-{row}-x"]', "1")
        page.fill(f'[name="run-{row}-y"]', "1")
    page.get_by_role("link", name="Measure by pictures").click()
    page.get_by_text("Run 11").wait_for()
    photograph(page, club, MARKS)
    page.get_by_text("Seen where it stands.").wait_for()
    nothing = club_picture(club.club).data
    page.set_input_files("#run-picture-file", {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": nothing})
    page.get_by_text("The mark of Kit 1 is not found.").wait_for()
    page.get_by_role("button", name="Back to the sheet").click()
    page.get_by_role("link", name="Measure by pictures").click()  # the first picture is still there
    photograph(page, club, (690.0, 456.0, 0.0))
    accept(page, 11)
    page.get_by_role("button", name="Back to the sheet").click()
    assert float(page.input_value('[name="run-10-x"]')) == pytest.approx(-1.0, abs=0.3)
    assert float(page.input_value('[name="run-10-y"]')) == pytest.approx(0.6, abs=0.3)
    assert page.locator(".sheet-row").count() == 11
