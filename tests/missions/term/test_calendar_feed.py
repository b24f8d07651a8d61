"""The calendar's address to the row and the log."""

from __future__ import annotations

import datetime as dt

from missions.models import CalendarFeed
from missions.term.services.plan_term import digest_of, make_feed, stop_feed
from tests import factories as make
from tests.log import noted_by

NOW = make.NOW
DAY = dt.timedelta(days=1)


def test_a_feed_has_one_address_a_club_that_only_its_digest_tells(cast):
    theirs = make_feed(cast.other_coach, now=NOW)
    first = make_feed(cast.coach, now=NOW)
    tokens = []
    act = lambda: tokens.append(make_feed(cast.assistant, now=NOW + DAY))  # noqa: E731
    assert noted_by(act, cast.club, NOW + DAY) == ["assistant made calendar address"]
    feed = CalendarFeed.objects.get(club=cast.club)
    assert (feed.token_digest, feed.made_at, feed.made_by) == (digest_of(tokens[0]), NOW + DAY, cast.assistant)
    assert tokens[0] != first and len(tokens[0]) == 43
    assert noted_by(lambda: stop_feed(cast.coach, now=NOW), cast.club, NOW) == ["lead stopped calendar address"]
    assert CalendarFeed.objects.get().token_digest == digest_of(theirs)
