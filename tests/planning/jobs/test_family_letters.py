"""Families' e-mails as jobs: one a try, with nothing of a child in its row."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.core import mail

from classroom.families.letters import PAUSES, write_letter
from classroom.families.share_summary import keep_contact
from classroom.models import FamilyLetter
from planning.jobs.services.family_letters import ask_for_letters
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
