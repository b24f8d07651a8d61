"""A team is told on its mission's page where and when its turns are, now and next."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from missions.day.pages.team_turn import team_turn, team_turns
from missions.models import RotaTurn, SessionRun
from planning.team.pages.what_now import turns_in_words
from tests import factories as make

pytestmark = pytest.mark.django_db
MINUTE = dt.timedelta(minutes=1)
STARTS = dt.datetime(2026, 11, 18, 15, 0, tzinfo=dt.UTC)


@pytest.fixture
def day(cast):
    """Turns of twenty minutes from 15:00 UTC on: the first and the third are Curlew's."""
    cast.session = make.SessionFactory(
        term=make.TermFactory(club=cast.club), starts_at=STARTS, ends_at=STARTS + 90 * MINUTE
    )
    SessionRun.objects.create(session=cast.session, started_at=STARTS, slot_minutes=20, changed_at=STARTS)
    tables = [make.TableFactory(club=cast.club, name=name) for name in ("Table A", "Table B")]
    tier = make.mission_with_tiers(cast.club)[1][0].tier
    for slot, table, team in ((0, 0, cast.team_a), (2, 1, cast.team_a), (1, 0, cast.team_b)):
        RotaTurn.objects.create(session=cast.session, slot=slot, table=tables[table], team=team, tier=tier)
    return cast


def at(day, minutes: float) -> str:
    """In UTC, as nobody has said which clock is the reader's."""
    with timezone.override(dt.UTC):
        return turns_in_words(*team_turns(day.team_a, STARTS + minutes * MINUTE))


def test_the_turn_that_is_on_and_the_next_are_said_with_table_and_time(day):
    assert at(day, 5) == "Your turn at Table A until 15:20. Then again at Table B from 15:40."
    assert at(day, 20) == "Your next turn: Table B, 15:40."
    assert at(day, 45) == "Your turn at Table B until 16:00."
    assert at(day, 61) == ""


def test_a_turn_of_another_day_is_not_spoken_of_nor_one_of_a_session_that_is_over(day):
    assert team_turns(day.team_a, STARTS - dt.timedelta(days=1)) == (None, None)
    assert team_turn(day.team_a, STARTS + 5 * MINUTE) is not None
    SessionRun.objects.update(stopped_at=STARTS + 10 * MINUTE)
    assert team_turns(day.team_a, STARTS + 15 * MINUTE) == (None, None)
