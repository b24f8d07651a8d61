"""The best rota as a job: a first good one stands at once, and a better one takes its place when it is found."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.translation import gettext_noop

from classroom.models import Coach, Session
from missions.day.rules.rota_json import rota_from_json, rota_to_json, task_from_json
from missions.day.rules.rota_solve import plan_rota
from missions.day.services.plan_rota import better_wanted, run_as_is, take_better
from motion.errors import CancelledError, MotionCode
from planning.jobs.progress import JobControl
from planning.jobs.services.ask_for_job import ask_for_job, input_hash
from planning.models import Job, JobState

BEST_ROTA = "best_rota"


def find_best_rota(job_input: dict[str, Any], progress: JobControl) -> dict[str, Any]:
    """The search: plain values in and out. It is bounded by work, so that it ends by itself."""
    progress.tell(0.1, gettext_noop("Looking for a better rota"))
    rota = plan_rota(task_from_json(job_input["wanted"]["task"]), stopped=progress.stopped)
    if progress.stopped():
        raise CancelledError(MotionCode.CANCELLED, "Stopped.")
    return rota_to_json(rota)


def keep_best_rota(job: Job, result: dict[str, Any], now: dt.datetime) -> None:
    """In place of the rota that it was looked for, if that one still stands."""
    session = Session.objects.select_related("term__club").filter(term__club=job.club, pk=job.input["session"]).first()
    if session is not None:
        take_better(session, job.input["wanted"], rota_from_json(result), now=now)


def ask_for_best_rota(session: Session, coach: Coach, *, again: bool = False, now: dt.datetime) -> Job | None:
    """None when nothing better is wanted: it is found, proven, or a hand has changed the rota since.

    What failed or was stopped is only asked ``again`` when somebody says so: the page asks by itself.
    """
    wanted = better_wanted(run_as_is(session, now))
    if wanted is None:
        return None
    asked = {"session": session.pk, "wanted": wanted}
    before = Job.objects.filter(club=coach.club, kind=BEST_ROTA, input_hash=input_hash(BEST_ROTA, asked))
    newest = before.order_by("pk").last()
    if newest is not None and newest.state in (JobState.FAILED, JobState.CANCELLED) and not again:
        return newest
    return ask_for_job(coach.club, BEST_ROTA, asked, asked_by=coach, now=now)
