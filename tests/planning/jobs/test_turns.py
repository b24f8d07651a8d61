"""Whose turn it is when a worker is free: people at a table first, clubs one after the other, nothing for ever last."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest
from django.urls import reverse
from django.utils import timezone

from planning.jobs.kinds import KINDS, ranks
from planning.jobs.services import run_job as running
from planning.jobs.services import sweep_jobs as sweeping
from planning.jobs.services.cancel_job import cancel_job
from planning.jobs.services.hold_job import claim_job
from planning.jobs.services.run_job import run_next_job
from planning.jobs.services.sweep_jobs import sweep_jobs
from planning.models import Job
from tests import factories as make

NOW = make.NOW
PLAN, PLACES, LATER = "plan_course", "obstacle_places", "feasibility"


def order_of_turns(*, seconds_each=1, most=50):
    """Club names in the order in which their jobs are begun, one worker taking them all."""
    names, now = [], NOW
    while (pk := Job.objects.next_in_turn(now, ranks())) and len(names) < most:
        hold = claim_job(pk, now=now, lease_s=15, deadline_s=120)
        Job.objects.filter(pk=pk).update(state="done", lease_until=None)
        names.append(hold.job.club.name)
        now += dt.timedelta(seconds=seconds_each)
    return names


def test_a_club_that_asks_once_waits_for_one_job_of_a_club_that_asked_for_twenty(db):
    many, one = make.ClubFactory(name="Many"), make.ClubFactory(name="One")
    make.JobFactory.create_batch(20, club=many)
    make.JobFactory(club=one)
    assert order_of_turns()[:3] in (["Many", "One", "Many"], ["One", "Many", "Many"])


def test_three_clubs_take_turns_whoever_came_first(db):
    for name, jobs in (("A", 4), ("B", 2), ("C", 3)):
        make.JobFactory.create_batch(jobs, club=make.ClubFactory(name=name))
    assert order_of_turns() == [*"ABC", *"ABC", *"AC", "A"]


def test_who_was_served_just_now_waits_behind_who_was_served_long_ago(db):
    early, late = make.ClubFactory(), make.ClubFactory()
    for club, minutes in ((early, 20), (late, 2)):
        make.JobFactory(club=club, state="done", started_at=NOW - dt.timedelta(minutes=minutes))
        make.JobFactory(club=club)
    assert Job.objects.get(pk=Job.objects.next_in_turn(NOW, ranks())).club == early


def test_people_at_a_table_come_before_a_page_and_that_before_what_is_got_ready(db):
    club = make.ClubFactory()
    for kind in (LATER, PLACES, PLAN):
        make.JobFactory(club=club, kind=kind)
    begun = []
    while pk := Job.objects.next_in_turn(NOW, ranks()):
        begun.append(Job.objects.get(pk=pk).kind)
        Job.objects.filter(pk=pk).update(state="done")
    assert begun == [PLAN, PLACES, LATER]


@pytest.mark.parametrize(("waited_s", "first"), [(119, PLAN), (120, LATER)])
def test_what_is_got_ready_goes_up_a_rank_a_minute(db, waited_s, first):
    club = make.ClubFactory()
    make.JobFactory(club=club, kind=LATER, created_at=NOW - dt.timedelta(seconds=waited_s))
    make.JobFactory(club=club, kind=PLAN)
    assert Job.objects.get(pk=Job.objects.next_in_turn(NOW, ranks())).kind == first


def test_every_kind_says_its_rank():
    assert ranks() == {PLAN: 0, PLACES: 1, "best_rota": 1, "family_drafts": 1, LATER: 2, "family_letter": 2}


def test_a_turn_costs_two_queries_however_many_wait(db, django_assert_num_queries):
    for club in make.ClubFactory.create_batch(3):
        make.JobFactory.create_batch(10, club=club)
    with django_assert_num_queries(2):
        Job.objects.next_in_turn(NOW, ranks())


def test_one_that_is_over_held_or_stopped_has_no_turn(db):
    make.JobFactory(state="done")
    held = make.JobFactory(state="running", lease_until=NOW + dt.timedelta(seconds=15))
    cancel_job(make.JobFactory(), now=NOW)
    make.JobFactory(tries=3)
    assert Job.objects.next_in_turn(NOW, ranks()) is None
    Job.objects.filter(pk=held.pk).update(lease_until=timezone.now() + dt.timedelta(minutes=1))
    assert run_next_job() is False


def test_what_is_held_for_longer_than_a_lease_lasts_may_be_taken_the_clock_was_put_back(db, settings):
    """As after a power cut on a laptop whose clock was an hour ahead. Machines' clocks may differ by five minutes."""
    settings.HELMROOM_JOB_LEASE_S = 15
    job = make.JobFactory(state="running", lease_until=NOW + dt.timedelta(minutes=5, seconds=15))
    assert Job.objects.next_in_turn(NOW, ranks()) is None
    assert Job.objects.stands_still(NOW, dt.timedelta(seconds=15)) is False
    assert list(Job.objects.silent(NOW)) == []
    Job.objects.filter(pk=job.pk).update(lease_until=NOW + dt.timedelta(minutes=5, seconds=16))
    assert Job.objects.next_in_turn(NOW, ranks()) == job.pk
    assert claim_job(job.pk, now=NOW, lease_s=15, deadline_s=120) is not None


