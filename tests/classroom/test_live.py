from __future__ import annotations

from django.http import HttpResponse
from django.test import RequestFactory

from classroom.live import live_etag, mark, unchanged
from tests import factories as make


def fragment(etag=None):
    headers = {"HX-Request": "true"} | ({"If-None-Match": etag} if etag else {})
    return RequestFactory().get("/", headers=headers)


def test_a_fragment_that_is_still_so_is_not_sent_again(db):
    club = make.ClubFactory()
    etag = live_etag(club, "board", 3)
    assert unchanged(fragment(), etag) is None
    assert unchanged(fragment(etag), etag).status_code == 304


def test_a_change_in_the_club_or_another_part_is_sent(db):
    club = make.ClubFactory()
    before = live_etag(club, "board", 3)
    assert live_etag(club, "board", 4) != before
    club.touch()
    club.refresh_from_db()
    assert unchanged(fragment(before), live_etag(club, "board", 3)) is None


def test_a_whole_page_is_never_answered_with_not_modified(db):
    etag = live_etag(make.ClubFactory(), "board")
    page = RequestFactory().get("/", headers={"If-None-Match": etag})
    assert unchanged(page, etag) is None


def test_no_cache_keeps_a_fragment_in_place_of_its_page():
    response = mark(HttpResponse(), '"1"')
    assert response["Cache-Control"] == "private, no-store"
    assert response["Vary"] == "HX-Request"
