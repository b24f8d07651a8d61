"""The feed, read back by an independent library (icalendar), and its secret."""

from __future__ import annotations

import datetime as dt

import icalendar
import pytest
import time_machine
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from classroom.models import Session
from missions.models import CalendarFeed
from missions.term.rules.calendar import CalendarEvent, calendar_text
from missions.term.services.plan_term import (
    SessionTimes,
    add_sessions,
    cancel_session,
    edit_session,
    make_feed,
    stop_feed,
)
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc")) | st.sampled_from('\n,;\\:"'), max_size=200)
MOMENTS = st.datetimes(dt.datetime(2001, 1, 1), dt.datetime(2090, 1, 1)).map(
    lambda at: at.replace(microsecond=0, tzinfo=dt.UTC)
)


def event(**more):
    plain = {
        "uid": "5b0c1f0e-1f9a-5f0c-9a4f-1c1a1a1a1a1a",
        "starts_at": NOW,
        "ends_at": NOW + dt.timedelta(minutes=90),
        "summary": "Tide gate",
        "description": "",
        "place": "",
        "sequence": 0,
        "changed_at": NOW,
    }
    return CalendarEvent(**(plain | more))


def read(text: str):
    return icalendar.Calendar.from_ical(text)


@given(TEXT, TEXT, TEXT, MOMENTS, st.integers(1, 700), st.integers(0, 99))
def test_an_independent_reader_finds_what_was_written(summary, description, place, starts_at, minutes, sequence):
    ends_at = starts_at + dt.timedelta(minutes=minutes)
    written = calendar_text(
        "Saltmarsh",
        [
            event(
                summary=summary,
                description=description,
                place=place,
                starts_at=starts_at,
                ends_at=ends_at,
                sequence=sequence,
            )
        ],
    )
    (found,) = read(written).walk("VEVENT")
    assert str(found["SUMMARY"]) == summary
    assert str(found.get("DESCRIPTION", "")) == description
    assert str(found.get("LOCATION", "")) == place
    assert found["DTSTART"].dt == starts_at
    assert found["DTEND"].dt == ends_at
    assert int(found["SEQUENCE"]) == sequence


@given(TEXT)
def test_no_line_is_longer_than_75_octets_and_each_ends_in_crlf(words):
    written = calendar_text(words, [event(summary=words * 3)]).encode()
    lines = written.split(b"\r\n")
    assert lines[-1] == b""
    assert max(len(line) for line in lines) <= 75
    assert b"\n" not in written.replace(b"\r\n", b"")
    written.decode()


def test_a_calendar_begins_and_ends_as_rfc_5545_asks():
    calendar = read(calendar_text("Saltmarsh Makers", [event()]))
    assert calendar["VERSION"] == "2.0"
    assert "PRODID" in calendar
    (found,) = calendar.walk("VEVENT")
    assert {"UID", "DTSTAMP", "DTSTART"} <= set(found)
    assert not calendar.errors and not found.errors


@pytest.fixture
def term(cast):
    return make.TermFactory(club=cast.club)


def times(day, starts=(16, 0), ends=(17, 30)):
    return SessionTimes(day, dt.time(*starts), dt.time(*ends), "Boat house, upper floor")


def feed_of(client, token):
    with time_machine.travel(NOW, tick=False):
        return client.get(reverse("term_calendar", args=[token]))


def test_the_feed_holds_every_session_at_its_true_moment_over_the_change_of_clocks(cast, term):
    make.mission_with_tiers(cast.club)
    made = add_sessions(term, times(dt.date(2026, 10, 18)), [], every_week=True, now=NOW)
    answer = feed_of(cast.as_nobody, make_feed(cast.coach, now=NOW))
    assert answer.headers["Content-Type"].startswith("text/calendar")
    assert "no-store" in answer.headers["Cache-Control"]
    events = read(page_of(answer)).walk("VEVENT")
    assert {e["DTSTART"].dt for e in events} == {session.starts_at for session in made}
    assert len({str(e["UID"]) for e in events}) == len(made)
    assert {str(e["LOCATION"]) for e in events} == {"Boat house, upper floor"}


def test_a_change_raises_the_sequence_and_a_cancelled_session_says_so_under_its_own_uid(cast, term):
    (session,) = add_sessions(term, times(dt.date(2026, 11, 25)), [], every_week=False, now=NOW)
    token = make_feed(cast.coach, now=NOW)
    (before,) = read(page_of(feed_of(cast.as_nobody, token))).walk("VEVENT")
    session = Session.objects.get(pk=session.pk)
    edit_session(session, times(dt.date(2026, 11, 26)), [], now=NOW)
    cancel_session(session, cast.coach, "Hall is flooded", now=NOW + dt.timedelta(hours=1))
    (after,) = read(page_of(feed_of(cast.as_nobody, token))).walk("VEVENT")
    assert after["UID"] == before["UID"]
    assert int(after["SEQUENCE"]) == int(before["SEQUENCE"]) + 2
    assert str(after["STATUS"]) == "CANCELLED"
    assert after["DTSTART"].dt.date() == dt.date(2026, 11, 26)


def test_the_feed_names_no_child_and_no_team(cast, term):
    add_sessions(term, times(dt.date(2026, 11, 25)), [], every_week=False, now=NOW)
    text = page_of(feed_of(cast.as_nobody, make_feed(cast.coach, now=NOW)))
    for name in ("Robin", "Linnet", "Curlew", "Plover"):
        assert name not in text


def test_only_the_newest_secret_opens_the_feed_and_only_its_digest_is_kept(cast, term):
    old, new = make_feed(cast.coach, now=NOW), make_feed(cast.coach, now=NOW)
    assert feed_of(cast.as_coach, old).status_code == 404
    assert feed_of(cast.as_nobody, new).status_code == 200
    assert new not in CalendarFeed.objects.get().token_digest
    stop_feed(cast.coach, now=NOW)
    assert feed_of(cast.as_nobody, new).status_code == 404


def test_the_address_is_shown_once(cast, term):
    cast.as_coach.post(reverse("calendar_link"), {"do": "make"})
    assert ".ics" in cast.as_coach.get(reverse("term")).context["feed_url"]
    assert cast.as_coach.get(reverse("term")).context["feed_url"] == ""


def test_another_clubs_sessions_are_not_in_the_feed(cast, term):
    stranger = make.TermFactory()
    add_sessions(stranger, times(dt.date(2026, 11, 25)), [], every_week=False, now=NOW)
    answer = feed_of(cast.as_nobody, make_feed(cast.coach, now=NOW))
    assert read(page_of(answer)).walk("VEVENT") == []
