"""Families' e-mails as jobs: one a try, with nothing of a child in its row."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.core import mail

from classroom.families.letters import LOST_AFTER, PAUSES, write_letter
from classroom.families.share_summary import keep_contact
from classroom.models import FamilyLetter
from planning.jobs.services.family_letters import ask_for_letters, carry_letter
from planning.jobs.services.run_job import run_next_job
from planning.models import Job
from tests import factories as make

NOW = make.NOW


@pytest.fixture(autouse=True)
def at_now():
    with time_machine.travel(NOW, tick=False) as clock:
        yield clock


@pytest.fixture
def letter(cast):
    contact = keep_contact(cast.member_a, cast.coach, email="wader@example.org", language="en", consented=True, now=NOW)
    return write_letter(contact, cast.coach, now=NOW)


@pytest.mark.django_db(transaction=True)
def test_a_letter_that_is_due_is_one_job_however_often_the_sweep_looks_and_leaves_once(letter):
    assert [ask_for_letters(now=NOW) for _ in range(3)] == [1, 1, 1]
    job = Job.objects.get()
    assert (job.kind, job.input, job.team, job.asked_by) == (
        "family_letter",
        {"letter": letter.pk, "try": 0},
        None,
        None,
    )
    while run_next_job():
        pass
    job.refresh_from_db()
    assert job.state == "done" and job.result == {"state": "sent"} and len(mail.outbox) == 1
    assert ask_for_letters(now=NOW) == 0 and Job.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_each_try_is_a_job_of_its_own_and_waits_for_its_pause(letter, settings, at_now):
    settings.EMAIL_BACKEND = "nowhere.at.All"
    ask_for_letters(now=NOW)
    assert run_next_job() and FamilyLetter.objects.get().next_try_at == NOW + PAUSES[0]
    assert ask_for_letters(now=NOW + PAUSES[0] - dt.timedelta(seconds=1)) == 0
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    at_now.shift(PAUSES[0])
    assert ask_for_letters(now=NOW + PAUSES[0]) == 1 and run_next_job()
    assert FamilyLetter.objects.get().state == "sent" and len(mail.outbox) == 1
    told = str(
        list(Job.objects.order_by("pk").values_list("state", "input", "result", "error_words", "progress_words"))
    )
    assert told.count("done") == 2 and not any(word in told for word in ("Robin", "wader@", "/family/"))


def test_one_look_asks_for_fifty_the_longest_due_first_and_the_next_for_the_rest(cast, letter):
    for n in range(50):
        child = make.MembershipFactory(team=cast.team_a).member
        contact = keep_contact(child, cast.coach, email=f"wader{n}@example.org", language="en", consented=True, now=NOW)
        write_letter(contact, cast.coach, now=NOW)
    others = FamilyLetter.objects.exclude(pk=letter.pk)
    others.update(next_try_at=NOW - dt.timedelta(minutes=1))
    assert ask_for_letters(now=NOW) == 50 == Job.objects.count()
    assert not Job.objects.filter(input__letter=letter.pk).exists()
    others.update(state="not_sent", next_try_at=None)
    assert ask_for_letters(now=NOW) == 1 and Job.objects.filter(input__letter=letter.pk).exists()


def test_a_look_writes_down_what_was_lost_on_its_way(letter):
    FamilyLetter.objects.update(state="leaving", next_try_at=None, left_at=NOW - LOST_AFTER - dt.timedelta(seconds=1))
    assert ask_for_letters(now=NOW) == 0 and FamilyLetter.objects.get().state == "unsure"


def test_while_a_letter_is_handed_over_its_job_says_so(letter):
    told = []

    class Told:
        def tell(self, fraction, words):
            told.append((fraction, words))

    assert carry_letter({"letter": letter.pk, "try": 0}, Told()) == {"state": "sent"}
    assert told == [(0.1, "Handing it to the mail server")]
