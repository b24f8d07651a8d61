"""From one picture to a survey, a course and a logged run, press by press; by touch and by keys."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from classroom.models import Robot
from missions.models import Attempt
from planning.models import TableSurvey
from planning.team.measured import as_measured, survey_in_force
from tests import factories as make
from tests.oracles.club_picture import ClubPicture, club_picture

pytestmark = pytest.mark.browser
#: The gravel bank 30 mm nearer than the mission has it (900..1200 x 500..750).
BANK = [(870.0, 500.0), (1170.0, 500.0), (1170.0, 750.0), (870.0, 750.0)]


@pytest.fixture
def club(site: Any) -> Any:
    """Team A with an open tier and a robot with a mark on its top."""
    Robot.objects.filter(pk=site.robot_a.pk).update(top_mark=1, top_mark_height_mm=110, top_mark_ahead_mm=30)
    site.edition = make.mission_with_tiers(site.club)[1][1]
    make.ProgressFactory(team=site.team_a, tier=site.edition.tier)
    return site


def choose(page: Any, field: str, picture: ClubPicture) -> None:
    page.set_input_files(field, {"name": "table.jpg", "mimeType": "image/jpeg", "buffer": picture.data})
    page.get_by_role("button", name="Measure this picture").click()


def tap(page: Any, x: float, y: float) -> None:
    """On the straightened picture, 60 mm of floor around a table of 2400 by 1200 mm."""
    over = page.locator("#over")
    box = over.bounding_box()
    over.click(position={"x": box["width"] * (x + 60) / 2520, "y": box["height"] * (1260 - y) / 1320})


def test_one_picture_becomes_a_survey_a_course_and_a_logged_run(
    club: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    page = open_page(club.as_team_a, f"/team/survey/?tier={club.edition.tier.pk}")
    page.get_by_role("link", name="Check the table by a picture").click()
    choose(page, "#picture", club_picture(club.club, things=[BANK], size_px=(2400, 1800)))
    page.get_by_text("A place in this picture is sure to").wait_for()
    axe_clean(page)
    for i, (x, y) in enumerate(BANK):
        page.select_option("#which-corner", f"tap-1:{i}")
        if i == 0:  # by keys alone, from where the mission has it
            page.focus("#over")
            page.keyboard.press("Shift+ArrowLeft")
            for _ in range(10):
                page.keyboard.press("ArrowLeft")
            page.keyboard.press("Enter")
        else:
            tap(page, x, y)
            page.get_by_role("button", name="Set this corner").click()
    page.get_by_role("button", name="What stands off?").click()
    page.get_by_text("too near the base").wait_for()
    axe_clean(page)
    page.get_by_role("button", name="Take these places as the table’s survey").click()
    page.get_by_text("Kept. Your course is drawn where the picture has things").wait_for()
    kept = survey_in_force(club.team_a, club.edition)
    left = as_measured(club.edition, kept).obstacles[0]["outline"][0][0]
    assert abs(left - 870.0) < 8.0
    page.get_by_text("Drawn where your picture has things, measured today.").wait_for()
    page.locator(".adders").get_by_role("button", name="Drive", exact=True).click()

    page.get_by_role("link", name="Log a run").first.click()
    page.get_by_role("link", name="Measure it by a picture").click()
    stands = (Robot.objects.get(pk=club.robot_a.pk), (1768.0, 601.0, 2.0))  # 8 mm too far, and to the left
    choose(page, "#stopped-picture", club_picture(club.club, robot=stands, size_px=(2400, 1800)))
    page.get_by_role("button", name="Use these numbers").wait_for()
    axe_clean(page)
    page.get_by_role("button", name="Use these numbers").click()
    assert page.input_value("#side") == "left" and page.input_value("#way") == "far"
    page.fill("#duration", "38.2")
    for label in page.locator(".pick.yes").all():
        label.click()
    page.get_by_role("button", name="Save this run").click()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    run = Attempt.objects.get()
    assert abs(run.along_mm - 8.0) < 8.0 and abs(run.lateral_mm - 23.0) < 8.0 and abs(run.heading_error_deg - 2.0) < 1.5
    assert TableSurvey.objects.count() == 1


def test_a_picture_that_cannot_be_measured_is_refused_and_nothing_on_the_page_is_lost(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, f"/team/log/?tier={club.edition.tier.pk}", width=820, height=1180)
    page.fill("#duration", "41")
    page.get_by_role("link", name="Measure it by a picture").click()
    choose(page, "#stopped-picture", club_picture(club.club, missing=(0, 1)))
    page.get_by_text("2 of the table's 4 marks are found").wait_for()
    page.get_by_role("button", name="Back to the run").click()
    assert page.input_value("#duration") == "41"


def test_a_coach_prints_the_sheets_gives_a_robot_a_mark_and_checks_a_table(
    club: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    Robot.objects.update(top_mark=None)
    page = open_page(club.as_coach, "/settings/")
    page.get_by_role("link", name="Measure by a picture").click()
    axe_clean(page)
    page.get_by_role("link", name="Mark of Kit 1").click()
    page.get_by_label("The mark's height above the table").fill("11")
    page.get_by_label("Its middle is ahead of the axle by").fill("3")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Kit 1 has mark 1").wait_for()
    page.get_by_role("link", name="Robots’ marks to print").click()
    page.get_by_role("heading", name="Kit 1 · robot 1").wait_for()
    axe_clean(page)
    page.goto("/picture/sheets/?set=2")
    assert page.locator("article.a4").count() == 4
    assert page.pdf(prefer_css_page_size=True).count(b"/Type /Page\n") == 4
    page.goto(f"/missions/{club.edition.version.mission_id}/")
    page.get_by_role("link", name="Check the table by a picture").click()
    choose(page, "#picture", club_picture(club.club))
    page.get_by_text("A place in this picture is sure to").wait_for()


#: In mm from the sheet's own upper left corner: left, top, right, bottom.
PLACES = """sheet => {
    const own = sheet.getBoundingClientRect(), mm = 25.4 / 96;
    const place = box => [box.left - own.left, box.top - own.top, box.right - own.left, box.bottom - own.top].map(px => px * mm);
    const of = name => place(sheet.querySelector(name).getBoundingClientRect());
    const line = getComputedStyle(sheet.querySelector(".ruler"), "::before");
    return { sheet: place(own), mark: of(".printed"), cut: of(".cut-out"), words: of(".words"), ruler: of(".ruler"), said: of(".ruler span"),
        line: { width: parseFloat(line.width) * mm, height: parseFloat(line.height) * mm } };
}"""


@pytest.mark.parametrize("language", ["en", "es", "de"])
@pytest.mark.parametrize(("address", "sheets", "side", "cut"), [("?set=2", 4, 150.0, 190.0), ("", 1, 80.0, 104.0)])
def test_marks_print_in_their_size_a_page_each_with_all_their_words(
    club: Any, open_page: Callable[..., Any], address: str, sheets: int, side: float, cut: float, language: str
) -> None:
    type(club.club).objects.filter(pk=club.club.pk).update(locale=language)
    page = open_page(club.as_coach, f"/picture/sheets/{address}")
    page.emulate_media(media="print")
    assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True))) == sheets
    printed = page.locator(".a4")
    assert printed.count() == sheets
    for sheet in printed.all():
        at = sheet.evaluate(PLACES)
        assert at["sheet"] == pytest.approx([0, 0, 210, 297], abs=0.1)
        left, top, right, bottom = at["mark"]
        assert (right - left, bottom - top) == pytest.approx((side, side), abs=0.1)
        left, top, right, bottom = at["cut"]
        assert (right - left, bottom - top) == pytest.approx((cut, cut), abs=0.1)
        words = at["words"]
        assert words[3] < top or words[1] > bottom, "words and what is cut out stand apart"
        assert words[1] >= 5 and words[3] <= 292, "where a printer prints"
        assert at["line"]["width"] == pytest.approx(100.0, abs=0.1)
        assert at["said"][1] >= at["ruler"][1] + at["line"]["height"], "no stroke goes through its words"
