"""A coach asks for a course and watches it being found, on the real site."""

from __future__ import annotations

import re
import threading
from typing import Any

import pytest
from django.db import connection
from django.urls import reverse
from playwright.sync_api import expect

from planning.courses.services.plan_team_course import find_courses, keep_plans
from planning.jobs.kinds import KINDS, Kind
from planning.jobs.progress import JobControl
from planning.jobs.services import run_job as running
from planning.models import Course, Job
from tests import factories as make
from tests.patience import LONGEST_S, until
from tests.planning.planned_courses import planned


@pytest.fixture
def tiers(site: Any) -> Any:
    return make.mission_with_tiers(site.club)[1]


def beside(work: Any) -> threading.Thread:
    def run() -> None:
        try:
            work()
        finally:
            connection.close()

    thread = threading.Thread(target=run)
    thread.start()
    return thread


def ask_page(site: Any, tiers: Any) -> str:
    return reverse("course_ask", args=[site.team_a.pk, tiers[0].tier_id])


def test_progress_turns_into_the_map_and_the_legs_without_a_reload(site, tiers, open_page, monkeypatch, axe_clean):
    """The planner itself answers; it only waits, once, until the page has shown how far it is."""
    seen = threading.Event()

    def in_view_of_the_coach(job_input: dict, progress: JobControl) -> dict:
        progress.tell(0.42, "Trying ways round")
        assert seen.wait(LONGEST_S)
        return find_courses(job_input, progress)

    monkeypatch.setitem(KINDS, "plan_course", Kind(in_view_of_the_coach, keep_plans))
    page = open_page(site.as_coach, ask_page(site, tiers))
    page.get_by_label("Fastest").check()
    page.get_by_role("button", name="Find a course").click()
    page.get_by_text("Waiting for its turn").wait_for()
    page.evaluate("window.stillHere = true")
    worker = beside(lambda: running.run_job(Job.objects.get().pk))
    page.get_by_text("Trying ways round").wait_for()
    axe_clean(page)
    seen.set()
    page.get_by_role("heading", name="What to type").wait_for()
    worker.join(LONGEST_S)
    assert page.evaluate("window.stillHere"), "the page was loaded anew"
    assert page.locator("svg.chart").count() == 1
    assert page.locator(".legs tbody tr").count() == len(Course.objects.get().actions)
    axe_clean(page)


def ask_for_the_simplest(page: Any, most_steps: str) -> threading.Thread:
    """Ask by keyboard, and have the planner at work."""
    page.get_by_label("Simplest").check()
    page.get_by_label("At most so many steps to type").fill(most_steps)
    page.get_by_role("button", name="Find a course").press("Enter")
    page.get_by_text("Waiting for its turn").wait_for()
    return beside(lambda: running.run_job(Job.objects.latest("pk").pk))


def test_a_limit_of_steps_is_refused_with_how_many_it_takes_and_kept_when_it_can_be(site, tiers, open_page, axe_clean):
    """The planner itself answers: to three steps with a refusal, to as many as that names with a course."""
    page = open_page(site.as_coach, ask_page(site, tiers))
    worker = ask_for_the_simplest(page, "3")
    page.get_by_role("heading", name="No course").wait_for()
    worker.join(LONGEST_S)
    refused = page.get_by_text("No course of at most 3 steps was found").inner_text()
    axe_clean(page)
    said = re.search(r"Allow (\d+) steps", refused)
    assert said, refused
    page.get_by_role("link", name="Ask otherwise").press("Enter")
    worker = ask_for_the_simplest(page, said[1])
    page.get_by_role("heading", name="What to type").wait_for()
    worker.join(LONGEST_S)
    assert page.locator(".legs tbody tr").count() == len(Course.objects.get().actions) == int(said[1])


def test_a_running_search_is_stopped_by_its_button(site, tiers, open_page, monkeypatch):
    def until_stopped(job_input: dict, progress: JobControl) -> dict:
        from motion.errors import CancelledError

        until(progress.stopped, "the coach to stop it")
        raise CancelledError("cancelled", "Stopped.")

    monkeypatch.setitem(KINDS, "plan_course", Kind(until_stopped, keep_plans))
    page = open_page(site.as_coach, ask_page(site, tiers))
    page.get_by_role("button", name="Find a course").click()
    page.get_by_text("Waiting for its turn").wait_for()
    worker = beside(lambda: running.run_job(Job.objects.get().pk))
    page.get_by_text("Looking for a course").wait_for()
    page.get_by_role("button", name="Stop").click()
    page.get_by_role("heading", name="Stopped").wait_for()
    worker.join(LONGEST_S)


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("width", [1280, 820, 360, 320])
def test_the_course_page_reads_at_every_width(site, tiers, open_page, axe_clean, width, dark):
    course = planned(site.team_a, tiers[0], site.robot_a)
    page = open_page(site.as_coach, reverse("course", args=[course.pk]), width=width, dark=dark)
    axe_clean(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_showing_to_the_team_and_taking_back(site, tiers, open_page):
    course = planned(site.team_a, tiers[0], site.robot_a)
    page = open_page(site.as_coach, reverse("course", args=[course.pk]))
    page.get_by_role("button", name="Show it to the team").click()
    page.get_by_text("sees plan 1 on its tablet now").wait_for()
    page.get_by_role("button", name="Take it back").click()
    page.get_by_text("no longer sees plan 1").wait_for()


@pytest.mark.parametrize("sheet", [("A4", "210mm", "297mm"), ("letter", "8.5in", "11in")])
def test_each_card_prints_on_one_page(site, tiers, open_page, sheet):
    """One page a team, on either paper: counted in the PDF that Chromium makes of it."""
    for team, robot in ((site.team_a, site.robot_a), (site.team_b, make.RobotFactory(club=site.club, name="Kit 2"))):
        course = planned(team, tiers[0], robot)
        Course.objects.filter(pk=course.pk).update(shown_to_team_at=make.NOW)
    page = open_page(site.as_coach, reverse("tier_cards", args=[tiers[0].tier_id]))
    pdf = page.pdf(width=sheet[1], height=sheet[2], prefer_css_page_size=False)
    assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) == 2


@pytest.mark.parametrize("sheet", [("A4", "210mm", "297mm"), ("letter", "8.5in", "11in")])
@pytest.mark.parametrize("rows", [8, 9, 10, 11, 12, 16, 20])
def test_a_card_with_all_its_cautions_stays_on_its_page(site, tiers, open_page, sheet, rows):
    """Measured again, rebuilt, and another version of the mission: the most that a card has to say beside its legs."""
    course = planned(site.team_a, tiers[0], site.robot_a, legs_home=rows - 6)
    Course.objects.filter(pk=course.pk).update(numbers=course.numbers | {"distance_scale": 0.97}, origin="team")
    site.robot_a.changed_at = make.NOW.replace(year=2027)
    site.robot_a.save()
    newer = make.MissionVersionFactory(mission=tiers[0].version.mission, number=2)
    make.TierVersionFactory(tier=tiers[0].tier, version=newer, obstacles=[make.GRAVEL_BANK])
    page = open_page(site.as_coach, reverse("tier_cards", args=[tiers[0].tier_id]))
    expect(page.locator(".leaf .caution")).to_have_count(3)
    expect(page.locator(".leaf .legs tbody tr")).to_have_count(rows)
    pdf = page.pdf(width=sheet[1], height=sheet[2], prefer_css_page_size=False)
    assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) == 1
