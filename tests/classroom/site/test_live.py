from __future__ import annotations

import pytest
from django.test import RequestFactory

from classroom.site.live import answer_live, live_tag, news_tag
from tests import factories as make


@pytest.fixture
def club(db):
    return make.ClubFactory()


def ask(tag, *, held=None, fragment=True):
    headers = {"HX-Request": "true"} if fragment else {}
    if held:
        headers["If-None-Match"] = f'"{held}"'
    asked = []
    request = RequestFactory().get("/", headers=headers)
    response = answer_live(request, "error.html", tag, lambda: asked.append(1) or {"title": "t", "words": "w"})
    return response, bool(asked)


def test_a_fragment_that_is_still_so_is_not_worked_out_again(club):
    tag = live_tag(club, "board", 3)
    assert ask(tag)[0].status_code == 200
    response, worked = ask(tag, held=tag)
    assert (response.status_code, worked) == (304, False)


def test_a_change_in_the_club_or_another_part_is_sent(club):
    before = live_tag(club, "board", 3)
    assert live_tag(club, "board", 4) != before
    club.touch()
    club.refresh_from_db()
    assert ask(live_tag(club, "board", 3), held=before)[0].status_code == 200


def test_a_whole_page_is_never_answered_with_not_modified(club):
    tag = live_tag(club, "board")
    assert ask(tag, held=tag, fragment=False)[0].status_code == 200


def test_no_cache_gives_a_fragment_in_place_of_its_page(club):
    response, _ = ask(live_tag(club, "board"))
    assert response["Cache-Control"] == "private, no-store"
    assert response["Vary"] == "HX-Request"


def test_a_tag_that_compressing_has_made_weak_is_still_the_same(club):
    tag = live_tag(club, "board", 3)
    request = RequestFactory().get("/", headers={"HX-Request": "true", "If-None-Match": f'W/"{tag}"'})
    assert answer_live(request, "error.html", tag, dict).status_code == 304


def test_what_is_no_news_to_tablets_changes_live_pages_alone(club):
    before = live_tag(club), news_tag(club)
    club.touch(is_news=False)
    club.refresh_from_db()
    assert live_tag(club) != before[0] and news_tag(club) == before[1]
    club.touch()
    club.refresh_from_db()
    assert news_tag(club) != before[1]
