"""A new coach's first evening, from an invitation to the first run on the board, by what the pages show.

Used by the test of that name, with a pointer, by keys alone and by the accessibility tree alone, and by
``docs.first_evening``, which takes pictures on the way and times it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tests.browser.hands import Count, Hands

PASSWORD = "lantern-oyster-pontoon-quay"
CLUB, EMAIL = "Pontoon Makers", "lead@pontoon.example"
ROBOT = {"Name": "Kit 1", "Axle to front": "14", "Axle to back": "6", "Width": "15", "Wheel diameter": "5.6", "Track width": "11.2"}  # fmt: skip
STRAIGHT_RUNS = [("100", "97.2"), ("100", "97.6"), ("100", "96.9"), ("150", "145.8"), ("150", "146.3")]
ROSTER = "First name;Team\nRobin;Curlew\nWren;Curlew"
#: Typed once into a tablet, such as this.
TABLETS_ADDRESS = "192.168.178.20:8000/team/"

#: Called with a name and the page when there is something worth a picture.
Look = Callable[[str, Any], None]


@dataclass(frozen=True)
class Part:
    """A part of the evening: what it is, and what hands did for it."""

    words: str
    count: Count


def first_evening(coach: Hands, tablet: Hands, link: str, look: Look) -> list[Part]:
    """``link`` makes whoever opens it the lead coach of an empty club."""
    parts: list[Part] = []

    def part(words: str) -> None:
        parts.append(Part(words, coach.count + tablet.count))
        coach.count, tablet.count = Count(), Count()

    _join(coach, link)
    part("Open the link, say a name, choose a password")
    look("first-steps", coach.page)
    _measure_a_table(coach)
    part("Write a table's size down")
    _bring_in_the_robot(coach)
    part("Describe a robot, and five straight runs of it")
    _bring_in_the_team(coach)
    part("Paste a roster, give the team its robot")
    _publish_a_mission(coach, look)
    part("Make a mission, have it checked, publish it")
    _go_home(coach, "Open for Curlew")
    coach.follow("^Open for Curlew")
    coach.press("^Open", within="dialog")
    coach.page.locator("dialog[open]").wait_for(state="detached")
    part("Open its first tier for the team")
    _sign_the_tablet_in(coach, tablet)
    part("Sign the team's tablet in")
    _log_a_run(tablet)
    part("Log the first run")
    _go_home(coach, "1 of the last 1")
    look("first-board", coach.page)
    part("Look at the board")
    return parts


def _go_home(coach: Hands, to: str) -> None:
    coach.follow("helmroom", within="banner")
    coach.sees(to)


def _is_done(coach: Hands, step: str) -> None:
    """The list of first steps says so, on the page that the next one starts from."""
    _go_home(coach, "Until then, in this order")
    coach.page.locator(".first-steps li.done", has_text=step).wait_for()


def _join(coach: Hands, link: str) -> None:
    coach.open(link)
    coach.count.presses += 1
    coach.write("Your name", "Coach Glasswort")
    coach.write("A password", PASSWORD)
    coach.press("^Join$")
    coach.sees("Until then, in this order")


def _measure_a_table(coach: Hands) -> None:
    coach.follow("Measure your tables")
    coach.write("Name", "Table A")
    coach.write("Long edge", "200")
    coach.write("Short edge", "110")
    coach.press("^Add$")
    coach.sees("is added. The rota")
    _is_done(coach, "Measure your tables")


def _bring_in_the_robot(coach: Hands) -> None:
    coach.follow("Add your robots")
    for label, words in ROBOT.items():
        coach.write(label, words)
    coach.press("^Save$")
    coach.follow("Measure: straight runs")
    coach.write("Surface", "club table")
    for number, (told, measured) in enumerate(STRAIGHT_RUNS, 1):
        coach.write(f"Run {number}: told", told)
        coach.write(f"Run {number}: measured", measured)
    coach.press("Work it out")
    coach.press("Keep this calibration")
    coach.sees("Kept.")
    _is_done(coach, "Measure the first robot")


def _bring_in_the_team(coach: Hands) -> None:
    coach.follow("Add your teams")
    coach.follow("Roster from a spreadsheet")
    coach.write("Paste from a spreadsheet", ROSTER)
    coach.press("Look")
    coach.press("Add 2 children")
    coach.sees("2 children are added")
    _go_home(coach, "Until then, in this order")
    coach.follow("Give a team its robot")
    coach.follow("Kit 1")
    coach.choose("Goes to team", "Curlew")
    coach.press("^Give$")
    coach.sees("goes to")
    _is_done(coach, "Give a team its robot")


def _publish_a_mission(coach: Hands, look: Look) -> None:
    coach.follow("Draw and publish a mission")
    coach.follow("Make the first mission")
    coach.write("Title", "Lock gate")
    coach.press("Start drawing")
    coach.sees("Check and publish")
    look("first-mission", coach.page)
    coach.follow("Check and publish")
    coach.press("Check all tiers")
    coach.press("Publish version 1")
    coach.page.wait_for_url("**/missions/")


def _sign_the_tablet_in(coach: Hands, tablet: Hands) -> None:
    coach.follow("^Teams$", within="banner")
    coach.follow("^Curlew$")
    coach.press("New PIN, shown once")
    coach.sees("These PINs are shown now and never again")
    pin = coach.page.locator("dt:text-is('PIN') + dd").inner_text()
    code = coach.page.locator(".code").first.inner_text().replace(" ", "")
    tablet.open("/team/")
    tablet.count.letters += len(TABLETS_ADDRESS)
    tablet.write("Team code", code)
    tablet.write("PIN", pin)
    tablet.press("Open our team")
    tablet.page.wait_for_url("**/team/mission/")


def _log_a_run(tablet: Hands) -> None:
    tablet.follow("Log a run", within="navigation")
    tablet.write("Time of the run", "41.5")
    for number in range(tablet.page.locator(".pick.yes").count()):
        tablet.press("^Yes$", "radio", nth=number)
    tablet.press("Save this run")
    tablet.sees("Run 1 is saved")
