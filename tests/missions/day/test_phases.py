"""The parts of a session: set once for the term, counted from the start that a coach presses."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import time_machine
from django.urls import reverse

from classroom.errors import InputError
from missions.day.rules.phases import lay_out, phase_at, runs_among
from missions.day.services.plan_rota import clock_of, run_of, solve_rota
from missions.day.services.run_session import start_session, stop_session
from missions.models import RotaTurn
from missions.term.services.plan_phases import phases_mark, set_phases
from tests import factories as make
from tests.log import noted_by
from tests.pages import page_of

NOW = make.NOW
MINUTE = dt.timedelta(minutes=1)
PARTS = [("Welcome", 10), ("Story", 15), ("Runs at the tables", None), ("Tidy up", 5)]


def words_of(answer):
    return " ".join(re.sub(r"<[^>]*>", " ", page_of(answer)).split())


def plan(parts=PARTS):
    return [{"name": name, "minutes": minutes} for name, minutes in parts]


def test_the_runs_get_what_the_other_parts_leave_and_get_shorter_when_it_begins_late():
    phases = lay_out(plan(), NOW, NOW + 90 * MINUTE)
    assert [(p.name, (p.ends - p.starts) // MINUTE) for p in phases] == [
        ("Welcome", 10),
        ("Story", 15),
        ("Runs at the tables", 60),
        ("Tidy up", 5),
    ]
    late = lay_out(plan(), NOW + 40 * MINUTE, NOW + 90 * MINUTE)
    assert (runs_among(late).ends - runs_among(late).starts) // MINUTE == 20
    too_late = lay_out(plan(), NOW + 80 * MINUTE, NOW + 90 * MINUTE)
    assert max(phase.ends for phase in too_late) == NOW + 90 * MINUTE
    assert [phase.is_runs for phase in lay_out([], NOW, NOW + MINUTE)] == [True]


@pytest.mark.parametrize(
    ("minute", "now", "after"),
    [
        (-1, None, "Welcome"),
        (0, "Welcome", "Story"),
        (9, "Welcome", "Story"),
        (10, "Story", "Runs at the tables"),
        (84, "Runs at the tables", "Tidy up"),
        (85, "Tidy up", None),
        (90, None, None),
    ],
)
def test_one_part_is_on_and_one_is_next(minute, now, after):
    found = phase_at(lay_out(plan(), NOW, NOW + 90 * MINUTE), NOW + minute * MINUTE)
    assert tuple(phase.name if phase else None for phase in found) == (now, after)


@pytest.fixture
def planned(day):
    set_phases(day.session.term, day.coach, PARTS, now=NOW - 60 * MINUTE)
    day.session.term.refresh_from_db()
    return day


def test_turns_fill_the_part_of_the_runs(planned):
    clock = clock_of(run_of(planned.session, NOW))
    assert (clock.starts(0), clock.count) == (NOW + 25 * MINUTE, 6)


def test_the_clock_begins_when_a_coach_starts_the_session_and_not_by_itself(planned):
    ten_late = NOW + 10 * MINUTE
    with time_machine.travel(ten_late, tick=False):
        url = reverse("session", args=[planned.session.pk])
        page = words_of(planned.as_coach.get(url))
        assert "The clock begins when you press" in page and "first Welcome" in page
        assert "We begin soon" in words_of(planned.as_coach.get(reverse("session_wall", args=[planned.session.pk])))
        assert clock_of(run_of(planned.session, ten_late)).slot_at(ten_late) == -1
        start_session(planned.session, now=ten_late)
        page = words_of(planned.as_coach.get(url))
        assert "Welcome until 16:20 next 16:20 Story" in page
    with time_machine.travel(ten_late + 26 * MINUTE, tick=False):
        page = words_of(planned.as_coach.get(url))
        assert "Runs at the tables until 17:25 next 17:25 Tidy up" in page and "Turn 1 of 5" in page
        wall = words_of(planned.as_coach.get(reverse("session_wall", args=[planned.session.pk])))
        assert "Turn 1 of 5" in wall and "next 17:25 Tidy up" in wall


def test_the_live_part_is_new_when_the_next_part_begins(planned):
    start_session(planned.session, now=NOW)
    url, htmx = reverse("session", args=[planned.session.pk]), {"HX-Request": "true"}
    with time_machine.travel(NOW + 9 * MINUTE, tick=False) as clock:
        tag = planned.as_coach.get(url, headers=htmx).headers["ETag"]
        assert planned.as_coach.get(url, headers=htmx | {"If-None-Match": tag}).status_code == 304
        clock.move_to(NOW + 10 * MINUTE)
        assert planned.as_coach.get(url, headers=htmx | {"If-None-Match": tag}).status_code == 200


def test_a_new_plan_takes_off_the_turns_ahead_and_not_those_of_a_session_that_is_on(planned):
    solve_rota(planned.session, now=NOW - 30 * MINUTE)
    term = planned.session.term
    assert set_phases(term, planned.coach, PARTS, now=NOW - 20 * MINUTE) is False, "nothing has changed"
    assert RotaTurn.objects.exists()
    shorter = [("Welcome", 5), *PARTS[1:]]
    assert set_phases(term, planned.coach, shorter, now=NOW - 20 * MINUTE) is True
    assert not RotaTurn.objects.exists()
    start_session(planned.session, now=NOW)
    with pytest.raises(InputError) as refused:
        set_phases(term, planned.coach, PARTS, now=NOW + MINUTE)
    assert refused.value.code == "has_begun"


def test_a_session_that_a_coach_ended_early_keeps_its_rota(planned):
    """ "Its rota is kept as it was" is what a page says of it; and it is no session that still needs time."""
    solve_rota(planned.session, now=NOW - 30 * MINUTE)
    start_session(planned.session, now=NOW)
    stop_session(planned.session, now=NOW + 40 * MINUTE)
    turns = RotaTurn.objects.count()
    assert turns
    longer = [("Story", 85), ("Runs at the tables", None)]
    assert set_phases(planned.session.term, planned.coach, longer, now=NOW + 50 * MINUTE) is False
    assert RotaTurn.objects.count() == turns


@pytest.mark.parametrize(
    ("parts", "code"),
    [
        ([("Welcome", 10)], "no_runs"),
        ([("Runs", None), ("More runs", None)], "no_runs"),
        ([("Runs", None), ("Story", 0)], "bad_part"),
        ([("Runs", None), ("Story", 181)], "bad_part"),
        ([("Runs", None), ("S" * 41, 5)], "bad_part"),
        ([("Runs", None), ("Story", 81)], "no_time_left"),
    ],
)
def test_a_plan_that_cannot_be_is_refused(day, parts, code):
    with pytest.raises(InputError) as refused:
        set_phases(day.session.term, day.coach, parts, now=NOW - MINUTE)
    assert refused.value.code == code and refused.value.message.endswith(".")


def test_the_longest_part_and_the_shortest_time_for_the_runs_may_be(day):
    empty = make.TermFactory(club=day.club)
    set_phases(empty, day.coach, [("Story", 180), ("Runs", None)], now=NOW)
    empty.refresh_from_db()
    assert empty.phases == plan([("Story", 180), ("Runs", None)])
    term, told = day.session.term, [("Story", 80), ("Runs", None)]
    noted = noted_by(lambda: set_phases(term, day.coach, told, now=NOW - MINUTE), day.club, NOW - MINUTE)
    assert noted == [f"lead planned the session (term {term})"]
    with pytest.raises(InputError) as refused:
        set_phases(term, day.coach, [("Story", 81), ("Runs", None)], now=NOW - MINUTE)
    assert refused.value.message == (
        "The parts take 81 minutes, and a session ahead has 90: too little is left for the runs. Make one shorter."
    )


def test_the_form_offers_a_plan_keeps_what_is_typed_and_notices_another_coach(day):
    url = reverse("session_plan", args=[day.session.term.pk])
    assert "Welcome and cautions" in page_of(day.as_coach.get(url))
    seen = phases_mark(day.session.term)
    typed = {"name": ["Hello", "Runs", ""], "minutes": ["ten", "", ""], "runs": "1", "seen": seen}
    with time_machine.travel(NOW - 60 * MINUTE, tick=False):
        answer = day.as_coach.post(url, typed)
        assert answer.status_code == 422 and "takes 1 to 180 minutes" in page_of(answer) and "ten" in page_of(answer)
        assert day.as_coach.post(url, typed | {"minutes": ["10", "", ""]}).status_code == 302
        day.session.term.refresh_from_db()
        assert day.session.term.phases == [{"name": "Hello", "minutes": 10}, {"name": "Runs", "minutes": None}]
        stale = day.as_coach.post(url, typed | {"minutes": ["12", "", ""]})
        assert stale.status_code == 422 and "changed this while you had it open" in page_of(stale)
        assert "It stands now: Hello 10, Runs." in words_of(stale) and "12" in page_of(stale)