def test_what_was_asked_by_a_clock_that_ran_ahead_is_no_later_in_turn(db):
    ahead, asked = make.ClubFactory(), make.ClubFactory()
    first = make.JobFactory(club=ahead, kind=PLAN, created_at=NOW + dt.timedelta(hours=1))
    make.JobFactory(club=asked, kind=LATER)
    assert Job.objects.next_in_turn(NOW, ranks()) == first.pk


def test_what_was_begun_by_a_clock_that_ran_ahead_is_no_sign_of_work(db):
    make.JobFactory(state="done", started_at=NOW + dt.timedelta(hours=1))
    assert Job.objects.stands_still(NOW, dt.timedelta(seconds=15)) is True


def test_a_message_of_a_job_that_was_stopped_does_the_next_one(db, monkeypatch):
    monkeypatch.setitem(KINDS, PLAN, SimpleNamespace(work=lambda *_: {}, keep=lambda *_: None, rank=0))
    waits = make.JobFactory()
    assert run_next_job() is True
    waits.refresh_from_db()
    assert waits.state == "done"
    assert run_next_job() is False


def test_a_worker_that_was_a_moment_too_late_takes_another(db, monkeypatch):
    """Two look at the same moment and see the same first job; its own message must not be lost for that."""
    monkeypatch.setitem(KINDS, PLAN, SimpleNamespace(work=lambda *_: {}, keep=lambda *_: None, rank=0))
    first, second = make.JobFactory.create_batch(2)
    claim = running.claim_job

    def too_late(pk, **times):
        if pk == first.pk:
            claim(pk, **times)  # the other worker
            return None
        return claim(pk, **times)

    monkeypatch.setattr(running, "claim_job", too_late)
    assert run_next_job() is True
    second.refresh_from_db()
    assert second.state == "done"


# One message a job


@pytest.fixture
def sent(monkeypatch):
    out = []
    monkeypatch.setattr(sweeping, "send_job", out.append)
    return out


def waiting(count, sent_s_ago):
    return make.JobFactory.create_batch(count, sent_at=NOW - dt.timedelta(seconds=sent_s_ago))


def test_jobs_that_wait_long_for_their_turn_are_not_sent_again_while_a_worker_goes_on(db, sent):
    waiting(150, sent_s_ago=300)
    make.JobFactory(state="done", started_at=NOW - dt.timedelta(seconds=14))
    assert sweep_jobs(now=NOW).sent == 0 and sent == []


def test_nor_while_one_works_long_at_one_job(db, sent):
    waiting(3, sent_s_ago=300)
    at = {"started_at": NOW - dt.timedelta(seconds=100), "lease_until": NOW + dt.timedelta(seconds=9)}
    make.JobFactory(state="running", sent_at=NOW - dt.timedelta(seconds=300), **at)
    assert sweep_jobs(now=NOW).sent == 0


def test_they_are_sent_again_when_nothing_has_been_begun_for_a_lease(db, sent):
    jobs = waiting(3, sent_s_ago=300)
    make.JobFactory(state="done", started_at=NOW - dt.timedelta(seconds=16))
    assert sweep_jobs(now=NOW).sent == 3 and sent == [job.pk for job in jobs]


def test_one_that_was_never_sent_is_sent_whatever_goes_on(db, sent):
    job = make.JobFactory(sent_at=None)
    make.JobFactory(state="done", started_at=NOW)
    assert sweep_jobs(now=NOW).sent == 1 and sent == [job.pk]


# What a page says


@pytest.mark.parametrize(
    ("others", "words"),
    [
        (0, "It is your club&#x27;s next."),
        (1, "1 other question of your club comes first."),
        (2, "2 other questions of your club come first."),
    ],
)
def test_a_page_says_how_many_of_the_clubs_own_come_first(cast, others, words):
    make.JobFactory.create_batch(others, club=cast.club)
    make.JobFactory(club=cast.club, kind=LATER)
    make.JobFactory()  # another club's
    own = make.JobFactory(
        club=cast.club, team=cast.team_a, tier_version=make.TierVersionFactory(tier__mission__club=cast.club)
    )
    make.JobFactory(club=cast.club)
    page = " ".join(cast.as_coach.get(reverse("job", args=[own.pk])).content.decode().split())
    assert words.replace("&#x27;", "'") in page.replace("&#x27;", "'")
