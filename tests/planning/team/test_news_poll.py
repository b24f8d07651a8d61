"""A tablet that asks for news again and again: 304 until there is some, and few questions to the database for that."""

from __future__ import annotations

import datetime as dt
import re
import uuid

import time_machine
from django.core.cache import caches
from django.urls import reverse
from django.utils import timezone

from missions.day.pages.team_turn import turn_mark
from missions.models import RotaTurn, SessionRun
from missions.runs.services.record_attempt import AttemptInput, record_attempt
from planning.jobs.services.hold_job import claim_job, finish_job
from tests import factories as make

PART = {"HX-Request": "true"}


def seat_of(cast):
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[0].tier)
    return editions


def log_run(cast, edition):
    now = timezone.now()
    outcomes = {criterion["key"]: True for criterion in edition.criteria}
    record_attempt(cast.team_a, AttemptInput(uuid.uuid4(), edition.tier_id, now, 40.0, outcomes), now=now)


def poll(cast, tag=""):
    tier = cast.team_a.progress.order_by("pk").first().tier_id
    return cast.as_team_a.get(
        f"{reverse('team_news')}?tier={tier}", headers=PART | ({"If-None-Match": tag} if tag else {})
    )


def test_a_further_run_is_no_news_and_an_opened_tier_is(cast):
    editions = seat_of(cast)
    log_run(cast, editions[0])
    tag = poll(cast).headers["ETag"]
    log_run(cast, editions[0])
    assert poll(cast, tag).status_code == 304
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier, opened_at=timezone.now())
    cast.club.touch()
    changed = poll(cast, tag)
    assert changed.status_code == 200 and "has opened" in changed.content.decode()


def test_a_course_that_is_ready_is_no_news_until_it_is_shown(cast):
    editions = seat_of(cast)
    log_run(cast, editions[0])
    job = make.JobFactory(club=cast.club, team=cast.team_a, tier_version=editions[0])
    tag = poll(cast).headers["ETag"]
    hold = claim_job(job.pk, now=timezone.now(), lease_s=15, deadline_s=120)
    before = cast.club.live_version
    assert finish_job(hold, {}, now=timezone.now(), keep=lambda *_: None)
    assert poll(cast, tag).status_code == 304
    cast.club.refresh_from_db()
    assert cast.club.live_version > before, "the coach's pages are told"
    make.CourseFactory(team=cast.team_a, tier_version=editions[0], shown_to_team_at=timezone.now())
    cast.club.touch()
    assert poll(cast, tag).status_code == 200


def poll_from(client, page):
    """As the page would ask first (``static/site/news.js``)."""
    ((address, tag),) = re.findall(r'data-news="([^"]+)"\s+data-tag="(\w+)"', page.content.decode())
    return client.get(address, headers=PART | {"If-None-Match": f'"{tag}"'})


def test_a_page_that_has_drawn_the_news_is_told_none_until_there_is_some(cast):
    editions, client = seat_of(cast), cast.as_team_a
    log_run(cast, editions[0])
    with_tier = client.get(f"{reverse('team_mission')}?tier={editions[0].tier_id}")
    without = client.get(reverse("team_mission"))
    assert poll_from(client, with_tier).status_code == poll_from(client, without).status_code == 304
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier, opened_at=timezone.now())
    cast.club.touch()
    told = poll_from(client, with_tier)
    assert told.status_code == 200 and "has opened" in told.content.decode()


def test_a_quiet_poll_asks_for_the_session_and_the_seat_alone(cast, django_assert_num_queries):
    editions = seat_of(cast)
    log_run(cast, editions[0])
    tag = poll(cast).headers["ETag"]
    with django_assert_num_queries(3):  # one is the test's own, for the tier
        assert poll(cast, tag).status_code == 304


def session_begun(cast, begins):
    session = make.SessionFactory(
        term=make.TermFactory(club=cast.club, starts_on=begins.date() - dt.timedelta(days=9)),
        starts_at=begins,
        ends_at=begins + dt.timedelta(minutes=90),
    )
    SessionRun.objects.create(session=session, started_at=begins, changed_at=begins, slot_minutes=10)
    return session


def test_the_turn_that_begins_is_told_when_it_begins(cast):
    editions = seat_of(cast)
    begins = timezone.now().replace(microsecond=0)
    session = session_begun(cast, begins)
    table = make.TableFactory(club=cast.club)
    RotaTurn.objects.create(session=session, slot=1, table=table, team=cast.team_a, tier=editions[0].tier)
    minutes = dt.timedelta(minutes=1)
    with time_machine.travel(begins + 9.7 * minutes, tick=False):
        tag = poll(cast).headers["ETag"]
    with time_machine.travel(begins + 9.9 * minutes, tick=False):
        assert poll(cast, tag).status_code == 304
    with time_machine.travel(begins + 10 * minutes, tick=False):
        assert poll(cast, tag).status_code == 200


def test_the_rota_is_read_once_for_all_tablets_of_a_club(cast, django_assert_num_queries):
    begins = timezone.now().replace(microsecond=0)
    session = session_begun(cast, begins)
    edition, other = seat_of(cast)[0], make.TeamFactory(club=cast.club)
    for team in (cast.team_a, other):
        RotaTurn.objects.create(
            session=session, slot=1, table=make.TableFactory(club=cast.club), team=team, tier=edition.tier
        )
    before, during, after = (begins + minutes * dt.timedelta(minutes=1) for minutes in (9, 11, 21))
    caches["here"].clear()
    assert turn_mark(cast.team_a, before) == ""
    own = turn_mark(cast.team_a, during)
    with django_assert_num_queries(0):
        others = turn_mark(other, during)
    assert own and others and own != others
    assert turn_mark(other, after) == ""
