"""The best rota as a job: a first good one stands at once, and a better one takes its place when it is found."""

from __future__ import annotations

import datetime as dt
from typing import Any

from classroom.models import Coach, Session
from missions.day.rules.rota_json import rota_from_json, rota_to_json, task_from_json
from missions.day.rules.rota_solve import plan_rota
from missions.day.services.plan_rota import better_wanted, run_as_is, take_better
from planning.jobs.progress import JobControl
from planning.jobs.services.ask_for_job import ask_for_job, input_hash
from planning.models import Job, JobState

BEST_ROTA = "best_rota"


def find_best_rota(job_input: dict[str, Any], progress: JobControl) -> dict[str, Any]:
    """The search: plain values in and out. It is bounded by work, so that it ends by itself."""
    progress.tell(0.1, "Looking for a better rota")
    return rota_to_json(plan_rota(task_from_json(job_input["wanted"]["task"])))


def keep_best_rota(job: Job, result: dict[str, Any], now: dt.datetime) -> None:
    """In place of the rota that it was looked for, if that one still stands."""
    session = Session.objects.select_related("term__club").filter(term__club=job.club, pk=job.input["session"]).first()
    if session is not None:
        take_better(session, job.input["wanted"], rota_from_json(result), now=now)


def ask_for_best_rota(session: Session, coach: Coach, *, now: dt.datetime) -> Job | None:
    """None when nothing better is wanted: it is found, proven, or a hand has changed the rota since."""
    wanted = better_wanted(run_as_is(session, now))
    if wanted is None:
        return None
    asked = {"session": session.pk, "wanted": wanted}
    failed = Job.objects.filter(club=coach.club, kind=BEST_ROTA, input_hash=input_hash(BEST_ROTA, asked))
    if found := failed.filter(state=JobState.FAILED).first():
        return found  # the page asks by itself, and need not ask again what nobody can answer
    return ask_for_job(coach.club, BEST_ROTA, asked, asked_by=coach, now=now)
