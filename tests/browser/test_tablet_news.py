"""What comes to an open tablet by itself: what its coach shows and signs, and where the rota has it. The team taps."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from missions.models import Attempt, Progress, RotaTurn, SessionRun
from missions.readiness.services.progress import open_tier, pass_tier
from planning.models import Course
from tests import factories as make
from tests.browser.conftest import until_on
from tests.browser.test_tablet_log import log
from tests.planning.planned_courses import planned

pytestmark = pytest.mark.browser

#: So often a tablet must ask, that a message is there within three seconds.
OFTEN_MS = 2000


@pytest.fixture
def two_missions(site: Any) -> Any:
    """Team A ran Tide gate today; Fog bell was opened later and never run."""
    now = timezone.now()
    gate, site.gate = make.mission_with_tiers(site.club)
    bell, site.bell = make.mission_with_tiers(site.club)
    for mission, title in ((gate, "Tide gate"), (bell, "Fog bell")):
        mission.title = title
        mission.save()
    make.ProgressFactory(team=site.team_a, tier=site.gate[1].tier, last_run_at=now, opened_at=make.NOW)
    make.ProgressFactory(team=site.team_a, tier=site.bell[0].tier, opened_at=now)
    return site


def test_signing_a_pass_leaves_the_tablet_where_it_is_and_the_next_run_too(
    two_missions: Any, open_page: Callable[..., Any]
) -> None:
    site, tier = two_missions, two_missions.gate[1].tier
    page = open_page(site.as_team_a, "/team/log/")
    expect(page.locator(".team-tier")).to_contain_text("Tide gate · 2 With obstacle")
    pass_tier(site.coach, site.team_a, tier, "Seen it", timezone.now())
    page.locator("#news").get_by_text("2 With obstacle: passed. Your coach opens 3 Timed.").wait_for()
    page.goto("/team/log/")
    expect(page.locator(".team-tier")).to_contain_text("Tide gate · 2 With obstacle")
    log(page)
    until_on(page, Attempt.objects.exists, "the run to come in")
    assert Attempt.objects.get().tier == tier


def test_a_change_of_mission_is_said_and_tapped_and_stays(
    two_missions: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    site = two_missions
    Progress.objects.filter(tier=site.bell[0].tier).delete()
    page = open_page(site.as_team_a, "/team/course/", width=820, height=1180, touch=True)
    open_tier(site.coach, site.team_a, site.bell[0].tier, "", timezone.now())
    page.locator("#news").get_by_text("Your coach has opened Fog bell, 1 Plain route.").wait_for()
    axe_clean(page)
    page.get_by_role("button", name="Go to 1 Plain route").tap()
    page.get_by_role("heading", name="Fog bell", level=1).wait_for()
    page.goto("/team/log/")
    expect(page.locator(".team-tier")).to_contain_text("Fog bell")
    expect(page.locator("#news")).not_to_contain_text("Fog bell")


def test_the_rota_of_the_day_is_followed_by_a_tap(two_missions: Any, open_page: Callable[..., Any]) -> None:
    site, now = two_missions, timezone.now()
    session = make.SessionFactory(
        term=make.TermFactory(club=site.club, starts_on=now.date(), ends_on=now.date()),
        starts_at=now - timezone.timedelta(minutes=2),
        ends_at=now + timezone.timedelta(hours=1),
    )
    SessionRun.objects.create(session=session, started_at=session.starts_at, slot_minutes=20, changed_at=now)
    page = open_page(site.as_team_a, "/team/mission/")
    page.get_by_role("heading", name="Tide gate", level=1).wait_for()
    table = make.TableFactory(club=site.club, name="Table B")
    RotaTurn.objects.create(session=session, slot=0, table=table, team=site.team_a, tier=site.bell[0].tier)
    site.club.touch()
    page.locator("#news").get_by_text("Your turn at Table B until").wait_for()
    page.get_by_role("button", name="Go to 1 Plain route").click()
    page.get_by_role("heading", name="Fog bell", level=1).wait_for()


def test_a_course_that_is_shown_reaches_an_open_tablet_and_is_answered(
    site: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    tiers = make.mission_with_tiers(site.club)[1]
    make.ProgressFactory(team=site.team_a, tier=tiers[0].tier)
    course = planned(site.team_a, tiers[0], site.robot_a)
    tablet = open_page(site.as_team_a, "/team/log/", width=360, height=740, touch=True)
    tablet.get_by_role("button", name="Start", exact=True).wait_for()
    assert int(tablet.locator("#news").get_attribute("data-every")) <= OFTEN_MS
    coach = open_page(site.as_coach, reverse("course", args=[course.pk]))
    coach.get_by_role("button", name="Show it to the team").click()
    coach.get_by_text("Curlew has not answered yet.").wait_for()
    tablet.locator("#news").get_by_text("Your coach shows you plan 1").wait_for()
    axe_clean(tablet)
    assert tablet.evaluate("document.documentElement.scrollWidth") <= 360
    tablet.get_by_role("button", name="We'll try it").tap()
    tablet.get_by_role("heading", name="Plan 1", exact=True).wait_for()
    coach.reload()
    coach.get_by_text("Curlew says: “We'll try it”").wait_for()
    tablet.get_by_role("button", name="We keep ours").tap()
    tablet.get_by_text("Your coach reads: “We keep ours”.").wait_for()
    assert Course.objects.get().answer == "keep"


def test_courses_beside_each_other_are_shown_from_there_and_marked(
    site: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None]
) -> None:
    tiers = make.mission_with_tiers(site.club)[1]
    job = make.JobFactory(club=site.club, team=site.team_a, tier_version=tiers[0], state="done", result={})
    for aim in ("steadiest", "fastest"):
        planned(site.team_a, tiers[0], site.robot_a, job=job, aim=aim)
    page = open_page(site.as_coach, reverse("job", args=[job.pk]))
    page.get_by_text("2 courses: what each costs").wait_for()
    axe_clean(page)
    few = page.locator(".compare tbody tr").first.get_by_text("Few chances")
    chances = int(page.locator(".compare tbody tr").first.locator("td b").inner_text())
    assert few.count() == (chances < 50)
    page.get_by_role("button", name="Show it to the team").first.click()
    page.get_by_text("sees plan 1 on its tablet now").wait_for()
    page.get_by_text("2 courses: what each costs").wait_for()
    assert Course.objects.exclude(shown_to_team_at=None).get().number == 1


def test_a_page_that_has_drawn_its_news_asks_for_none_of_it_again(
    two_missions: Any, open_page: Callable[..., Any]
) -> None:
    """On slow lines and with a thousand tablets each drawing counts: the first answer is that nothing is new."""
    site = two_missions
    page = open_page(site.as_team_a, "/team/mission/")
    with page.expect_response(lambda answer: "/team/news/" in answer.url) as asked:
        page.reload()
    assert asked.value.status == 304
    open_tier(site.coach, site.team_a, site.gate[2].tier, "Seen it", timezone.now())
    page.locator("#news").get_by_text("Your coach has opened 3 Timed").wait_for()
