"""What each step writes into a job's row, column by column, and that no other job is touched."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.models import Club
from planning.jobs.services import ask_for_job as asking
from planning.jobs.services import sweep_jobs as sweeping
from planning.jobs.services.ask_for_job import ask_for_job, input_hash
from planning.jobs.services.cancel_job import cancel_job
from planning.jobs.services.hold_job import claim_job, fail_job, finish_job, give_back, keep_hold, stop_job
from planning.jobs.services.sweep_jobs import Swept, sweep_jobs
from planning.models import Job
from tests import factories as make

NOW = make.NOW
SECOND = dt.timedelta(seconds=1)
STARTS = {
    "state": "waiting",
    "progress": 0.0,
    "progress_words": "",
    "result": None,
    "error_code": "",
    "error_words": "",
    "tries": 0,
    "token": 0,
    "lease_until": None,
    "sent_at": None,
    "deadline_at": None,
    "cancel_asked_at": None,
    "started_at": None,
    "finished_at": None,
}
CLAIMED = {
    "state": "running",
    "progress_words": "Starting",
    "tries": 1,
    "token": 1,
    "lease_until": NOW + 15 * SECOND,
    "deadline_at": NOW + 120 * SECOND,
    "started_at": NOW,
}


@pytest.fixture(autouse=True)
def bystander(db):
    """A job of another club, running under the same token; it stays as it is."""
    other = make.JobFactory(state="running", token=1, lease_until=NOW + 15 * SECOND, sent_at=NOW)
    before = differs(other)
    yield other
    assert differs(other) == before


def differs(job):
    """The columns of a job that are not as in a new row."""
    row = Job.objects.values(*STARTS).get(pk=job.pk)
    return {name: value for name, value in row.items() if value != STARTS[name]}


def claim(job, at=NOW):
    return claim_job(job.pk, now=at, lease_s=15, deadline_s=120)


def hears(club, act):
    before = Club.objects.get(pk=club.pk).live_version
    act()
    return Club.objects.get(pk=club.pk).live_version > before


# Asking


def test_a_job_is_asked_for_with_all_that_it_is_told(cast, monkeypatch):
    monkeypatch.setattr(asking, "send_job", lambda pk: None)
    edition = make.mission_with_tiers(cast.club)[1][0]
    asked = {"team": cast.team_a, "tier_version": edition, "asked_by": cast.coach}
    job = Job.objects.get(pk=ask_for_job(cast.club, "plan_course", {"a": 1}, **asked, now=NOW).pk)
    assert (job.club, job.kind, job.input, job.created_at) == (cast.club, "plan_course", {"a": 1}, NOW)
    assert {name: getattr(job, name) for name in asked} == asked
    assert job.input_hash == input_hash("plan_course", {"a": 1}) and differs(job) == {}


def test_the_same_question_has_one_hash_whatever_the_order_and_another_question_another():
    same = input_hash("plan_course", {"a": 1, "b": [2]})
    assert len(same) == 64 and same == input_hash("plan_course", {"b": [2], "a": 1})
    assert len({same, input_hash("plan_course", {"a": 1}), input_hash("other", {"a": 1, "b": [2]})}) == 3
    with pytest.raises(ValueError):
        input_hash("plan_course", {"a": float("nan")})


def test_an_older_planner_s_answer_is_not_given(monkeypatch):
    before = input_hash("plan_course", {})
    monkeypatch.setattr(asking, "ENGINE", asking.ENGINE + 1)
    assert input_hash("plan_course", {}) != before


# Holding


def test_claiming_begins_the_row(job):
    hold = claim(job)
    assert (hold.token, hold.lease_s) == (1, 15) and differs(job) == CLAIMED
    Job.objects.filter(pk=job.pk).update(progress=0.5, progress_words="Half way")
    second = claim(job, NOW + 16 * SECOND)
    assert second.token == 2 and differs(job) == CLAIMED | {
        "tries": 2,
        "token": 2,
        "lease_until": NOW + 31 * SECOND,
        "deadline_at": NOW + 136 * SECOND,
        "started_at": NOW + 16 * SECOND,
    }
    assert claim_job(0, now=NOW, lease_s=15, deadline_s=120) is None


@pytest.mark.parametrize(("told", "kept"), [(0.25, 0.25), (-1.0, 0.0), (7.0, 1.0)])
def test_progress_is_kept_as_a_fraction_and_the_lease_renewed(job, told, kept):
    hold = claim(job)
    assert keep_hold(hold, told, "x" * 121, now=NOW + 5 * SECOND) is True
    found = differs(job)
    assert (found.get("progress", 0.0), found["progress_words"]) == (kept, "x" * 120)
    assert found["lease_until"] == NOW + 20 * SECOND


LOST = [
    lambda hold: keep_hold(hold, 0.5, "", now=NOW),
    lambda hold: finish_job(hold, {}, now=NOW, keep=lambda *_: pytest.fail("nothing is kept of a lost job")),
    lambda hold: fail_job(hold, "x", "y", now=NOW),
    lambda hold: stop_job(hold, now=NOW),
    lambda hold: give_back(hold, "Again", now=NOW),
]


@pytest.mark.parametrize("write", LOST)
@pytest.mark.parametrize("how", ["claimed by another", "over"])
def test_who_has_lost_the_hold_writes_nothing_and_tells_nobody(job, write, how):
    hold = claim(job)
    if how == "over":
        Job.objects.filter(pk=job.pk).update(state="cancelled")
    else:
        claim(job, NOW + 16 * SECOND)
    before = differs(job)
    assert not hears(job.club, lambda: [write(hold) is False or pytest.fail("it says that it was written")])
    assert differs(job) == before


def test_a_finished_job_is_done_and_keeps_its_result_in_one_go(job):
    kept = []
    hold = claim(job)
    act = lambda: kept.append(finish_job(hold, {"a": 7}, now=NOW + SECOND, keep=lambda *told: kept.append(told)))  # noqa: E731
    assert hears(job.club, act)
    assert kept == [(hold.job, {"a": 7}, NOW + SECOND), True]
    changes = {"state": "done", "progress": 1.0, "progress_words": "Done", "result": {"a": 7}}
    expected = CLAIMED | changes | {"finished_at": NOW + SECOND}
    del expected["lease_until"]
    assert differs(job) == expected


def test_a_failed_job_says_why(job):
    hold = claim(job)
    assert hears(job.club, lambda: fail_job(hold, "c" * 41, "w" * 501, now=NOW + SECOND, result={"t": 1}))
    changes = {"state": "failed", "error_code": "c" * 40, "error_words": "w" * 500, "result": {"t": 1}}
    expected = CLAIMED | changes | {"finished_at": NOW + SECOND}
    del expected["lease_until"]
    assert differs(job) == expected


def test_a_stopped_job_says_so(job):
    hold = claim(job)
    assert hears(job.club, lambda: stop_job(hold, now=NOW + SECOND))
    expected = CLAIMED | {"state": "cancelled", "progress_words": "Stopped", "finished_at": NOW + SECOND}
    del expected["lease_until"]
    assert differs(job) == expected


@pytest.mark.parametrize(("max_tries", "again"), [(3, True), (2, True), (1, False)])
def test_what_broke_waits_again_while_tries_are_left(job, max_tries, again):
    Job.objects.filter(pk=job.pk).update(max_tries=max_tries, sent_at=NOW)
    assert give_back(claim(job), "Trying again", now=NOW + SECOND) is True
    found = differs(job)
    if again:
        expected = CLAIMED | {"progress_words": "Trying again"}
        del expected["lease_until"], expected["state"]
        assert found == expected and "sent_at" not in found
    else:
        assert (found["state"], found["error_code"], found["finished_at"]) == ("failed", "broke", NOW + SECOND)
        assert found["error_words"] == (
            "The planner broke down on this each time it tried. What happened is in the program's log; "
            "try another aim, or change the mission a little and ask again."
        )


# Stopping


@pytest.mark.parametrize(
    ("state", "changes"),
    [
        ("waiting", {"state": "cancelled", "cancel_asked_at": NOW, "finished_at": NOW, "progress_words": "Stopped"}),
        ("running", {"state": "running", "cancel_asked_at": NOW}),
        ("done", {"state": "done"}),
        ("failed", {"state": "failed"}),
    ],
)
def test_stopping_ends_what_waits_and_asks_what_runs(job, state, changes):
    Job.objects.filter(pk=job.pk).update(state=state)
    assert hears(job.club, lambda: cancel_job(job, now=NOW))
    assert differs(job) == changes and job.state == changes["state"]
    cancel_job(job, now=NOW + SECOND)
    assert differs(job) == changes


# The sweep


@pytest.fixture
def sent(monkeypatch):
    out = []
    monkeypatch.setattr(sweeping, "send_job", out.append)
    return out


@pytest.mark.parametrize(
    ("row", "swept", "changes"),
    [
        ({"cancel_asked_at": NOW}, "stopped", {"state": "cancelled"}),
        ({"tries": 3}, "failed", {"state": "failed", "error_code": "worker_lost"}),
        (
            {"state": "running", "lease_until": NOW + 60 * SECOND, "deadline_at": NOW - 60 * SECOND},
            "failed",
            {"state": "failed", "error_code": "deadline"},
        ),
    ],
)
def test_the_sweep_ends_what_cannot_end(job, sent, row, swept, changes):
    Job.objects.filter(pk=job.pk).update(**row)
    assert sweep_jobs(now=NOW) == Swept(**({"stopped": 0, "failed": 0, "sent": 0} | {swept: 1}))
    found = differs(job)
    assert (found["token"], found["finished_at"], found.get("lease_until")) == (1, NOW, None)
    assert {name: found[name] for name in changes} == changes and sent == []
    words = {
        "worker_lost": "The planner's process ended before it had finished this, each time it tried. Ask again; "
        "if it keeps happening, restart helmroom.",
        "deadline": "This took longer than it may. Ask again with fewer alternatives or another aim.",
    }
    assert found.get("error_words") == words.get(changes.get("error_code"))


@pytest.mark.parametrize(
    ("row", "again"),
    [
        ({}, True),
        ({"sent_at": NOW}, False),
        ({"sent_at": NOW - 15 * SECOND}, False),
        ({"sent_at": NOW - 16 * SECOND}, False),  # a worker goes on (the bystander): one message a job
        ({"state": "running", "lease_until": NOW}, False),
        ({"state": "running", "lease_until": NOW - SECOND}, True),
        ({"state": "running", "lease_until": NOW - 5 * SECOND, "sent_at": NOW - 6 * SECOND}, True),
        ({"state": "running", "lease_until": NOW - 5 * SECOND, "sent_at": NOW - 5 * SECOND}, False),
        # The clock was an hour ahead when it was claimed, and is right now.
        ({"state": "running", "lease_until": NOW + 3600 * SECOND, "sent_at": NOW + 3599 * SECOND}, True),
        ({"state": "running", "lease_until": NOW + 3600 * SECOND, "sent_at": NOW - SECOND}, False),
        ({"sent_at": NOW + 3600 * SECOND}, False),
        ({"state": "done"}, False),
        ({"tries": 2}, True),
    ],
)
def test_the_sweep_sends_again_what_was_lost(job, sent, settings, row, again):
    settings.HELMROOM_JOB_LEASE_S = 15
    Job.objects.filter(pk=job.pk).update(**row)
    assert sweep_jobs(now=NOW) == Swept(0, 0, int(again))
    assert sent == ([job.pk] if again else [])


def test_one_sweep_sends_fifty_at_most_oldest_first(sent, db):
    jobs = make.JobFactory.create_batch(51)
    assert sweep_jobs(now=NOW).sent == 50
    assert sent == [job.pk for job in jobs[:50]]


def test_a_sweep_stops_at_the_first_that_cannot_be_sent(monkeypatch, db):
    jobs = make.JobFactory.create_batch(3)
    tried = []

    def send(pk):
        tried.append(pk)
        if pk == jobs[1].pk:
            raise ConnectionError("refused")

    monkeypatch.setattr(sweeping, "send_job", send)
    assert sweep_jobs(now=NOW).sent == 1 and tried == [jobs[0].pk, jobs[1].pk]
