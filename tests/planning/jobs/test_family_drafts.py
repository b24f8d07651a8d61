"""Drafts for a whole club as one job, in whose row no child stands."""

from __future__ import annotations

import pytest

from classroom.models import SummaryWords
from planning.jobs.services.run_job import run_next_job
from planning.models import Job
from tests.pages import page_of


@pytest.mark.django_db(transaction=True)
def test_a_coach_asks_once_and_the_queue_has_drafts_of_nobodys_approval(cast):
    assert "Draft new words for all that are due (2)" in page_of(cast.as_coach.get("/families/"))
    assert "Drafts are being made" in page_of(cast.as_coach.post("/families/drafts/", follow=True))
    assert run_next_job() and not run_next_job()
    job = Job.objects.get()
    assert (job.state, job.result) == ("done", {"drafted": 2}) and SummaryWords.objects.filter(
        approved_at=None
    ).count() == 2
    told = str(Job.objects.values().get())
    words = SummaryWords.objects.first()
    assert not any(text in told for text in ("Robin", "Linnet", words.learnt, words.ask_at_home))
