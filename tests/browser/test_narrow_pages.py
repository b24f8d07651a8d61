"""Nothing scrolls sideways on a telephone, inside its cards neither, and what belongs together stays on one line."""

from __future__ import annotations

import datetime as dt
import itertools
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from classroom.models import Team
from missions.readiness.services.evidence import refresh_evidence
from tests import factories as make
from tests.browser.test_board import ladder

__all__ = ["ladder"]

LONG = ("Neugierige Strandläufer und Austernf", "Donaudampfschifffahrtsboot", "المستكشفون الصغار")
#: What is wider than its place and scrolls there.
WIDER = """() => [...document.querySelectorAll('main *')].filter(e => e.checkVisibility()
  && /auto|scroll/.test(getComputedStyle(e).overflowX) && e.clientWidth && e.scrollWidth > e.clientWidth + 1
  && !e.matches('textarea, input, select')).map(e => e.className || e.tagName)"""
#: Words that are in two lines though the whole line has room for them.
BROKEN = """css => [...document.querySelectorAll(css)].filter(e => e.checkVisibility()).flatMap(e => {
  const walker = document.createTreeWalker(e, NodeFilter.SHOW_TEXT), broken = [];
  while (walker.nextNode()) for (const word of walker.currentNode.data.matchAll(/[^\\s-]+/g)) {
    const range = document.createRange();
    range.setStart(walker.currentNode, word.index);
    range.setEnd(walker.currentNode, word.index + word[0].length);
    if (new Set([...range.getClientRects()].map(r => Math.round(r.bottom))).size > 1) broken.push(word[0]);
  }
  return broken;
})"""


@pytest.fixture
def named(ladder: Any) -> Any:
    for number, name in enumerate(LONG):
        team = make.TeamFactory(club=ladder.club, name=name, order=20 + number)
        make.MembershipFactory(team=team, member__club=ladder.club, member__nickname="Maximilian-Alexander")
        progress = {"tier": ladder.editions[0].tier, "opened_at": timezone.now() - dt.timedelta(days=3)}
        make.ProgressFactory(team=team, **progress)
    for number in range(2):
        make.AttemptFactory(team=team, tier_version=ladder.editions[0], success=bool(number), made_at=timezone.now())
    refresh_evidence(team.progress.get(), timezone.now())
    for number in range(8):
        make.TeamFactory(club=ladder.club, name=f"Team {number}", order=40 + number)
    return ladder


@pytest.mark.parametrize("width", [360, 820, 1280])
def test_no_name_is_broken_within_a_word_and_nothing_scrolls_sideways(named: Any, open_page: Any, width: int) -> None:
    page = open_page(named.as_coach, "/", width=width)
    team = named.club.teams.get(name=LONG[1])
    for path in ("/", "/today/", "/teams/", "/families/", "/robots/", reverse("team", args=[team.pk])):
        page.goto(path)
        # A title of more letters than a telephone is wide has to go on below: h1 is left out.
        assert page.evaluate(BROKEN, "h2, h3, .name, .toggle, .to, th b, summary") == [], path
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
        assert page.evaluate(WIDER) == [], path


@pytest.mark.parametrize("lang", ["en", "de"])
@pytest.mark.parametrize("width", [820, 1280])
def test_what_a_cell_of_a_large_board_says_stays_in_its_cell(named: Any, open_page: Any, width: int, lang: str) -> None:
    """“Too few runs to tell” lay over the next tier's word."""
    named.club.locale = lang
    named.club.save()
    page = open_page(named.as_coach, "/", width=width)
    assert page.locator(".board-table .line").count() >= 9
    over = "all => all.filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.innerText)"
    assert page.eval_on_selector_all(".board-table .line td", over) == []


@pytest.mark.parametrize(("lang", "width"), [("en", 360), ("en", 820), ("de", 360), ("de", 820)])
@pytest.mark.parametrize("name", [LONG[0], LONG[2]])
def test_the_head_of_a_tablet_keeps_its_parts_apart(
    named: Any, open_page: Any, lang: str, width: int, name: str
) -> None:
    """A long name of a team lay under the word of the queue."""
    Team.objects.filter(pk=named.team_a.pk).update(name=f"{name} 2")
    named.club.locale = lang
    named.club.save()
    page = open_page(named.as_team_a, "/team/mission/", width=width, height=740, touch=True)
    boxes = page.evaluate(
        """() => [".team-name", ".kept", ".leave"].map(css => document.querySelector(css).getBoundingClientRect().toJSON())"""
    )  # all at one moment: the queue's word changes
    for left, right in itertools.pairwise(boxes):
        assert left["x"] + left["width"] <= right["x"] + 1
    bar = page.locator(".team-bar").bounding_box()
    assert boxes[0]["y"] >= bar["y"] and bar["height"] <= 64
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [360, 820])
def test_a_row_of_doors_keeps_its_height_whichever_is_open(ladder: Any, open_page: Any, width: int) -> None:
    page = open_page(ladder.as_team_a, "/team/mission/", width=width, touch=True)
    high = set()
    for path in ("/team/mission/", "/team/course/", "/team/log/", "/team/robot/"):
        page.goto(path)
        high.add(page.locator(".doors").bounding_box()["height"])
    assert len(high) == 1
