"""A team measures its table: the fix, the reading to take again, and the course drawn where things really stand."""

from __future__ import annotations

import math
from typing import Any

import pytest

from planning.models import Course, TableSurvey
from planning.team.measured import as_measured, survey_in_force, surveyed_objects
from tests import factories as make
from tests.pages import page_of
from tests.planning.team.test_course import CLEAR, draft_json

pytestmark = pytest.mark.django_db


@pytest.fixture
def edition(cast: Any) -> Any:
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier)
    return editions[1]


def sheet(readings: list[tuple[str, str, str]], **more: Any) -> dict[str, Any]:
    data: dict[str, Any] = {"do": "try"} | more
    for i, (mark, to, text) in enumerate(readings):
        data |= {f"mark-{i}": mark, f"to-{i}": to, f"distance-{i}": text}
    return data


def bank_moved(dx: float, dy: float) -> list[tuple[str, str, str]]:
    """Two corners of the gravel bank (900..1200 x 500..750), moved, from two edges each, in cm."""
    near, far = (900 + dx, 500 + dy), (1200 + dx, 750 + dy)
    return [
        ("1:0", "left", f"{near[0] / 10:g}"),
        ("1:0", "near", f"{near[1] / 10:g}"),
        ("1:2", "left", f"{far[0] / 10:g}"),
        ("1:2", "near", f"{far[1] / 10:g}"),
    ]


def post(cast: Any, data: dict[str, Any], **more: Any) -> Any:
    return cast.as_team_a.post("/team/survey/", data, **more)


def test_the_sheet_begins_with_two_corners_of_each_thing(cast: Any, edition: Any) -> None:
    page = page_of(cast.as_team_a.get("/team/survey/"))
    assert "gravel bank, near left corner" in page and "tide gate, far right corner" in page
    assert [thing.name for thing in surveyed_objects(edition)] == ["tide gate", "gravel bank"]


def test_the_fix_says_how_things_stand_and_that_nothing_checks_them_yet(cast: Any, edition: Any) -> None:
    page = page_of(post(cast, sheet(bank_moved(40, -20))))
    assert "The gravel bank stands 4 cm right, 2 cm towards you of where the mission has it." in page
    assert "Nothing checks gravel bank" in page


def test_a_bad_reading_among_enough_is_named_and_marked(cast: Any, edition: Any) -> None:
    diagonal = math.hypot(900, 500) / 10
    readings = [*bank_moved(0, 0), ("1:0", "near left", f"{diagonal:.1f}"), ("1:0", "right", "160")]
    page = page_of(post(cast, sheet(readings)))
    assert "Take reading 6 again: gravel bank, near left corner, from the right edge. It reads" in page
    assert "take again" in page


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        (("1:0", "left", "seven"), "is not a length"),
        (("1:9", "left", "10"), "Choose a corner"),
        (("1:0", "moon", "10"), "Choose a corner"),
        (("1:0", "left", "-5"), "zero or more"),
        (("1:0", "left", "9000"), "longer than the table"),
        (("1:0", "left", "10"), "fewer than two readings"),
    ],
)
def test_what_cannot_be_solved_is_said_in_words(cast: Any, edition: Any, reading: Any, words: str) -> None:
    assert words in page_of(post(cast, sheet([reading])))


def test_kept_places_are_what_the_course_is_checked_against_until_they_are_put_away(cast: Any, edition: Any) -> None:
    def check() -> str:
        return page_of(cast.as_team_a.post("/team/course/", {"draft": draft_json(CLEAR), "do": "check"}))

    assert "Clear</span>" in check()
    assert post(cast, sheet(bank_moved(100, -280), do="keep")).status_code == 302
    page = check()
    assert "Touches</span>" in page and "Drawn where you measured things" in page
    post(cast, {"do": "forget"})
    assert "Clear</span>" in check()
    assert TableSurvey.objects.count() == 1


def test_places_that_were_put_away_are_taken_up_again_by_one_tap(cast: Any, edition: Any) -> None:
    def page() -> str:
        return str(page_of(cast.as_team_a.get("/team/survey/")))

    assert "Undo: use your last tape readings" not in page()
    post(cast, sheet(bank_moved(100, -280), do="keep"))
    before = survey_in_force(cast.team_a, edition)
    assert before is not None and "Undo: use your last tape readings" not in page()
    post(cast, {"do": "forget"})
    assert survey_in_force(cast.team_a, edition) is None and "Undo: use your last tape readings" in page()
    post(cast, {"do": "again"})
    post(cast, {"do": "again"})
    after = survey_in_force(cast.team_a, edition)
    assert after is not None and TableSurvey.objects.count() == 2, "a second tap makes no third"
    assert (after.readings, after.places, after.made_at) == (before.readings, before.places, before.made_at)


