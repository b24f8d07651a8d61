"""A team gives a job of its turn to another child."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.errors import InputError
from classroom.models import Team
from missions.day.pages.team_jobs import jobs_now
from missions.day.rules.job_round import JOBS, pass_on
from missions.errors import MissionsCode
from missions.models import TeamJob


@transaction.atomic
def pass_job(team: Team, job: str, *, now: dt.datetime) -> str:
    """The next child has this job in the present turn; who that is.

    Raises
    ------
    InputError
        ``no_turn_now``: the club does not meet, or nobody is marked as here.
    """
    found = jobs_now(team, now)
    if found is None or job not in JOBS:
        raise InputError(MissionsCode.NO_TURN_NOW, _("Jobs are shared out while the club meets. Look again then."))
    changed = pass_on({line.job: line.member for line in found.lines}, job, found.members)
    for each, member in changed.items():
        TeamJob.objects.update_or_create(
            session=found.session, team=team, slot=found.slot, job=each, defaults={"member_id": member}
        )
    return next(line.who for line in (jobs_now(team, now) or found).lines if line.job == job)


@transaction.atomic
def share_jobs_again(team: Team, *, now: dt.datetime) -> None:
    """As they go round by themselves: the taps of the present turn are taken back."""
    found = jobs_now(team, now)
    if found is not None:
        TeamJob.objects.filter(session=found.session, team=team, slot=found.slot).delete()
