"""From an empty installation to the first run on the board, through the pages alone, as a new coach and a first team."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection
from playwright.sync_api import Page, expect

from planning.jobs.services.run_job import run_job
from planning.models import Job
from tests.patience import LONGEST_S

PASSWORD = "lantern-oyster-pontoon-quay"


@pytest.fixture
def worker(transactional_db: None) -> Iterator[None]:
    """What the background worker does: one waiting job after the other."""
    ended = threading.Event()

    def work() -> None:
        try:
            while not ended.wait(0.2):
                for key in Job.objects.filter(state="waiting").values_list("pk", flat=True):
                    run_job(key)
        finally:
            connection.close()

    thread = threading.Thread(target=work)
    thread.start()
    yield
    ended.set()
    thread.join(LONGEST_S)


def press(page: Page, name: str | re.Pattern[str]) -> None:
    page.locator("main").get_by_role("button", name=name).click()


def fill(page: Page, **values: str) -> None:
    for name, value in values.items():
        page.fill(f"main [name={name}]", value)


def step(page: Page, words: str) -> None:
    """Follow one of the first steps from the first page."""
    page.goto("/")
    page.get_by_role("link", name=words).click()


def is_done(page: Page, words: str) -> None:
    page.goto("/")
    expect(page.locator(".first-steps li.done", has_text=words)).to_have_count(1)


def bring_in_the_robot(page: Page) -> None:
    step(page, "Add your robots")
    fill(page, name="Kit 1", ahead="14", behind="6", width="15", wheel_diameter="5.6", track_width="11.2")
    press(page, "Save")
    page.get_by_role("link", name="Measure: straight runs").click()
    fill(page, surface="club table")
    for i, (told, measured) in enumerate([(100, 97.2), (100, 97.6), (100, 96.9), (150, 145.8), (150, 146.3)]):
        fill(page, **{f"run-{i}-commanded": str(told), f"run-{i}-measured": str(measured)})
    press(page, "Work it out")
    press(page, "Keep this calibration")
    is_done(page, "Measure the first robot")


def bring_in_the_team(page: Page) -> None:
    step(page, "Add your teams")
    page.get_by_role("link", name="Roster from a spreadsheet").click()
    page.locator("main textarea").fill("First name;Team\nRobin;Curlew\nWren;Curlew")
    press(page, re.compile("Look"))
    press(page, re.compile("Add 2 children"))
    step(page, "Give a team its robot")
    page.get_by_role("link", name="Kit 1").click()
    page.select_option("main [name=team]", label="Curlew")
    press(page, "Give")
    is_done(page, "Give a team its robot")


def publish_a_mission(page: Page) -> None:
    step(page, "Draw and publish a mission")
    page.get_by_role("link", name="Make the first mission").click()
    fill(page, title="Lock gate")
    press(page, "Start drawing")
    page.get_by_role("link", name=re.compile("Check and publish")).click()
    press(page, "Check all tiers")
    press(page, "Publish version 1")
    page.wait_for_url("**/missions/")


def sign_the_tablet_in(coach: Page, tablet: Page) -> None:
    coach.goto("/teams/")
    coach.get_by_role("link", name="Curlew", exact=True).click()
    press(coach, "New PIN, shown once")
    expect(coach.locator("main")).to_contain_text("These PINs are shown now and never again")
    pin = coach.locator("dt:text-is('PIN') + dd").inner_text()
    code = coach.locator(".code").first.inner_text().replace(" ", "")
    tablet.fill("main [name=code]", code)
    tablet.fill("main [name=pin]", pin)
    press(tablet, "Open our team")
    tablet.wait_for_url("**/team/mission/")


def test_a_new_club_gets_to_its_first_run_through_the_pages_alone(worker, open_page):
    said = StringIO()
    call_command("open_club", "Pontoon Makers", "lead@pontoon.example", stdout=said)
    coach = open_page(path=re.search(r"/join/\S+", said.getvalue()).group())  # type: ignore[union-attr]
    fill(coach, name="Coach Glasswort", password=PASSWORD)
    press(coach, "Join")
    step(coach, "Measure your tables")
    fill(coach, name="Table A", width="200", depth="110")
    press(coach, "Add")
    is_done(coach, "Measure your tables")
    bring_in_the_robot(coach)
    bring_in_the_team(coach)
    publish_a_mission(coach)

    coach.goto("/")
    coach.get_by_role("link", name=re.compile("^Open for Curlew")).click()
    coach.get_by_role("dialog").get_by_role("button", name=re.compile("Open")).click()
    expect(coach.get_by_role("dialog")).to_have_count(0)
    tablet = open_page(path="/team/", width=820, height=1180, touch=True)
    sign_the_tablet_in(coach, tablet)
    tablet.get_by_role("link", name="Log a run").first.click()
    fill(tablet, duration="41.5")
    for yes in tablet.locator(".pick.yes").all():
        yes.click()
    tablet.get_by_role("button", name="Save this run").click()
    expect(tablet.get_by_role("heading", name="Run 1 is saved")).to_be_visible()
    coach.goto("/")
    expect(coach.locator(".board-table")).to_contain_text("1 of the last 1")
