"""Both walls: letters that are read from six metres, whole names, and screens that take turns when not all fits."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from missions.models import RotaTurn
from missions.readiness.services.evidence import refresh_evidence
from tests import factories as make
from tests.browser.conftest import until_on
from tests.browser.test_board import ladder
from tests.browser.test_two_coaches import day

__all__ = ["day", "ladder"]

#: A capital is a two hundredth of six metres high on a picture that is a metre and a fifth wide.
SHARE = 6000 / 200 / 1200
#: As wide as letters get in a name that a team may have: 40 of them, in one word, in two, from right to left.
NAMES = ("Donaudampfschifffahrtsgesellschaftsboot", "Neugierige Strandläufer", "المستكشفون الصغار", "Knots")
PICTURES = [(1024, 768), (1280, 800), (1920, 1080)]
#: What is shown, of these: its words, how high a capital of it is as a share of the width, and which words are in two lines.
SEEN = """css => [...document.querySelectorAll(css)].filter(e => e.checkVisibility()).map(e => {
  const style = getComputedStyle(e), brush = document.createElement('canvas').getContext('2d');
  brush.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
  const high = brush.measureText('H').actualBoundingBoxAscent / document.documentElement.clientWidth;
  const broken = [], walker = document.createTreeWalker(e, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) for (const word of walker.currentNode.data.matchAll(/\\S+/g)) {
    const range = document.createRange();
    range.setStart(walker.currentNode, word.index);
    range.setEnd(walker.currentNode, word.index + word[0].length);
    if (new Set([...range.getClientRects()].map(r => Math.round(r.bottom))).size > 1) broken.push(word[0]);
  }
  return {words: e.innerText.trim(), high, broken};
})"""


def walked(page: Any, css: str, height: int) -> dict[str, int]:
    """Every screen of the wall looked at, one after the other: on how many of them each of these words is."""
    found: dict[str, int] = {}
    said = page.locator("[data-wall-said]")
    first, many = said.inner_text(), 0
    while True:
        for one in page.evaluate(SEEN, css):
            assert one["high"] >= SHARE, f"{one} is too small on {said.inner_text()}"
            assert one["broken"] == [], said.inner_text()
            found[one["words"]] = found.get(one["words"], 0) + 1
        assert page.evaluate("document.documentElement.scrollHeight") <= height, said.inner_text()
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        assert page.evaluate("[...document.querySelectorAll('.scroll')].every(e => e.scrollWidth <= e.clientWidth + 1)")
        many += 1
        assert many < 60, "the screens do not come to an end"
        if first:
            page.locator("[data-wall-next]").click()
        if said.inner_text() == first:
            return found


@pytest.fixture
def crowd(ladder: Any) -> Any:
    """Sixteen teams, four of them with long names, and six tiers with runs."""
    now = timezone.now()
    mission = ladder.mission
    for order, name in ((4, "Against the clock"), (5, "With two obstacles"), (6, "From the far side")):
        tier = make.TierFactory(mission=mission, order=order, name=name)
        ladder.editions.append(make.TierVersionFactory(tier=tier, version=ladder.editions[0].version))
    for number in range(14):
        name = NAMES[number] if number < len(NAMES) else f"Team {number}"
        team = make.TeamFactory(club=ladder.club, name=name, order=20 + number)
        edition = ladder.editions[number % 6]
        progress = make.ProgressFactory(team=team, tier=edition.tier, opened_at=now - dt.timedelta(days=9))
        for run in range(12):
            at = now - dt.timedelta(days=1, minutes=20 - run)
            make.AttemptFactory(team=team, tier_version=edition, success=run % 2 == 0, made_at=at)
        refresh_evidence(progress, now)
    return ladder


@pytest.mark.parametrize(("width", "height"), PICTURES)
def test_every_team_and_tier_gets_onto_the_wall_in_letters_that_are_read(
    crowd: Any, open_page: Any, width: int, height: int
) -> None:
    page = open_page(crowd.as_coach, reverse("projector", args=[crowd.mission.pk]), width=width, height=height)
    expect(page.locator("[data-wall-said]")).to_contain_text("Screen 1 of")
    names = walked(page, ".wall-table tbody th", height)
    assert set(names) == set(crowd.club.teams.values_list("name", flat=True))
    assert len(set(names.values())) == 1, "each team is seen with each of its tiers, and equally often"
    tiers = walked(page, ".wall-table thead th, .wall-table .chip", height)
    assert {edition.tier.name for edition in crowd.editions} <= set(tiers)


def test_few_teams_stand_on_one_screen_and_nothing_takes_turns(ladder: Any, open_page: Any) -> None:
    page = open_page(ladder.as_coach, reverse("projector", args=[ladder.mission.pk]))
    assert set(walked(page, ".wall-table tbody th", 800)) == {"Curlew", "Plover"}
    assert page.locator("[data-wall-said]").inner_text() == ""
    expect(page.locator("[data-wall-next]")).to_be_hidden()


def test_above_a_demonstrations_wall_stands_that_it_is_invented_and_all_of_it_is_on_the_screen(
    ladder: Any, open_page: Any
) -> None:
    ladder.club.is_demo = True
    ladder.club.save()
    page = open_page(ladder.as_coach, reverse("projector", args=[ladder.mission.pk]))
    expect(page.get_by_text("nothing here is real")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollHeight") == 800


@pytest.mark.parametrize("lang", ["es", "de"])
def test_the_wall_takes_turns_in_the_clubs_language(crowd: Any, open_page: Any, lang: str) -> None:
    crowd.club.locale = lang
    crowd.club.save()
    page = open_page(crowd.as_coach, reverse("projector", args=[crowd.mission.pk]))
    expect(page.locator("[data-wall-said]")).to_contain_text({"es": "Pantalla 1 de", "de": "Ansicht 1 von"}[lang])
    walked(page, ".wall-table :is(th, .chip)", 800)


def test_a_wall_goes_on_by_itself_until_it_is_paused(crowd: Any, open_page: Any) -> None:
    page = open_page(crowd.as_coach, "/today/")
    page.clock.install()
    page.goto(reverse("projector", args=[crowd.mission.pk]))
    said = page.locator("[data-wall-said]")
    expect(said).to_contain_text("Screen 1 of")
    page.clock.run_for(10_000)
    expect(said).to_contain_text("Screen 2 of")
    page.get_by_role("button", name="Pause refreshing").click()
    page.clock.run_for(60_000)
    assert "Screen 2 of" in said.inner_text()


def test_news_leave_a_wall_on_the_screen_that_it_shows(crowd: Any, open_page: Any) -> None:
    page = open_page(crowd.as_coach, reverse("projector", args=[crowd.mission.pk]))
    page.locator("[data-wall-next]").click()
    said = page.locator("[data-wall-said]").inner_text()
    assert "Screen 2 of" in said
    before = page.locator("#board").get_attribute("data-live")
    crowd.club.touch()
    until_on(page, lambda: page.locator("#board").get_attribute("data-live") != before, "the wall to be made anew")
    assert page.locator("[data-wall-said]").inner_text() == said


def test_without_scripts_all_teams_stand_one_below_the_other(crowd: Any, open_page: Any) -> None:
    page = open_page(crowd.as_coach, reverse("projector", args=[crowd.mission.pk]), java_script_enabled=False)
    expect(page.locator("[data-wall-item]:visible")).to_have_count(16)


@pytest.mark.parametrize(("width", "height"), PICTURES)
@pytest.mark.parametrize("names", [NAMES, ("Ruff", "Smew", "Gannet", "Redshank")], ids=["long names", "short names"])
def test_every_table_gets_onto_the_wall_of_a_day_in_letters_that_are_read(
    day: Any, open_page: Any, names: tuple[str, ...], width: int, height: int
) -> None:
    """Nine tables; who plays there comes after one another on three of them."""
    session, tier = day.world.session, day.world.tiers[0].tier
    teams = [make.TeamFactory(club=day.club, name=name, order=30) for name in names]
    for team in teams:
        make.kit_out(team)
    for number in range(6):
        table = make.TableFactory(club=day.club, name=f"Table {number + 4}", order=50 + number)
        if number < len(teams):
            for slot in range(9):
                team = teams[(number + slot) % len(teams)]
                RotaTurn.objects.create(session=session, slot=slot, table=table, team=team, tier=tier)
    page = open_page(day.as_coach, reverse("session_wall", args=[session.pk]), width=width, height=height)
    expect(page.locator("[data-wall-said]")).to_contain_text("Screen 1 of")
    css = ".wall-tables h2, .wall-now b, .wall-next b, .wall-clock h1, .wall-left b"
    seen = walked(page, css, height)
    assert set(names) | set(day.club.tables.values_list("name", flat=True)) <= set(seen)
