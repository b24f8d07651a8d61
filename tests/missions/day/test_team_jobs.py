"""Jobs in a team: they go round fairly, a tap passes one on, and only the team's own tablet shows them."""

from __future__ import annotations

import datetime as dt
from collections import Counter

import pytest
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from missions.day.pages.team_jobs import jobs_now
from missions.day.rules.job_round import JOBS, JobTurn, pass_on, round_of_jobs
from missions.day.services.pass_job import pass_job, share_jobs_again
from missions.day.services.run_session import mark_child
from missions.models import RotaTurn, TeamJob
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
MINUTE = dt.timedelta(minutes=1)


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 7), st.integers(1, 40))
def test_each_child_has_each_job_as_often_as_every_other(count, turns):
    members = tuple(range(count))
    done: Counter[tuple[int, str]] = Counter()
    for jobs in round_of_jobs(JobTurn(members) for _ in range(turns)):
        assert list(jobs) == list(JOBS)
        assert max(Counter(jobs.values()).values()) <= -(-len(JOBS) // count), "nobody has two while another has none"
        done.update((member, job) for job, member in jobs.items())
    for job in JOBS:
        often = [done[member, job] for member in members]
        assert max(often) - min(often) <= 1


def test_who_was_away_catches_up_and_what_a_tap_gave_counts():
    first = JobTurn((1, 2))
    jobs = round_of_jobs([first, first, JobTurn((1, 2, 3)), JobTurn((1, 2, 3))])
    assert 3 in jobs[2].values() and Counter(jobs[2].values())[3] == 2, "who had none has two"
    tapped = round_of_jobs([JobTurn((1, 2), {"drive": 1}), JobTurn((1, 2), {"drive": 1}), first])
    assert tapped[0]["drive"] == tapped[1]["drive"] == 1 and tapped[2]["drive"] == 2
    assert round_of_jobs([JobTurn(()), JobTurn((1,), {"drive": 9})])[0] == {}


def test_a_job_that_is_passed_on_is_changed_for_the_next_childs_own():
    jobs = {"drive": 1, "type": 2, "measure": 3, "log": 4}
    assert pass_on(jobs, "drive", (1, 2, 3, 4)) == {"drive": 2, "type": 1, "measure": 3, "log": 4}
    assert pass_on(jobs, "log", (1, 2, 3, 4)) == {"drive": 4, "type": 2, "measure": 3, "log": 1}
    assert pass_on({**jobs, "log": 1}, "drive", (1, 2, 3, 5))["drive"] == 2
    assert pass_on(dict.fromkeys(JOBS, 1), "drive", (1,)) == dict.fromkeys(JOBS, 1)


def test_the_tablet_names_the_jobs_of_the_present_turn_and_a_tap_changes_one(day, at_ten_past):
    make.ProgressFactory(team=day.team_a, tier=day.editions[0].tier)
    wren = make.MembershipFactory(team=day.team_a, member__nickname="Wren").member
    for slot in (0, 1, 4):
        RotaTurn.objects.create(session=day.session, slot=slot, table=day.tables[0], team=day.team_a)
    page = page_of(day.as_team_a.get(reverse("team_mission")))
    assert "Who does what" in page and "from 16:10" in page and "Robin" in page and "Wren" in page
    before = {line.job: line.who for line in jobs_now(day.team_a, NOW + 10 * MINUTE).lines}
    day.as_team_a.post(reverse("team_jobs"), {"job": "drive"})
    after = {line.job: line.who for line in jobs_now(day.team_a, NOW + 10 * MINUTE).lines}
    assert after["drive"] != before["drive"]
    assert Counter(after.values()) == Counter(before.values()), "the two changed places"
    day.as_team_a.post(reverse("team_jobs"), {"do": "again"})
    assert {line.job: line.who for line in jobs_now(day.team_a, NOW + 10 * MINUTE).lines} == before
    mark_child(day.session, wren, False)
    assert {line.who for line in jobs_now(day.team_a, NOW + 10 * MINUTE).lines} == {"Robin"}


@pytest.mark.parametrize("job", JOBS)
def test_who_passes_a_job_on_hears_who_has_it_now(day, at_ten_past, job):
    for name in ("Wren", "Dunlin", "Teal"):
        make.MembershipFactory(team=day.team_a, member__nickname=name)
    at = NOW + 10 * MINUTE
    had = {line.job: line.who for line in jobs_now(day.team_a, at).lines}
    said = pass_job(day.team_a, job, now=at)
    assert said != had[job] and said == {line.job: line.who for line in jobs_now(day.team_a, at).lines}[job]


def test_sharing_again_takes_back_the_taps_of_this_turn_and_team_alone(day, at_ten_past):
    make.MembershipFactory(team=day.team_a, member__nickname="Wren")
    earlier = make.SessionFactory(term=day.session.term, starts_at=NOW - dt.timedelta(days=7))
    RotaTurn.objects.create(session=day.session, slot=1, table=day.tables[0], team=day.team_a)
    others = [
        TeamJob.objects.create(session=session, team=team, slot=slot, job="drive", member=member)
        for session, team, slot, member in (
            (day.session, day.team_a, 4, day.member_a),
            (day.session, day.team_b, 1, day.member_b),
            (earlier, day.team_a, 1, day.member_a),
        )
    ]
    pass_job(day.team_a, "drive", now=NOW + 10 * MINUTE)
    assert jobs_now(day.team_a, NOW + 10 * MINUTE).by_tap
    share_jobs_again(day.team_a, now=NOW + 10 * MINUTE)
    assert not jobs_now(day.team_a, NOW + 10 * MINUTE).by_tap
    assert set(TeamJob.objects.all()) == set(others)


def test_jobs_are_on_no_page_away_from_a_session_and_never_on_the_wall(day, at_ten_past):
    make.ProgressFactory(team=day.team_a, tier=day.editions[0].tier)
    RotaTurn.objects.create(session=day.session, slot=1, table=day.tables[0], team=day.team_a)
    assert "Robin" not in page_of(day.as_coach.get(reverse("session_wall", args=[day.session.pk])))
    at_ten_past.move_to(NOW + dt.timedelta(hours=5))
    assert "Who does what" not in page_of(day.as_team_a.get(reverse("team_mission")))
    answer = day.as_team_a.post(reverse("team_jobs"), {"job": "drive"}, follow=True)
    assert "Jobs are shared out while the club meets" in page_of(answer)
    assert not TeamJob.objects.exists()


def test_the_jobs_cost_the_same_queries_after_a_long_term(day, at_ten_past, django_assert_num_queries):
    for week in range(8):
        earlier = make.SessionFactory(term=day.session.term, starts_at=NOW - dt.timedelta(days=7 * week + 7))
        for slot in range(4):
            RotaTurn.objects.create(session=earlier, slot=slot, table=day.tables[0], team=day.team_a)
    with django_assert_num_queries(5):
        assert jobs_now(day.team_a, NOW + 10 * MINUTE) is not None
