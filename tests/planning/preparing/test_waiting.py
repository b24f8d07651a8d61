"""While the kernels compile: every page answers, says what waits and how far it is, and nothing typed is lost."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from django.urls import reverse

from classroom.robots.services.calibrate import record_calibration
from motion.chance.montecarlo import RUNS_EACH
from planning.courses.plan_today import plan_today
from planning.courses.services.check_draft import DRAFT_HYPOTHESES
from planning.courses.services.check_kept import check_kept_courses
from planning.courses.services.show_course import show_course
from planning.models import Course, Job
from planning.preparing import kernels
from planning.preparing.checks import NotReadyError
from tests import factories as make
from tests.log import tells_live_pages
from tests.planning.planned_courses import planned
from tests.planning.preparing.unready_planner import UnreadyPlanner
from tests.planning.team.test_course import CLEAR, send

pytestmark = pytest.mark.django_db

HOW_FAR = "31 of 72"


@pytest.fixture
def editions(cast: Any) -> Any:
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier)
    return editions


@pytest.fixture
def checked_plan(cast: Any, editions: Any) -> Course:
    return planned(cast.team_a, editions[0], cast.robot_a)


@pytest.fixture
def unready(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Any) -> Iterator[UnreadyPlanner]:
    planner = UnreadyPlanner(monkeypatch, settings, tmp_path)
    planner.tell(31)
    yield planner
    planner.let_go()


def said(response: Any) -> str:
    """The page, as a person reads it."""
    assert response.status_code == 200
    return " ".join(response.content.decode().replace('<span class="num">', "").replace("</span>", "").split())


def waits(page: str) -> bool:
    return "The planner is getting ready" in page and f"{HOW_FAR} parts are done" in page and 'value="0.431"' in page


def keep(cast: Any) -> Course:
    response = send(cast, CLEAR, do="keep")
    assert response.status_code == 302
    return Course.objects.get()


def test_a_draft_is_drawn_and_its_check_is_waited_for(cast, editions, unready):
    page = said(send(cast, CLEAR))
    assert waits(page)
    assert "Not checked yet" in page
    assert 'class="chart-' in page, "the map shows the draft"
    assert page.count('<th scope="row">') == len(CLEAR), "its numbers can be typed already"
    assert "118 cm" in page
    unready.get_ready()
    page = said(send(cast, CLEAR))
    assert "getting ready" not in page
    assert "in 100 runs should work" in page


def test_a_draft_without_script_comes_back_as_it_was_typed(cast, editions, unready):
    rows = {"do-0": "drive", "n-0": "60", "do-1": "left", "n-1": "40", "do": "check", "base": "0"}
    page = said(cast.as_team_a.post("/team/course/", rows))
    assert waits(page)
    assert "Load this page again in a minute." in page
    assert 'value="60"' in page
    assert 'value="40"' in page


def test_a_draft_can_be_kept_and_says_that_it_is_not_checked_yet(cast, editions, unready):
    kept = keep(cast)
    assert kept.is_unchecked
    page = said(cast.as_team_a.get(reverse("team_plan", args=[kept.pk])))
    assert waits(page)
    assert "Kept as plan 1." in page
    assert "Not checked yet" in said(cast.as_team_a.get("/team/course/"))
    assert "Not checked yet" in said(
        cast.as_coach.get(reverse("course_ask", args=[cast.team_a.pk, kept.tier_version.tier_id]))
    )


def test_what_was_kept_unchecked_has_its_check_when_the_planner_is_ready(cast, editions, unready):
    kept = keep(cast)
    with pytest.raises(NotReadyError):
        check_kept_courses()
    unready.get_ready()
    assert tells_live_pages(check_kept_courses, cast.club), "pages that show it hear of it"
    assert check_kept_courses() == 0
    kept.refresh_from_db()
    assert kept.check_result["clear"]
    assert kept.check_result["success"]["runs"] == DRAFT_HYPOTHESES * RUNS_EACH
    twin = send(cast, CLEAR, do="keep", base=1)
    assert twin.status_code == 302
    assert Course.objects.get(number=2).check_result == kept.check_result


def test_each_of_several_has_a_check_of_its_own(cast, editions, unready):
    long = keep(cast)
    short = Course.objects.get(pk=long.pk)
    short.pk, short.number, short.actions = None, 2, long.actions[:1]
    short.save()
    unready.get_ready()
    assert check_kept_courses() == 2
    seconds = [Course.objects.get(pk=one.pk).check_result["duration_s"] for one in (short, long)]
    assert seconds[0] < seconds[1]


def test_a_check_is_of_the_numbers_that_were_in_force_when_it_was_kept(cast, editions, unready):
    kept = keep(cast)
    Course.objects.filter(pk=kept.pk).update(created_at=make.NOW)
    runs = [{"commanded_mm": 1000, "measured_mm": measured} for measured in (1149, 1150, 1151)]
    record_calibration(cast.robot_a, "straight", "table", runs, now=make.NOW + dt.timedelta(hours=1))
    unready.get_ready()
    check_kept_courses()
    kept.refresh_from_db()
    assert kept.check_result["clear"], "the robot as it was known drives clear"
    assert not plan_today(kept).check.clear, "and as it is known now it does not"


def test_a_plan_that_has_its_check_is_shown_as_always(cast, checked_plan, unready):
    page = said(cast.as_coach.get(reverse("course", args=[checked_plan.pk])))
    assert "What to expect" in page
    assert "getting ready" not in page


def test_a_plan_whose_robot_was_measured_since_waits_for_its_new_check(cast, checked_plan, unready):
    runs = [{"commanded_mm": 1000, "measured_mm": measured} for measured in (1019, 1020, 1021)]
    record_calibration(cast.robot_a, "straight", "table", runs, now=make.NOW)
    assert waits(said(cast.as_coach.get(reverse("course", args=[checked_plan.pk]))))


@pytest.mark.parametrize("name", ["course", "course_card"])
def test_a_coachs_page_of_an_unchecked_plan_waits(cast, editions, unready, name):
    kept = keep(cast)
    response = cast.as_coach.get(reverse(name, args=[kept.pk]))
    assert waits(said(response))
    assert 'data-preparing="/preparing/"' in said(response), "and goes on by itself"
    assert "no-store" in response.headers["Cache-Control"]
    unready.get_ready()
    assert "What to expect" in said(cast.as_coach.get(reverse(name, args=[kept.pk])))


def test_the_printed_cards_of_a_tier_wait(cast, editions, unready):
    kept = keep(cast)
    assert waits(said(cast.as_coach.get(reverse("tier_cards", args=[kept.tier_version.tier_id]))))


def test_two_plans_side_by_side_wait(cast, editions, unready):
    keep(cast)
    send(cast, CLEAR[:2], do="keep", base=1)
    a, b = Course.objects.order_by("number")
    assert waits(said(cast.as_team_a.get(reverse("team_compare"), {"a": a.pk, "b": b.pk})))


def test_a_fragment_asks_for_the_whole_page_instead_of_swapping_one_in(cast, editions, unready):
    kept = keep(cast)
    response = cast.as_coach.get(reverse("course", args=[kept.pk]), headers={"HX-Request": "true"})
    assert (response.status_code, response.headers["HX-Refresh"], response.content) == (200, "true", b"")


def test_a_plan_is_not_shown_to_its_team_before_it_can_be_checked(cast, editions, unready):
    kept = keep(cast)
    Course.objects.filter(pk=kept.pk).update(origin="planner")
    kept.refresh_from_db()
    with pytest.raises(NotReadyError, match="Try again in a minute"):
        show_course(kept, cast.coach, now=make.NOW)
    response = cast.as_coach.post(reverse("course_show", args=[kept.pk]), follow=True)
    assert "still getting ready" in said(response)
    kept.refresh_from_db()
    assert kept.shown_to_team_at is None


def test_a_course_asked_meanwhile_says_why_it_waits_and_moves_with_the_bar(cast, editions, unready):
    ask = reverse("course_ask", args=[cast.team_a.pk, editions[1].tier_id])
    response = cast.as_coach.post(ask, {"aim": "fastest", "alternatives": 1}, follow=True)
    page = said(response)
    assert waits(page)
    assert "waits in the queue" in page
    job = reverse("job", args=[Job.objects.get().pk])
    same = {"HX-Request": "true", "If-None-Match": response.headers["ETag"]}
    assert cast.as_coach.get(job, headers=same).status_code == 304
    unready.tell(32)
    assert "32 of 72" in said(cast.as_coach.get(job, headers=same))
    unready.get_ready()
    page = said(cast.as_coach.get(job, headers=same))
    assert "getting ready" not in page
    assert "It is your club's next." in page


def test_the_editors_questions_say_why_they_wait(cast, editions, unready):
    mission = editions[0].version.mission
    asked = cast.as_coach.post(reverse("feasibility_panel", args=[mission.pk]), {"robot": ""}, follow=True)
    assert waits(said(asked))
    places = cast.as_coach.post(reverse("obstacle_places", args=[mission.pk]), {"room": "2 cm"}, follow=True)
    assert waits(said(places))


def test_the_bar_by_itself_says_how_far_it_is_and_ends_with_nothing(client, unready):
    assert waits(said(client.get(reverse("preparing"))))
    unready.get_ready()
    response = client.get(reverse("preparing"))
    assert (response.status_code, response.content) == (204, b"")
    assert "no-store" in response.headers["Cache-Control"]


def test_compiling_that_failed_or_stands_still_says_what_to_do(client, unready):
    unready.tell(31, failed=True)
    assert "It did not work." in said(client.get(reverse("preparing")))
    (kernels.stamp_file().parent / "warm.json").unlink()
    page = said(client.get(reverse("preparing")))
    assert "Nothing has moved for a while." in page
    assert "manage.py warm" in page


def test_a_process_that_still_loads_them_lets_its_pages_wait(client, unready):
    unready.get_ready()
    kernels.loading_aside(True)
    assert "getting ready" in said(client.get(reverse("preparing")))
    assert kernels.preparation().goes_on
    kernels.loading_aside(False)
    assert client.get(reverse("preparing")).status_code == 204


def test_pages_that_need_no_kernels_answer_as_always(cast, editions, unready):
    for client, addresses in (
        (cast.as_coach, ("/", "/today/", "/term/", "/teams/", "/missions/", "/robots/", "/families/")),
        (cast.as_team_a, ("/team/mission/", "/team/course/", "/team/log/", "/team/robot/", "/team/survey/")),
    ):
        for address in addresses:
            assert "getting ready" not in said(client.get(address, follow=True)), address
