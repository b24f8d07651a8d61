"""Families' words one after the other: who is due, one press each, nothing approved that nobody saw."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import time_machine

from classroom.families.share_summary import approved_words, words_mark, write_words
from missions.family.drafts import due
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
WORDS = {"learnt": "Tape", "working_on": "Turns", "ask_at_home": "Why?"}


@pytest.fixture(autouse=True)
def at_now():
    with time_machine.travel(NOW, tick=False):
        yield


def test_due_are_children_without_words_of_the_last_two_weeks(cast):
    write_words(cast.member_a, cast.coach, approve=True, now=NOW - dt.timedelta(days=14), **WORDS)
    write_words(cast.member_b, cast.coach, approve=True, now=NOW - dt.timedelta(days=13), **WORDS)
    assert [row.member for row in due(cast.club, NOW)] == [cast.member_a]


def test_thirty_children_take_thirty_presses(cast):
    for _ in range(28):
        make.MembershipFactory(team=cast.team_a)
    client, presses, page = cast.as_coach, 0, page_of(cast.as_coach.get("/families/queue/"))
    assert "30 to go" in page
    while found := re.search(r'action="(/families/queue/\d+/)"', page):
        field = re.compile(r'name="(seen|learnt|working_on|ask_at_home)"(?:[^>]* value="([^"]*)"|[^>]*>\s*([^<]*))')
        typed = {name: value or text for name, value, text in field.findall(page)}
        page = page_of(client.post(found[1], typed | {"do": "approve"}, follow=True))
        presses += 1
    assert presses == 30 and due(cast.club, NOW) == [] and "All families have words" in page


def test_a_skipped_child_comes_again(cast):
    page = page_of(cast.as_coach.get(f"/families/queue/?after={cast.member_a.pk}"))
    assert "Linnet" in page and "1 to go" in page
    page = page_of(cast.as_coach.get(f"/families/queue/?after={cast.member_b.pk}"))
    assert "2 children were skipped" in page


def test_empty_or_changed_words_are_not_approved(cast):
    url = f"/families/queue/{cast.member_a.pk}/"
    seen = words_mark(cast.member_a)
    assert cast.as_coach.post(url, WORDS | {"learnt": "", "seen": seen, "do": "approve"}).status_code == 422
    write_words(cast.member_a, cast.assistant, approve=False, now=NOW, **WORDS)
    assert cast.as_coach.post(url, WORDS | {"seen": seen, "do": "approve"}).status_code == 409
    assert approved_words(cast.member_a) is None


def test_a_club_without_children_is_sent_to_its_teams(cast):
    page = page_of(cast.as_other_coach.get("/families/queue/"))
    assert "No children yet" in page and "All families have words" not in page
    assert re.search(r'<a class="btn go" href="/teams/">To the teams</a>', page)