def test_a_plan_is_kept_with_the_check_against_the_measured_places(cast: Any, edition: Any) -> None:
    post(cast, sheet(bank_moved(100, -280), do="keep"))
    cast.as_team_a.post("/team/course/", {"draft": draft_json(CLEAR), "do": "keep", "base": 0})
    course = Course.objects.get()
    assert course.check_result["clear"] is False
    assert "Touches" in page_of(cast.as_team_a.get(f"/team/course/{course.pk}/"))
    edition.refresh_from_db()
    assert edition.obstacles[0]["outline"][0] == [900, 500]


def test_a_moved_target_takes_its_contact_along(cast: Any, edition: Any) -> None:
    readings = [("0:0", "left", "188"), ("0:0", "near", "47"), ("0:2", "left", "194"), ("0:2", "near", "77")]
    post(cast, sheet(readings, do="keep"))
    moved = as_measured(edition, survey_in_force(cast.team_a, edition))
    assert moved.version.target["precontact"]["x_mm"] == pytest.approx(1650, abs=1)
    assert moved.version.target["precontact"]["y_mm"] == pytest.approx(605, abs=1)
    assert edition.version.target["precontact"]["x_mm"] == 1670.0


def test_another_teams_survey_moves_nothing_here(cast: Any, edition: Any) -> None:
    make.ProgressFactory(team=cast.team_b, tier=edition.tier)
    post(cast, sheet(bank_moved(100, 0), do="keep"))
    assert survey_in_force(cast.team_b, edition) is None


#: One corner alone, read three times: nothing says which of the readings is wrong.
APART = [("1:0", "left", "90"), ("1:0", "near", "50"), ("1:0", "right", "145")]


def test_readings_that_do_not_fit_are_kept_only_after_asking(cast: Any, edition: Any) -> None:
    page = page_of(post(cast, sheet(APART)))
    assert "Readings 1 and 3 do not fit together. One of them is wrong" in page
    assert "in doubt" in page and "✓ yes" not in page
    asked = post(cast, sheet(APART) | {"do": "keep"})
    assert "Keep them all the same" in page_of(asked)
    assert not TableSurvey.objects.exists()
    post(cast, sheet(APART) | {"do": "keep", "sure": "yes"})
    assert TableSurvey.objects.count() == 1


def test_courses_that_are_checked_against_places_in_doubt_say_so(cast: Any, edition: Any) -> None:
    said = "Checked against places in doubt"
    post(cast, sheet(APART) | {"do": "keep", "sure": "yes"})
    assert said in page_of(cast.as_team_a.get("/team/course/"))
    cast.as_team_a.post("/team/course/", {"draft": draft_json(CLEAR), "do": "keep"})
    plan = Course.objects.get()
    assert said in page_of(cast.as_team_a.get(f"/team/course/{plan.pk}/"))
    post(cast, sheet(bank_moved(0, 0)) | {"do": "keep"})
    assert said not in page_of(cast.as_team_a.get("/team/course/"))


@pytest.mark.parametrize(
    ("read", "wrong"), [(("1:0", "right", "145"), 5), (("1:2", "right", "126"), 5), (("1:0", "far", "74"), 5)]
)
def test_the_known_shape_tells_the_wrong_one_of_readings_that_differ(
    cast: Any, edition: Any, read: tuple[str, str, str], wrong: int
) -> None:
    page = page_of(post(cast, sheet([*bank_moved(0, 0), read])))
    assert f"Take reading {wrong} again" in page and "Without it the corners fit the shape." in page
    assert "✓ yes" not in page


def test_the_shape_tells_a_wrong_first_reading_too(cast: Any, edition: Any) -> None:
    first, *rest = bank_moved(0, 0)
    page = page_of(post(cast, sheet([(*first[:2], "95"), *rest, ("1:0", "right", "150")])))
    assert "Take reading 1 again: gravel bank, near left corner, from the left edge." in page
